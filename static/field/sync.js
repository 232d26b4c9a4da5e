// Say hello, offer what is not acknowledged, send photos, take in what others stated. The rules are
// in docs/field.md; correctness does not depend on the order of sending.
import * as store from "./store.js";
import { FORM, meet } from "./entries.js";
import { sha256Text } from "./canonical.js";
import { mark, Problem } from "./words.js";

const MOST_ENTRIES = 50;
const MOST_BYTES = 256 * 1024;
const PIECE = 256 * 1024;
const KEEP_AFTER_COVERED = 14 * 24 * 3600 * 1000;
const TIMEOUT = 30000;

// What the screen shows of the connection; screens listen for "field:state".
export const state = {
  isOnline: navigator.onLine,
  since: null, // when the signal was lost
  at: null, // last contact
  signIn: false,
  over: "", // "revoked" or "left": this tablet or person gets nothing more
  unsent: 0,
  isSending: false,
};

export function tell() {
  document.dispatchEvent(new CustomEvent("field:state"));
}

export class Offline extends Problem {}
export class Refused extends Problem {
  constructor(status, said) {
    super(said?.message ?? mark("The server answered {status}."), { status });
    this.status = status;
    this.code = said?.code ?? "";
    this.said = said;
  }
}

let csrf = "";

export async function ask(path, { method = "GET", body, headers = {}, firm } = {}) {
  const tablet = await store.get("tablet");
  const slug = firm ?? tablet?.firm;
  const identity = tablet ? { "X-Tablet": tablet.id, "X-Tablet-Key": tablet.key } : {};
  const control = new AbortController();
  const timer = setTimeout(() => control.abort(), TIMEOUT);
  let response;
  try {
    response = await fetch(`/field/${slug}/${path}`, {
      method,
      body,
      headers: { ...identity, ...(method === "GET" ? {} : { "X-CSRFToken": csrf }), ...headers },
      cache: "no-store",
      redirect: "manual",
      signal: control.signal,
    });
    const said = await response.json().catch(() => null);
    if (said?.csrf) csrf = said.csrf;
    if (response.status >= 500) throw new Offline(mark("The server answered {status}."), { status: response.status });
    if (!response.ok || said === null) throw new Refused(response.status, said);
    return said;
  } catch (error) {
    if (error instanceof Refused || error instanceof Offline) throw error;
    throw new Offline(error.message);
  } finally {
    clearTimeout(timer);
  }
}

const asJson = (value) => ({
  body: JSON.stringify(value),
  headers: { "Content-Type": "application/json" },
});

export async function refreshToken() {
  const said = await fetch("/field/who", { cache: "no-store" }).then((answer) => answer.json());
  csrf = said.csrf;
  if (!(await store.get("tablet"))) await hearLanguage(said.language);
  return said;
}

export const token = () => csrf;
export const enrol = (firm, code) => ask("enrol", { method: "POST", firm, ...asJson({ code }) });

// One run at a time, in whichever window.
export function run() {
  return navigator.locks.request("driftbook-sync", { ifAvailable: true }, async (lock) => {
    if (!lock || !(await store.get("tablet"))) return false;
    try {
      state.isSending = true;
      await everything();
      return true;
    } catch (error) {
      hear(error);
      return false;
    } finally {
      state.isSending = false;
      state.unsent = await store.countUnsent().catch(() => state.unsent);
      tell();
    }
  });
}

function hear(error) {
  if (error instanceof Refused && error.status === 401) {
    state.isOnline = true;
    state.signIn = true;
  } else if (error instanceof Refused) {
    state.isOnline = true;
    if (["revoked", "tablet"].includes(error.code)) state.over = "revoked";
  } else {
    if (state.isOnline) state.since = Date.now();
    state.isOnline = false;
    if (!(error instanceof Offline)) console.warn("Sending stopped.", error);
  }
}

async function everything() {
  const packs = await store.listPacks();
  const said = await hello(packs);
  await sendEntries(said.held);
  await sendPhotos();
  if (!state.over) for (const pack of packs) await pull(pack.visit);
  await letGo(said.backed_up_to_ms, packs);
}

async function hello(packs) {
  const { seq } = await store.tail();
  const query = new URLSearchParams({
    made: String(seq),
    app: document.documentElement.dataset.version ?? "",
    protected: (await store.get("protected")) ? "yes" : "no",
  });
  for (const { visit } of packs) {
    const rows = await store.listEntries(visit);
    const photos = new Set(rows.flatMap((row) => row.entry.photos.map((photo) => photo.sha256)));
    query.append("visit", `${visit}:${rows.length}:${photos.size}`);
    const cursor = await store.get(`cursor ${visit}`);
    if (cursor?.number) query.append("cursor", `${visit}:${cursor.number}:${cursor.last ?? ""}`);
  }
  const said = await ask(`hello?${query}`);
  meet(said.now_ms);
  state.isOnline = true;
  state.since = null;
  state.signIn = false;
  state.at = Date.now();
  state.over = said.state === "in use" ? "" : said.state;
  await store.set("contact", { at: state.at });
  const me = await store.get("me");
  if (me?.id !== said.member) await store.set("me", { id: said.member, name: said.member_name });
  if (said.rescue_key) await store.set("rescue_key", said.rescue_key);
  await hearLanguage(said.language);
  if (await wasRestored(said, packs)) await offerAllAgain(packs);
  await store.set("epoch", said.epoch);
  return said;
}

