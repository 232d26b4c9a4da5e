// Make entries: one statement by one person about one thing, as docs/field.md lays them out.
import * as store from "./store.js";
import { mark, Problem } from "./words.js";

export const FORM = 1;
const OPENED = performance.now();
let met = null; // the last contact with the server since the app was opened

export function meet(serverMs) {
  met = { serverMs: Math.round(serverMs), at: performance.now() };
}

// Version 7: 48 bits of milliseconds, then random bits. Only a key; its time is not trusted.
export function uuid7(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let time = now;
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = time % 256;
    time = Math.floor(time / 256);
  }
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

// said: {visit, pack, device, kind, body, supersedes, photos, how, openedAt}
export async function save(said) {
  const tablet = await store.get("tablet");
  const me = await store.get("me");
  if (!tablet || !me) throw new store.NotSaved(new Problem(mark("This tablet is not enrolled.")));
  const now = performance.now();
  return store.append({
    id: said.id ?? uuid7(),
    tablet: tablet.id,
    visit: said.visit,
    pack: said.pack ?? "",
    form: FORM,
    app: document.documentElement.dataset.version ?? "",
    author: me.id,
    device: said.device ?? null,
    kind: said.kind,
    body: said.body ?? {},
    supersedes: [...(said.supersedes ?? [])].sort(),
    photos: said.photos ?? [],
    evidence: {
      how: said.how ?? "list",
      opened_ms: Math.round((said.openedAt ?? now) - OPENED),
      saved_ms: Math.round(now - OPENED),
    },
    time: {
      wall_ms: Date.now(),
      offset_min: -new Date().getTimezoneOffset(),
      server_ms: met ? met.serverMs : null,
      elapsed_ms: met ? Math.round(now - met.at) : null,
    },
  });
}
