// The app: which screen is shown, what its buttons do, and how the worker is updated.
import * as store from "./store.js";
import * as sync from "./sync.js";
import { Visit } from "./visit.js";
import { clock, glyph, html, rich, stateWord } from "./draw.js";
import { drawPhotos } from "./photos.js";
import { cover, isLocked } from "./lock.js";
import * as spoken from "./words.js";
import * as add from "./screens/add.js";
import * as begin from "./screens/begin.js";
import * as device from "./screens/device.js";
import * as finish from "./screens/finish.js";
import * as list from "./screens/list.js";
import * as other from "./screens/other.js";
import * as records from "./screens/records.js";
import * as scan from "./screens/scan.js";
import * as sending from "./screens/sending.js";
import * as start from "./screens/start.js";

const ROUTES = [
  [/^$/, start],
  [/^v\/([^/]+)$/, list],
  [/^v\/([^/]+)\/begin$/, begin],
  [/^v\/([^/]+)\/d\/([^/]+)$/, device],
  [/^v\/([^/]+)\/d\/([^/]+)\/other$/, other],
  [/^v\/([^/]+)\/add$/, add],
  [/^v\/([^/]+)\/scan$/, scan],
  [/^v\/([^/]+)\/records$/, records],
  [/^v\/([^/]+)\/sending$/, sending],
  [/^v\/([^/]+)\/finish$/, finish],
];

const { many, t } = spoken;
const $ = (id) => document.getElementById(id);
let visit = null;
let screen = null;
let shown = null;
let routed = 0; // how often a place was asked for
let drawn = 0; // how often a screen was asked to draw itself

export const ctx = {
  path: "",
  params: [],
  query: new URLSearchParams(),
  openedAt: 0,
  memory: {}, // what a screen keeps while it is shown
  get visit() {
    return visit;
  },
  go(hash) {
    if (location.hash === `#${hash}`) route();
    else location.hash = hash;
  },
  redraw: () => redraw(),
  news: () => redraw(true),
  say,
  notSaved,
  room: () => $("main").querySelector(".body, .what")?.clientWidth || $("main").clientWidth - 160,
};

function address() {
  const [path, query] = location.hash.slice(1).split("?");
  return [path, new URLSearchParams(query)];
}

// Only the last place asked for is shown. Redrawing what is shown meanwhile stops no way to another
// screen: the two are counted apart.
async function route() {
  const turn = (routed += 1);
  const [path, query] = address();
  for (const [pattern, found] of ROUTES) {
    const match = path.match(pattern);
    if (!match) continue;
    const id = match[1];
    const wanted = id && (visit?.id === id ? visit : await Visit.load(id));
    if (turn !== routed) return;
    visit = wanted || null;
    holdOpen(Boolean(visit));
    if (id && !visit) return ctx.go("");
    Object.assign(ctx, { path, params: match.slice(1), query, openedAt: performance.now(), memory: {} });
    screen = found;
    await redraw();
    if (turn !== routed) return;
    scrollTo(0, 0);
    $("main").focus({ preventScroll: true });
    return;
  }
  ctx.go("");
}

// While a visit is open in any window, no newer version takes over by itself.
let letGo = null;
function holdOpen(isOpen) {
  if (isOpen && !letGo) {
    navigator.locks.request("driftbook-visit", { mode: "shared" }, () => new Promise((resolve) => (letGo = resolve)));
  } else if (!isOpen && letGo) {
    letGo();
    letGo = null;
  }
}

// What is typed and ticked but not saved yet, and where the hand is. News redraws; it takes nothing.
function unsaved() {
  const fields = [...$("main").querySelectorAll("input[id]:not([type=file]), textarea[id], select[id]")];
  const values = fields.map(({ id, value, checked }) => [id, value, checked]);
  const at = $("main").contains(document.activeElement) ? document.activeElement.id : "";
  return () => {
    for (const [id, value, checked] of values) {
      const field = $(id);
      if (field && "value" in field) Object.assign(field, { value, checked });
    }
    if (at) $(at)?.focus({ preventScroll: true });
  };
}

async function redraw(isNews = false) {
  const turn = (drawn += 1);
  const next = await screen.show(ctx);
  if (turn !== drawn || !next) return;
  const putBack = isNews && ctx.path === document.body.dataset.shown ? unsaved() : () => {};
  shown = next;
  $("back").textContent = next.back ?? t("Visits");
  $("back").setAttribute("href", `#${next.backTo ?? ""}`);
  $("place").textContent = next.place ?? "";
  $("main").innerHTML = String(next.main);
  putBack();
  $("deeds").innerHTML = String(next.deeds ?? "");
  $("deeds").hidden = !next.deeds;
  document.title = `${next.title ?? next.place ?? t("Visits")} · Driftbook`;
  showSending();
  next.after?.($("main"));
  drawPhotos($("main"));
  document.body.dataset.shown = ctx.path;
}

// Where the work is: one line in the strip, on every screen.
async function showSending() {
  const { isOnline, unsent, signIn, over } = sync.state;
  let said;
  if (over) said = stateWord("needs_attention", over === "revoked" ? t("tablet revoked") : t("no access any more"));
  else if (signIn) said = stateWord("needs_attention", t("sign in to send {n}", { n: unsent }));
  else if (visit?.unsentSince) said = stateWord("needs_attention", many("{n} unsent since {time}", "{n} unsent since {time}", unsent, { time: clock(visit.unsentSince, visit.facts.building.time_zone) }));
  else if (!isOnline) said = stateWord("no_signal", unsent ? many("no signal, {n} unsent", "no signal, {n} unsent", unsent) : t("no signal"));
  else if (unsent) said = stateWord("on_tablet", t("{n} on this tablet", { n: unsent }));
  else if (visit) said = stateWord("sent", many("{n} sent", "{n} sent", visit.mine.length));
  else said = null;
  const to = visit ? `#v/${visit.id}/sending` : "#";
  $("send").innerHTML = said ? String(html`<a class="sending" href="${to}">${said}</a>`) : "";
}