// The person's language, else the firm's, else the browser's: the server knows which.
async function hearLanguage(language) {
  if (!language || language === (await store.get("language"))) return;
  await store.set("language", language);
  document.dispatchEvent(new CustomEvent("field:language", { detail: language }));
}

async function wasRestored(said, packs) {
  const epoch = await store.get("epoch");
  if (epoch && epoch !== said.epoch) return true;
  if (said.held < (await acknowledgedInARow())) return true;
  return packs.some(({ visit }) => said.cursors?.[visit] === false);
}

async function acknowledgedInARow() {
  let number = (await store.get("let go")) ?? 0;
  for (const row of await store.listAll()) {
    if (row.seq !== number + 1 || row.state === "on_tablet") break;
    number = row.seq;
  }
  return number;
}

async function offerAllAgain(packs) {
  const rows = await store.listAll();
  await store.markEntries(rows.map((row) => [row.id, { state: "on_tablet", answer: "" }]));
  for (const blob of await store.listBlobs()) await store.markBlob(blob.sha256, { isSent: false });
  for (const { visit } of packs) await store.set(`cursor ${visit}`, { number: 0, last: "", online: -1 });
  await store.set("restored", Date.now());
}

// What was acknowledged beyond a gap, a restored server can have lost without showing it: it is
// offered again with what fills the gap.
async function sendEntries(held) {
  const beyond = (await store.listAll()).filter((row) => row.state !== "on_tablet" && row.seq > held);
  const rows = [...(await store.listUnsent()), ...beyond].sort((a, b) => a.seq - b.seq);
  while (rows.length) {
    const batch = [];
    let size = 0;
    while (rows.length && batch.length < MOST_ENTRIES && size < MOST_BYTES) {
      const row = rows.shift();
      batch.push(row);
      size += JSON.stringify(row.entry).length;
    }
    const { answers } = await ask("entries", {
      method: "POST",
      ...asJson({ wall_ms: Date.now(), entries: batch.map((row) => row.entry) }),
    });
    const changes = [];
    answers.forEach((one, place) => {
      if (!["stored", "already", "review"].includes(one.answer)) return; // "retry": next time
      changes.push([
        batch[place].id,
        { state: "sent", answer: one.answer, why: one.why, said: one.said, sentAt: state.at },
      ]);
    });
    await store.markEntries(changes);
    state.unsent = await store.countUnsent();
    document.dispatchEvent(new CustomEvent("field:sent", { detail: changes.map(([id]) => id) }));
    if (!changes.length) return;
  }
}

async function sendPhotos() {
  for (const blob of await store.listBlobs()) {
    if (blob.isSent) continue;
    const address = `blobs/${blob.sha256}`;
    let { offset, whole } = await ask(address);
    while (!whole) {
      const piece = blob.bytes.slice(offset, offset + PIECE);
      try {
        ({ offset, whole } = await ask(address, {
          method: "PUT",
          body: piece,
          headers: {
            "Content-Type": "application/octet-stream",
            "X-Piece": `${offset}/${blob.bytes.byteLength}`,
          },
        }));
      } catch (error) {
        if (!(error instanceof Refused) || error.status !== 409 || error.said.offset === offset) throw error;
        offset = error.said.offset;
      }
    }
    await store.markBlob(blob.sha256, { isSent: true });
    tell();
  }
}

async function pull(visit) {
  for (;;) {
    const cursor = (await store.get(`cursor ${visit}`)) ?? { number: 0, last: "", online: -1 };
    let said;
    try {
      said = await ask(`visits/${visit}/passed?after=${cursor.number}&online=${cursor.online}`);
    } catch (error) {
      if (error instanceof Refused && error.status === 404) return;
      throw error;
    }
    const online = said.online?.map((row) => ({ ...row, isOnline: true }));
    const kept = {
      number: said.cursor,
      last: said.last || cursor.last,
      online: said.online_count,
      at: Date.now(),
      state: said.state,
    };
    await store.putOthers(visit, [...said.entries, ...(online ?? [])], { kept, online: Boolean(online) });
    if (said.entries.length || online) {
      document.dispatchEvent(new CustomEvent("field:passed", { detail: visit }));
    }
    if (said.cursor === cursor.number) return hearOfReviews(visit, said.reviews);
  }
}

