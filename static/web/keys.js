// `/` and Ctrl-K go to the finder; `/` not while one is typing.
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select, [contenteditable]");
  const command = event.key.toLowerCase() === "k" && (event.ctrlKey || event.metaKey) && !event.altKey;
  const slash = event.key === "/" && !typing && !event.ctrlKey && !event.metaKey && !event.altKey;
  if (!command && !slash) return;
  const finder = document.getElementById("find");
  if (!finder) return;
  event.preventDefault();
  finder.focus();
  finder.select();
});
