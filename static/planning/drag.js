// A visit drawn to another day or person asks what slips; the page that answers moves it.
let held = null;
for (const visit of document.querySelectorAll("[draggable][data-move]")) {
  visit.addEventListener("dragstart", (event) => {
    held = visit.dataset.move;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", held);
  });
  visit.addEventListener("dragend", () => {
    held = null;
  });
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
    const asked = new URLSearchParams({ to: cell.dataset.day });
    if (cell.dataset.who) asked.set("who", cell.dataset.who);
    else asked.set("unassigned", "");
    location.assign(`${held}?${asked}`);
  });
}
