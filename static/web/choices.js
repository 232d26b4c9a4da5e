// Light or dark, right or left hand. Kept in cookies, so that the server sends the page right.
// A button carries the choice: data-theme-choice="dark", data-hand-choice="left"; "" is the default.
const root = document.documentElement;
const YEAR = 365 * 24 * 3600;

function show(key) {
  for (const button of document.querySelectorAll(`[data-${key}-choice]`)) {
    const current = button.dataset[`${key}Choice`] === (root.dataset[key] ?? "");
    button.setAttribute("aria-pressed", String(current));
  }
}

function choose(key, value) {
  if (value) root.dataset[key] = value;
  else delete root.dataset[key];
  document.cookie = `${key}=${value}; path=/; max-age=${value ? YEAR : 0}; samesite=lax`;
  show(key);
}

// It has its room from the start, so that nothing moves as it appears.
for (const place of document.querySelectorAll("[data-themes]")) place.dataset.themes = "work";
for (const key of ["theme", "hand"]) {
  document.addEventListener("click", (event) => {
    const button = event.target.closest(`[data-${key}-choice]`);
    if (button) choose(key, button.dataset[`${key}Choice`]);
  });
  show(key);
}
