// `/` goes to the finder, unless one is typing.
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select, [contenteditable]");
  if (event.key !== "/" || typing || event.ctrlKey || event.metaKey || event.altKey) return;
  const finder = document.getElementById("find");
  if (!finder) return;
  event.preventDefault();
  finder.focus();
  finder.select();
});
