// The list under the finder: opens while typing, arrows choose, Enter goes, Escape closes.
const field = document.getElementById("find");
const address = field?.form?.dataset.quick;

if (address) {
  const list = document.createElement("div");
  list.id = "finder-list";
  list.className = "finder-list";
  list.hidden = true;
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Found");
  field.after(list);
  for (const [name, value] of Object.entries({
    role: "combobox",
    "aria-expanded": "false",
    "aria-controls": list.id,
    "aria-autocomplete": "list",
  }))
    field.setAttribute(name, value);

  let asking = null;
  let wait = 0;
  let chosen = -1;
  const options = () => [...list.querySelectorAll('[role="option"]')];

  const choose = (at) => {
    const all = options();
    chosen = all.length ? (at + all.length) % all.length : -1;
    all.forEach((one, i) => one.setAttribute("aria-selected", String(i === chosen)));
    if (chosen < 0) field.removeAttribute("aria-activedescendant");
    else {
      field.setAttribute("aria-activedescendant", all[chosen].id);
      all[chosen].scrollIntoView({ block: "nearest" });
    }
  };

  const close = () => {
    list.hidden = true;
    chosen = -1;
    field.setAttribute("aria-expanded", "false");
    field.removeAttribute("aria-activedescendant");
  };

  const ask = async () => {
    const words = field.value.trim();
    asking?.abort();
    if (!words) return close();
    asking = new AbortController();
    try {
      const answer = await fetch(`${address}?q=${encodeURIComponent(words)}`, {
        signal: asking.signal,
        headers: { "X-Requested-With": "fetch" },
      });
      if (!answer.ok || answer.redirected || field.value.trim() !== words) return;
      list.innerHTML = await answer.text();
      list.hidden = document.activeElement !== field;
      field.setAttribute("aria-expanded", String(!list.hidden));
      chosen = -1;
    } catch (problem) {
      if (problem.name !== "AbortError") close(); // Enter still opens the page of what is found
    }
  };

  field.addEventListener("input", () => {
    clearTimeout(wait);
    wait = setTimeout(ask, 120);
  });
  field.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      if (list.hidden) return void ask();
      event.preventDefault();
      choose(event.key === "ArrowDown" ? chosen + 1 : chosen < 0 ? -1 : chosen - 1);
    } else if (event.key === "Enter" && chosen >= 0 && !list.hidden) {
      event.preventDefault();
      location.assign(options()[chosen].href);
    } else if (event.key === "Escape" && !list.hidden) {
      event.preventDefault();
      close();
    }
  });
  field.addEventListener("focus", () => {
    if (field.value.trim() && field.value !== field.defaultValue) ask();
  });
  field.form.addEventListener("focusout", (event) => {
    if (!field.form.contains(event.relatedTarget)) close();
  });
  list.addEventListener("mousedown", (event) => event.preventDefault()); // keep the focus
}
