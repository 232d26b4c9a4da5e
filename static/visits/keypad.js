// A keypad for readings: big keys under the fields, so that no keyboard covers what is judged.
// Without scripts it is not shown, and the fields take the tablet's own keyboard.
const keypad = document.querySelector("[data-keypad]");
const fields = [...document.querySelectorAll("#reading .pair input")];

if (keypad && fields.length) {
  let current = fields.find((field) => !field.value) ?? fields[0];
  for (const field of fields) {
    field.inputMode = "none";
    field.addEventListener("focus", () => {
      current = field;
    });
  }
  current.focus({ preventScroll: true });

  keypad.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (!key) return;
    if (key === "erase") current.value = current.value.slice(0, -1);
    else if (key !== "." || !current.value.includes(".")) current.value += key;
    current.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

// A link to a part that is folded away unfolds it.
const unfold = () => {
  const part = location.hash && document.querySelector(`details${location.hash}`);
  if (part) part.open = true;
};
addEventListener("hashchange", unfold);
unfold();

// The unit beside a value is the one that is chosen.
for (const choice of document.querySelectorAll("#reading .units input")) {
  choice.addEventListener("change", () => {
    for (const unit of document.querySelectorAll("#reading [data-unit]")) {
      unit.textContent = choice.value;
    }
  });
}
