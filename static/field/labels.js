// Codes of labels: read, checked, and what each names. The rules of contractor/engine/label_codes.py
// and label_standing.py, held to them by tests/field/data/labels.json.
import { heads } from "./fold.js";

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
const TAKEN_FOR = { I: "1", L: "1", O: "0" };
const ADDRESS = /^https?:\/\/[^/\s]+\/d\/([0-9a-z-]+)\/?$/i;
const LENGTH = 12;
const LONGEST = 120;
export const TAIL = 4;

export const compact = (text) => text.toUpperCase().replace(/[\s-]+/g, "");
const untaken = (code) => code.replace(/[ILO]/g, (letter) => TAKEN_FOR[letter]);

// ISO/IEC 7064, MOD 37-2.
const sum = (text) => [...text].reduce((found, one) => (2 * found + VALUES.indexOf(one)) % 37, 0);

export const isCode = (text) =>
  text.length === LENGTH && [...text].every((one) => ALPHABET.includes(one)) && sum(text) === 1;

export function readCode(text) {
  const code = untaken(compact(text));
  return isCode(code) ? code : "";
}

export function readScanned(text) {
  const plain = text.replace(/[\x00-\x1f\x7f-\x9f]+/g, "").split(/\s+/).filter(Boolean).join(" ");
  const found = plain.match(ADDRESS);
  return readCode(found ? found[1] : plain) || [...plain].slice(0, LONGEST).join("");
}

// What no hand types: the address that is in a square code.
export const isScanned = (text) => ADDRESS.test(text.trim());

export const sayCode = (code) => (isCode(code) ? code.match(/.{4}/g).join("-") : code);

// bindings: {id, device, replaces: [id]} of one code. Two that do not know of each other and name
// different devices leave it without a device.
export function standing(bindings) {
  const known = new Map(bindings.map((one) => [one.id, one]));
  const found = heads(
    [...known.values()].map((one) => ({ id: one.id, device: "code", supersedes: one.replaces ?? [] })),
  ).map((one) => known.get(one.id));
  const named = new Set(found.map((one) => one.device ?? null));
  const isDisputed = named.size > 1;
  return { heads: found, device: isDisputed || !named.size ? null : [...named][0], isDisputed };
}

// All codes that a visit's pack knows, with what was bound on this visit by anyone.
export class Labels {
  constructor(visit, bound) {
    this.visit = visit;
    this.byCode = new Map();
    this.here = new Map(); // codes by device
    const said = visit.pack.parts.labels ? JSON.parse(visit.pack.parts.labels) : { codes: [], elsewhere: {} };
    for (const one of said.codes) this.byCode.set(one.code, { ...one, bindings: [...one.bindings] });
    for (const one of bound) {
      const code = readScanned(one.body.code ?? "");
      if (!this.byCode.has(code)) this.byCode.set(code, { code, retired: "", address: "", bindings: [] });
      this.byCode.get(code).bindings.push({ id: one.id, device: one.device, replaces: one.body.replaces ?? [] });
    }
    for (const one of this.byCode.values()) {
      one.standing = standing(one.bindings);
      const { device } = one.standing;
      if (!device || one.retired) continue;
      if (!this.here.has(device)) this.here.set(device, []);
      this.here.get(device).push(one.code);
    }
    this.elsewhere = new Map();
    for (const [building, codes] of Object.entries(said.elsewhere)) {
      for (const code of codes) this.elsewhere.set(code, building);
    }
  }

  // Worked out anew only where a binding came or went, not after each result.
  static of(visit) {
    const bound = visit.everything("bound").filter((one) => !one.isRefused);
    const key = bound.map((one) => one.id).join();
    if (visit.labels?.key !== key) visit.labels = { key, found: new Labels(visit, bound) };
    return visit.labels.found;
  }

  ofDevice(id) {
    return this.here.get(id) ?? [];
  }

  // What a code says here: {is, code, …}.
  find(text) {
    const code = readScanned(text);
    const one = this.byCode.get(code);
    if (!one) {
      if (this.elsewhere.has(code)) return { is: "elsewhere", code, building: this.elsewhere.get(code) };
      const looksOurs = /^\s*[^\s-]{4}-[^\s-]{4}-[^\s-]{4}\s*$/.test(text) && !readCode(text);
      return { is: looksOurs ? "misread" : "unknown", code };
    }
    const { standing: stands } = one;
    const replaces = stands.heads.map((head) => head.id);
    if (one.retired) return { is: "retired", code, on: one.retired };
    if (stands.isDisputed) return { is: "disputed", code, devices: stands.heads.map((head) => head.device), replaces };
    if (!stands.device) return { is: "free", code, replaces };
    const device = this.visit.byId.get(stands.device);
    if (!device) return { is: "outside", code, address: one.address, replaces };
    const next = device.removed_on
      ? this.visit.devices.find((other) => other.address === device.address && other.system === device.system && !other.removed_on)
      : null;
    return { is: "device", code, device: device.id, next: next?.id ?? null, replaces };
  }

  // What was typed: a whole code, else the last characters of codes of this building.
  findTyped(text) {
    const whole = this.find(text);
    if (!["unknown", "misread"].includes(whole.is)) return [whole];
    const end = compact(text);
    if (end.length < TAIL) return [];
    const found = [...this.byCode.values()].filter(({ code }) => {
      const said = compact(code);
      return said.endsWith(end) || (isCode(code) && said.endsWith(untaken(end)));
    });
    return found.length ? found.map(({ code }) => this.find(code)) : [whole];
  }
}
