// Light, dark, or as the system has it. Kept in a cookie, so that the server sends the page right.
const root = document.documentElement;
const YEAR = 365 * 24 * 3600;

function choose(theme) {
  if (theme) root.dataset.theme = theme;
  else delete root.dataset.theme;
  const age = theme ? YEAR : 0;
  document.cookie = `theme=${theme}; path=/; max-age=${age}; samesite=lax`;
  show();
}

function show() {
  for (const button of document.querySelectorAll("[data-theme-choice]")) {
    const current = button.dataset.themeChoice === (root.dataset.theme ?? "");
    button.setAttribute("aria-pressed", String(current));
  }
}

for (const place of document.querySelectorAll("[data-themes]")) place.hidden = false;
for (const button of document.querySelectorAll("[data-theme-choice]")) {
  button.addEventListener("click", () => choose(button.dataset.themeChoice));
}
show();
