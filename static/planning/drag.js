// A visit drawn to another day or person asks what slips; the page that answers moves it.
let held = null;
for (const visit of document.querySelectorAll("[draggable][data-move]")) {
  visit.addEventListener("dragstart", (event) => {
    held = {
      address: visit.dataset.move,
      on: visit.dataset.on,
      from: visit.closest("td").dataset.who,
    };
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", held.address);
  });
  visit.addEventListener("dragend", () => {
    held = null;
  });
}

// Over five weeks a column is a week; there a visit keeps its day of the week.
function aimedDay(cell) {
  const day = new Date(`${cell.dataset.day}T00:00:00Z`);
  if (cell.dataset.span === "month") {
    day.setUTCDate(day.getUTCDate() + ((new Date(`${held.on}T00:00:00Z`).getUTCDay() + 6) % 7));
  }
  return day.toISOString().slice(0, 10);
}

for (const cell of document.querySelectorAll("td[data-day]")) {
  cell.addEventListener("dragover", (event) => {
    if (held === null) return;
    event.preventDefault();
    cell.classList.add("aimed");
  });
  cell.addEventListener("dragleave", () => cell.classList.remove("aimed"));
  cell.addEventListener("drop", (event) => {
    if (held === null) return;
    event.preventDefault();
    const asked = new URLSearchParams({ to: aimedDay(cell) });
    if (held.from) asked.set("from", held.from);
    if (cell.dataset.who) asked.set("who", cell.dataset.who);
    else asked.set("unassigned", "");
    location.assign(`${held.address}?${asked}`);
  });
}
