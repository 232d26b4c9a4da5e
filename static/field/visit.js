// One visit as this tablet knows it: its pack, what was stated here and by others, what stands.
import { fold, heads, missing } from "./fold.js";
import { resultOf, understand } from "./judge.js";
import * as store from "./store.js";
import * as entries from "./entries.js";
import { sayVerdict, t } from "./words.js";

const [SHORT, MANY] = [40 * 1000, 12]; // so many results in so short a while are asked about
const TOO_LONG = 4 * 3600 * 1000;
const SAYING = new Set(["result", "reading", "not_tested"]);

export class Visit {
  static async load(id) {
    const pack = await store.getPack(id);
    if (!pack) return null;
    const visit = new Visit(pack);
    await visit.reload();
    return visit;
  }

  constructor(pack) {
    this.id = pack.visit;
    this.pack = pack;
    this.facts = JSON.parse(pack.parts.visit);
    this.rules = JSON.parse(pack.parts.rules);
    this.listed = JSON.parse(pack.parts.devices);
    this.areas = new Map(this.facts.areas.map((area) => [area.id, area]));
  }

  async reload() {
    this.mine = (await store.listEntries(this.id)).sort((a, b) => a.seq - b.seq);
    this.others = await store.listOthers(this.id);
    this.cursor = (await store.get(`cursor ${this.id}`)) ?? { number: 0 };
    this.rebuild();
  }

  rebuild() {
    this.me = undefined;
    this.devices = this.listed.map((device) => ({ ...device }));
    this.byId = new Map(this.devices.map((device) => [device.id, device]));
    this.said = new Map(); // statements by device; "" holds those about the visit
    for (const row of this.others) this.#take(fromOther(row));
    for (const row of this.mine) this.#take(fromMine(row));
    this.states = new Map();
    for (const device of this.devices) this.#fold(device);
  }

  #take(one) {
    if (one.kind === "added" && one.device && !this.byId.has(one.device)) this.#add(one.device, added(one));
    if (one.kind === "replaced") this.#replace(one);
    if (one.kind === "attribute") {
      const device = this.byId.get(one.device);
      if (device && device[one.body.field] === one.body.before) device[one.body.field] = one.body.after;
    }
    const key = one.device ?? "";
    if (!this.said.has(key)) this.said.set(key, []);
    this.said.get(key).push(one);
    return one;
  }

  #add(id, fields, before) {
    const device = { ...BLANK, ...fields, id };
    const at = before ? this.devices.indexOf(before) + 1 : this.devices.length;
    this.devices.splice(at, 0, device);
    this.byId.set(id, device);
    device.tasks ??= this.#tasksOf(device);
  }

  #tasksOf(device) {
    const sensitive = ["smoke", "smoke_heat", "duct"].includes(device.kind);
    return this.facts.tasks.filter((task) => task !== "sensitivity" || sensitive);
  }

  #replace(one) {
    const old = this.byId.get(one.device);
    if (!old || !one.body.new_device || this.byId.has(one.body.new_device)) return;
    old.removed_on = this.facts.today;
    const { id, removed_on: removed, earlier, failed, verdict, ...kept } = old;
    this.#add(one.body.new_device, { ...kept, serial: one.body.serial ?? "", isNewHere: true }, old);
  }

  // Keep what was worked out from all devices until something is stated again.
  once(key, make) {
    this.kept ??= new Map();
    if (!this.kept.has(key)) this.kept.set(key, make());
    return this.kept.get(key);
  }

  #fold(device) {
    this.kept = undefined;
    const said = this.said.get(device.id) ?? [];
    for (const one of said) this.#judge(one, device);
    const state = fold(said, [[device.id, device.tasks]]).get(device.id);
    const standing = new Set(heads(said).map((one) => one.id));
    const now = said.filter((one) => standing.has(one.id) && one.kind !== "taken_back");
    const isReplaced = now.some((one) => one.kind === "replaced");
    this.states.set(device.id, {
      ...state,
      said,
      standing: now,
      isReplaced,
      isCleaned: now.some((one) => one.kind === "cleaned"),
      missing: isReplaced ? [] : missing(state),
      isMine: said.some((one) => one.isMine && SAYING.has(one.kind)),
    });
  }

  // A reading's result follows from the marks of its detector, as the server will judge it.
  #judge(one, device) {
    if (one.kind !== "reading" || one.judged || !one.body?.said) return;
    const judged = understand(device, one.body.said);
    const state = one.body.override_state || judged.state;
    one.judged = { ...judged, state, ownState: judged.state };
    one.result = resultOf(state) || "not_tested";
    one.value = judged.measured ?? judged.drift ?? judged.used ?? judged.setting;
    if (one.body.override_reason) one.reason = one.body.override_reason;
    else if (resultOf(state) === "fail") one.reason = sayVerdict(judged);
    else if (!resultOf(state)) one.reason = t("Read, but not judged. {why}", { why: sayVerdict(judged) });
  }

  state(id) {
    return this.states.get(id);
  }

  isDone(id) {
    return this.states.get(id).missing.length === 0;
  }

  // What stands of one task; as left never stands in for as found.
  standingIds(id, task, stage = "") {
    return this.states
      .get(id)
      .standing.filter(
        (one) => SAYING.has(one.kind) && one.task === task && (one.stage === "as_left") === (stage === "as_left"),
      )
      .map((one) => one.id);
  }

  reading(id, stage) {
    return this.states
      .get(id)
      .standing.filter((one) => one.kind === "reading" && one.stage === stage)
      .at(-1);
  }

  // Save one statement; the screen shows it only once it is on the tablet.
  async save(kind, { device = null, body = {}, supersedes = [], photos = [], how, openedAt, id } = {}) {
    const row = await entries.save({
      id,
      visit: this.id,
      pack: this.pack.manifest.pack,
      device,
      kind,
      body,
      supersedes,
      photos,
      how,
      openedAt,
    });
    this.mine.push(row);
    const one = this.#take(fromMine(row));
    for (const touched of [device, body.new_device, kind === "added" ? device : null]) {
      if (touched && this.byId.has(touched)) this.#fold(this.byId.get(touched));
    }
    return one;
  }

  // How the results made here were found, and the most that came in a short while without a label.
  pace() {
    const rows = this.mine.filter((row) => ["result", "reading"].includes(row.entry.kind));
    const isBare = (row) => !["scanned", "typed"].includes(row.entry.evidence.how);
    let hurried = 0;
    for (let first = 0, last = 0; last < rows.length; last += 1) {
      while (rows[last].entry.time.wall_ms - rows[first].entry.time.wall_ms > SHORT) first += 1;
      hurried = Math.max(hurried, rows.slice(first, last + 1).filter(isBare).length);
    }
    return { results: rows.length, byLabel: rows.length - rows.filter(isBare).length, hurried: hurried >= MANY ? hurried : 0 };
  }

  // When the oldest entry that is not sent was made, where that is too long ago.
  get unsentSince() {
    const oldest = this.mine.find((row) => row.state === "on_tablet")?.entry.time.wall_ms;
    return oldest && Date.now() - oldest > TOO_LONG ? oldest : null;
  }

  get photoCount() {
    return this.mine.reduce((sum, row) => sum + row.entry.photos.length, 0);
  }

  // Facts about the visit as a whole

  about(kind) {
    return (this.said.get("") ?? []).filter((one) => one.kind === kind);
  }

  everything(kind) {
    return [...this.said.values()].flat().filter((one) => one.kind === kind);
  }

  get hasBegun() {
    return this.facts.state !== "planned" || this.about("begin").length > 0;
  }

  get isHandedIn() {
    const known = this.cursor.state ?? this.facts.state;
    return ["to_review", "signed_off"].includes(known) || this.about("hand_in").some((one) => one.isMine && !one.isRefused);
  }

  get bypassed() {
    const logs = this.everything("log");
    const restored = new Set(logs.filter((one) => one.body.what === "restored").map((one) => one.body.of));
    return logs.filter((one) => one.body.what === "bypassed" && !restored.has(one.id));
  }

  get testMode() {
    const logs = this.about("log").filter((one) => ["test_on", "test_off"].includes(one.body.what));
    const last = logs.sort((a, b) => a.at - b.at).at(-1);
    return last?.body.what === "test_on" ? last : null;
  }

  counts(devices = this.devices) {
    const counts = { devices: 0, pass: 0, fail: 0, not_tested: 0, two_results: 0, waiting: 0, explained: 0, here: 0 };
    for (const device of devices) {
      const state = this.states.get(device.id);
      counts.devices += 1;
      const isDone = state.missing.length === 0;
      if (!isDone) counts.waiting += 1;
      else if (state.isReplaced || state.outcome === "not_tested") counts.explained += 1;
      else counts[state.outcome] += 1;
      if (state.isMine) counts.here += 1;
    }
    return counts;
  }

  // Readings typed the same many times in a row: true perhaps, and worth a look.
  sameInARow(said) {
    const typed = JSON.stringify([said.measured ?? "", said.drift ?? ""]);
    let count = 0;
    for (const row of [...this.mine].reverse()) {
      if (row.entry.kind !== "reading") continue;
      const other = row.entry.body.said;
      if (JSON.stringify([other.measured ?? "", other.drift ?? ""]) !== typed) break;
      count += 1;
    }
    return count;
  }
}

