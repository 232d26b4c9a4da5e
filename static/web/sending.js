// A form is sent once, however often its button is pressed; what takes more than a second says so.
const LATER = 1000;
const PATIENCE = 30_000; // then a press is let through again: the first may have been lost
const place = document.querySelector("[data-working]");
let sent = null;
let ticking = 0;

function told() {
  const seconds = Math.round((Date.now() - sent.at) / 1000);
  place.querySelector("[data-working-seconds]").textContent = `${seconds} s`;
}

function tell() {
  place.querySelector("[data-working-what]").textContent = sent.what;
  place.firstElementChild.hidden = false;
  sent.form.setAttribute("aria-busy", "true");
  told();
  ticking = setInterval(told, 1000);
}

function forget() {
  if (!sent) return;
  clearTimeout(sent.timer);
  clearInterval(ticking);
  sent.form.removeAttribute("aria-busy");
  place.firstElementChild.hidden = true;
  sent = null;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  // What htmx sends it has kept from being sent; fields may be called "method" and hide the form's.
  if (event.defaultPrevented || form.getAttribute("method")?.toLowerCase() !== "post") return;
  if (sent && Date.now() - sent.at < PATIENCE) {
    event.preventDefault();
    return;
  }
  forget();
  const what = event.submitter?.textContent.trim().replace(/\s+/g, " ") ?? "";
  sent = { form, what, at: Date.now(), timer: setTimeout(tell, LATER) };
});

// Stopped by hand, or back from the next page with this one still as it was.
document.addEventListener("keydown", (event) => event.key === "Escape" && forget());
addEventListener("pageshow", (event) => event.persisted && forget());