// A large batch is entered after it was answered: what the office looks at, or has decided, is heard
// of here.
async function hearOfReviews(visit, reviews) {
  const looked = new Map(reviews.map((one) => [one.id, one]));
  const changes = [];
  for (const row of await store.listEntries(visit)) {
    if (row.state === "on_tablet") continue;
    const one = looked.get(row.id);
    if (one && row.answer !== "review") changes.push([row.id, { answer: "review", why: one.why, said: one.said }]);
    if (!one && row.answer === "review") changes.push([row.id, { answer: "stored", why: "", said: "" }]);
  }
  if (!changes.length) return;
  await store.markEntries(changes);
  document.dispatchEvent(new CustomEvent("field:passed", { detail: visit }));
}

// Only what a backup holds, of a visit that is signed off, for 14 days, is let go of.
async function letGo(backedUpTo, packs) {
  if (!backedUpTo) return;
  for (const { visit } of packs) {
    const rows = await store.listEntries(visit);
    const covered = rows.filter((row) => row.state === "sent" && row.sentAt < backedUpTo);
    await store.markEntries(covered.map((row) => [row.id, { state: "covered", coveredAt: Date.now() }]));
    const cursor = await store.get(`cursor ${visit}`);
    const isOver = ["signed_off", "cancelled"].includes(cursor?.state);
    const all = await store.listEntries(visit);
    const long = all.every(
      (row) => row.state === "covered" && row.coveredAt < Date.now() - KEEP_AFTER_COVERED,
    );
    if (!isOver || !long) continue;
    const first = (await store.listAll()).find((row) => row.visit !== visit);
    const upTo = first ? first.seq - 1 : (await store.tail()).seq;
    await store.removePack(visit);
    await store.removeEntries(all.filter((row) => row.seq <= upTo).map((row) => row.id));
    await store.set("let go", upTo);
  }
}

// Packs

export const listVisits = async () => (await ask("visits")).visits;

export async function takeAlong(visit) {
  const { manifest, parts } = await ask(`visits/${visit}/pack`);
  for (const [name, { sha256, length }] of Object.entries(manifest.parts)) {
    const text = parts[name] ?? "";
    const bytes = new TextEncoder().encode(text);
    if (bytes.byteLength !== length || (await sha256Text(text)) !== sha256) {
      throw new Problem(mark("The pack came damaged. What was here before is kept. Try again."));
    }
  }
  if (manifest.form > FORM) throw new Problem(mark("This pack is for a newer app. Let the app update first."));
  await store.putPack({ visit, manifest, parts, takenAt: Date.now() });
  return verify(visit);
}

const PART = mark("the {part} part of the pack");
const PARTS = { visit: mark("visit"), devices: mark("devices"), rules: mark("rules"), labels: mark("labels") };

// "Ready" is said only after everything was read back from where it will be needed. What is wrong is
// kept as sentences, to be said in any language.
export async function verify(visit) {
  const pack = await store.getPack(visit);
  const wrong = [];
  for (const [name, { sha256 }] of Object.entries(pack.manifest.parts)) {
    if ((await sha256Text(pack.parts[name])) !== sha256) wrong.push([PART, { part: [PARTS[name] ?? name] }]);
  }
  if (!(await store.tryWriting())) wrong.push([mark("a trial entry")]);
  const missing = await missingShell();
  if (missing) wrong.push(missing);
  const { isProtected, free } = await store.askStorage();
  await store.set("protected", isProtected);
  const size = Object.values(pack.manifest.parts).reduce((sum, part) => sum + part.length, 0);
  const ready = { at: Date.now(), wrong, isProtected, free, size };
  await store.putPack({ ...pack, ready });
  return ready;
}

async function missingShell() {
  const worker = (await navigator.serviceWorker?.getRegistration("/field/"))?.active;
  if (!worker) return [mark("the app itself: it is still being kept")];
  return new Promise((resolve) => {
    const channel = new MessageChannel();
    const timer = setTimeout(() => resolve([mark("the app itself: its worker does not answer")]), 8000);
    channel.port1.onmessage = ({ data }) => {
      clearTimeout(timer);
      resolve(data.missing.length ? [mark("{n} files of the app"), { n: data.missing.length }] : null);
    };
    worker.postMessage({ type: "check" }, [channel.port2]);
  });
}

// When to try: the page is seen, the signal is back, every half minute, after each save, by hand.
let soon = null;
export function trySoon(delay = 400) {
  clearTimeout(soon);
  soon = setTimeout(run, delay);
}

export function begin() {
  addEventListener("online", () => trySoon(0));
  addEventListener("offline", () => {
    if (state.isOnline) state.since = Date.now();
    state.isOnline = false;
    tell();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") trySoon(0);
  });
  setInterval(() => trySoon(0), 30000);
  trySoon(0);
}