const BLANK = {
  address: "",
  label: "",
  area: "",
  system: "",
  kind: "other",
  serial: "",
  removed_on: null,
  product: "",
  setting: null,
  marked_low: null,
  marked_high: null,
  compensation_limit: null,
  limit_share: 0.5,
  nearing_share: 0.75,
  verdict: "",
  last_on: null,
  earlier: [],
  failed: false,
  new: true,
};

const added = (one) => ({
  address: one.body.address,
  label: one.body.label,
  kind: one.body.kind,
  area: one.body.area,
  system: one.body.system,
  isNewHere: true,
});

function statement(entry, more) {
  const { body } = entry;
  const result = entry.kind === "result" ? body.result : entry.kind === "not_tested" ? "not_tested" : "";
  return {
    id: entry.id,
    device: entry.device,
    kind: entry.kind,
    body,
    task: body.task ?? "",
    stage: body.stage ?? "",
    result,
    reason: body.reason ?? "",
    supersedes: entry.supersedes,
    photos: entry.photos,
    value: null,
    ...more,
  };
}

const fromMine = (row) =>
  statement(row.entry, {
    isMine: true,
    isRefused: row.answer === "review" && row.why === "refused",
    row,
    at: row.entry.time.wall_ms,
  });

function fromOther(row) {
  if (!row.isOnline) {
    return statement(row, { author: row.author_name, at: Date.parse(row.made_at), isMine: false });
  }
  return {
    id: row.id,
    device: row.device,
    kind: row.kind,
    body: { text: row.text, reason: row.reason },
    task: row.task,
    stage: row.stage,
    result: row.result,
    reason: row.reason,
    author: row.author_name,
    supersedes: row.supersedes,
    value: row.value,
    judged: row.kind === "reading" ? { state: row.verdict, reason: row.reason, isBrief: true } : undefined,
    photos: [],
    at: Date.parse(row.made_at),
    isMine: false,
  };
}
