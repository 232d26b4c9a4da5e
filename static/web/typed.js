// What was typed survives a sign-in that has ended: it comes back into its form after signing in.
// Kept in this tab alone, from the press of the button to the next page that is no sign-in.
const KEY = "typed";
const HOUR = 3600 * 1000;
const NEVER = new Set(["hidden", "password", "file", "submit", "button", "reset"]);
const isSignIn = location.pathname.startsWith("/accounts/");

function read() {
  try {
    return JSON.parse(sessionStorage.getItem(KEY));
  } catch {
    return null;
  }
}

function keep(event) {
  const form = event.target;
  // Fields may be called "method" or "action" and hide the form's own.
  const isPost = form.getAttribute("method")?.toLowerCase() === "post";
  if (isSignIn || !isPost || !form.closest("main")) return;
  const fields = [...form.elements]
    .filter((one) => one.name && !NEVER.has(one.type))
    .map(({ name, value, type, checked }) => ({ name, value, type, checked }));
  const { pathname } = new URL(form.getAttribute("action") || location.href, location.href);
  const page = location.pathname + location.search;
  sessionStorage.setItem(KEY, JSON.stringify({ page, sentTo: pathname, fields, at: Date.now() }));
}

function putBack({ fields }) {
  for (const { name, value, type, checked } of fields) {
    for (const one of document.querySelectorAll(`main [name="${CSS.escape(name)}"]`)) {
      if (type !== "radio" && type !== "checkbox") one.value = value;
      else if (one.value === value) one.checked = checked;
    }
  }
  for (const said of document.querySelectorAll("[data-typed-again]")) {
    said.setAttribute("role", "status");
    said.hidden = false;
  }
}

document.addEventListener("submit", keep);
const kept = read();
if (isSignIn) {
  const next = document.querySelector("input[name=next]");
  if (kept && next?.value.split("?")[0] === kept.sentTo) {
    next.value = kept.page; // back to the form, also where it is sent to another address
    sessionStorage.setItem(KEY, JSON.stringify({ ...kept, lost: true }));
  }
} else {
  sessionStorage.removeItem(KEY);
  const isBack = kept?.lost && kept.page === location.pathname + location.search;
  if (isBack && Date.now() - kept.at < HOUR) putBack(kept);
}
