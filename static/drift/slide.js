// A range that is let go asks for the page with its number: the list and the curve come from there.
for (const form of document.querySelectorAll("form.slide[data-asks]")) {
  form.addEventListener("change", () => form.requestSubmit());
}