// Words that a reader hears and that stay until the next ones; never a fading note.
function say(text) {
  $("said").textContent = text;
}

function notSaved(error, what) {
  const text = spoken.sayError(error);
  const told = what
    ? rich("<b>NOT SAVED: {what}.</b> {text} Nothing was lost from the screen: try again.", { what, text })
    : rich("<b>NOT SAVED.</b> {text} Nothing was lost from the screen: try again.", { text });
  $("alarm").innerHTML = String(
    html`<p class="not-saved" role="alert">${glyph("not_saved", 32)}<span>${told}</span><button class="button" data-do="dismiss">${t("Close")}</button></p>`,
  );
  scrollTo(0, 0);
  console.warn("Not saved.", error);
}

async function act(event, name, element) {
  if (name === "dismiss") {
    $("alarm").innerHTML = "";
    return;
  }
  const deed = shown?.actions?.[name] ?? screen?.actions?.[name];
  if (!deed) return;
  if (element.disabled) return;
  element.disabled = element.tagName === "BUTTON";
  try {
    await deed(ctx, element, event);
    if (!$("alarm").querySelector(".stays")) $("alarm").innerHTML = "";
  } catch (error) {
    notSaved(error, element.dataset.what);
  } finally {
    element.disabled = false;
  }
}

document.addEventListener("click", (event) => {
  const element = event.target.closest("[data-do]");
  if (!element || element.tagName === "FORM" || element.tagName === "INPUT") return;
  if (element.tagName === "A") event.preventDefault();
  act(event, element.dataset.do, element);
});
document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-do]");
  event.preventDefault();
  if (form) act(event, form.dataset.do, form);
});
document.addEventListener("input", (event) => {
  shown?.onInput?.(ctx, event);
});
document.addEventListener("change", (event) => {
  shown?.onChange?.(ctx, event);
});
addEventListener("hashchange", route);
let width = innerWidth;
addEventListener("resize", () => {
  if (innerWidth === width) return; // a keyboard came or went
  width = innerWidth;
  if ([list, device, sending, finish].includes(screen)) redraw(true);
});

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => screen === finish && redraw(true));

document.addEventListener("field:state", () => {
  showSending();
  if (screen === sending || screen === start) redraw(true);
});
document.addEventListener("field:sent", async ({ detail }) => {
  if (!visit) return;
  const rows = new Map((await store.listEntries(visit.id)).map((row) => [row.id, row]));
  for (const row of visit.mine) if (detail.includes(row.id)) Object.assign(row, rows.get(row.id));
  showSending();
});
document.addEventListener("field:passed", async ({ detail }) => {
  if (visit?.id !== detail) return;
  await visit.reload();
  if (screen === list && !ctx.memory.isTyping) redraw(true);
});
document.addEventListener("field:language", ({ detail }) => speak(detail).catch((error) => console.warn("No words.", error)));
// Another window of this tablet wrote: what is shown here is read anew.
const windows = new BroadcastChannel("driftbook");
windows.onmessage = async () => {
  if (!visit) return;
  await visit.reload();
  redraw(true);
};
document.addEventListener("field:saved", () => {
  windows.postMessage("saved");
  sync.state.unsent += 1;
  showSending();
  sync.trySoon();
});

// The worker: a new version waits until no visit is open, or until the technician says so.
async function watchWorker() {
  if (!("serviceWorker" in navigator)) return;
  const registration = await navigator.serviceWorker.register("/field/sw.js", {
    scope: "/field/",
    updateViaCache: "none",
  });
  const offer = async () => {
    if (!registration.waiting || !registration.active) return;
    const { held } = await navigator.locks.query();
    if (!held.some((lock) => lock.name === "driftbook-visit")) registration.waiting?.postMessage({ type: "take over" });
    else $("newer").hidden = false;
  };
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", offer);
  });
  $("newer").addEventListener("click", () => registration.waiting?.postMessage({ type: "take over" }));
  let isFirst = !navigator.serviceWorker.controller;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (!isFirst) location.reload();
    isFirst = false;
  });
  addEventListener("hashchange", offer);
  offer();
  navigator.serviceWorker.ready.then(checkPacks);
  setInterval(() => registration.update().catch(() => {}), 3600 * 1000);
}

// A pack that came before the app itself was kept becomes ready once it is.
async function checkPacks() {
  for (const pack of await store.listPacks()) {
    if (!pack.ready || pack.ready.wrong.length) await sync.verify(pack.visit);
  }
  if (screen === start) redraw(true);
}

// The page is one and the same for all, in English: its own few words are said anew here.
async function speak(language) {
  await spoken.learn(language);
  document.documentElement.lang = spoken.now.language;
  document.querySelector(".skip").textContent = t("Go to the page’s text");
  $("newer").textContent = t("A newer version of the app is here. Your visit goes on with this one; tap to change now.");
  $("deeds").setAttribute("aria-label", t("What to do here"));
  $("cover").setAttribute("aria-label", t("Locked"));
  if (!screen) return;
  visit?.rebuild();
  await redraw(true);
}

async function main() {
  document.documentElement.dataset.version = document.querySelector("meta[name=version]").content;
  watchWorker().catch((error) => console.warn("No worker.", error));
  await speak((await store.get("language").catch(() => "")) || spoken.fromBrowser());
  sync.state.unsent = await store.countUnsent().catch(() => 0);
  if (await isLocked()) await cover();
  await route();
  sync.begin();
}

main();
