// One device: what is asked of it, the reading between its marks, the verdict as one types.
import { resultOf, understand } from "../judge.js";
import { clock, day, glyph, html, quantity, rangeBar, rich, stateWord, toneOf, wordOf } from "../draw.js";
import { packed, upper } from "../packed.js";
import { keepOrSay } from "../photos.js";
import { pass, save, takeBack } from "../saving.js";
import { shownState } from "./list.js";
import { Labels, sayCode } from "../labels.js";
import * as store from "../store.js";
import { many, mark, said as say, sayVerdict, t } from "../words.js";

const VERDICTS = {
  in_range: mark("In range"),
  nearing_limit: mark("In range, nearing its limit"),
  out_of_range: mark("Out of range"),
  not_judged: mark("Not judged"),
};
const NEXT = {
  nearing_limit: mark("Clean it now, then read again as left."),
  out_of_range: mark("Clean it and read again as left, or replace it."),
};
const STAGES = { as_found: mark("as found"), as_left: mark("as left") };
const CONTROL_UNIT_SAYS = { "": "", "in range": mark("in range"), "out of range": mark("out of range") };
const SAME_IN_A_ROW = 10;

export async function show(ctx) {
  const { visit } = ctx;
  const device = visit.byId.get(ctx.params[1]);
  if (!device) {
    ctx.go(`v/${visit.id}`);
    return null;
  }
  const state = visit.state(device.id);
  const memory = ctx.memory;
  memory.how ??= ctx.query.get("how") ?? undefined;
  const found = visit.reading(device.id, "as_found");
  const left = visit.reading(device.id, "as_left");
  const sensitive = device.tasks.includes("sensitivity");
  const stage = memory.stage ?? (found && state.isCleaned && !left ? "as_left" : "as_found");
  const isDue = sensitive && !device.removed_on && (memory.isCorrecting || !found || (state.isCleaned && !left));
  memory.said ??= { measured: "", drift: "", used: "", control_unit_says: "", unit: (await store.get("unit")) ?? "%/ft" };
  memory.method ??= (await store.get("method")) ?? "control_unit";
  memory.instrument ??= (await store.get("instrument")) ?? "";
  Object.assign(memory, { device, isDue, nowStage: stage, field: memory.field ?? "measured" });
  const toTest = state.missing.filter((task) => task !== "sensitivity");
  const kind = packed(new Map(visit.rules.kinds).get(device.kind) ?? device.kind);
  const area = visit.areas.get(device.area);
  const back = `v/${visit.id}${device.area ? `?area=${device.area}` : ""}`;
  return {
    back: t("List"),
    backTo: back,
    place: `${visit.facts.building.name}${area ? `, ${area.name}` : ""}`,
    title: `${device.address} ${device.label}`,
    main: html`
      <div class="band page-head"><div class="margin"><p class="address">${device.address}</p></div><div class="body"><div class="head-line"><h1>${device.label || t("No place said")}</h1>${state.missing.length === 0 || state.outcome === "two_results" ? shownState(state) : ""}</div><p>${upper(kind)}${device.product ? `, ${device.product}` : ""}.${sensitive ? html` ${device.marked_low !== null && device.marked_high !== null ? rich("Marked <b>{low} to {high} %/ft</b>.", { low: quantity(device.marked_low), high: quantity(device.marked_high) }) : rich("<b>No range is marked</b>: at most 4 %/ft.")}` : ""}${device.serial ? ` ${t("Serial {serial}.", device)}` : ""}${device.removed_on ? html` <b>${t("Taken down.")}</b>` : ""}</p></div></div>
      ${sensitive && (isDue || found) ? html`<div id="judged">${judgedPart(ctx)}</div>` : ""}
      ${isDue ? typing(ctx) : ""}
      ${isDue && toTest.length ? html`<div class="band"><div class="margin count-margin">${t("works?")}</div><div class="body row-form"><p class="grow"><b>${words(visit, toTest)}</b> <span class="second">${t("is separate from the reading.")}</span></p><button class="button" data-do="pass" data-what="${t("{address} pass", device)}">${glyph("pass")} ${t("Pass")}</button></div></div>` : ""}
      ${nextSteps(ctx, { found, left, state, sensitive, isDue })}
      ${stated(ctx, state)}
      ${earlier(device, found, sensitive)}
      ${labelsOf(ctx)}
      ${more(ctx)}`,
    deeds: deedsOf(ctx, { isDue, toTest, back }),
    actions,
    onInput,
    onChange,
    after: (root) => {
      root.querySelector(".is-current")?.scrollIntoView?.({ block: "nearest" });
    },
  };
}

const words = (visit, tasks) => {
  return upper(tasks.map((task) => packed(visit.rules.tasks[task])).join(", "));
};

function deedsOf(ctx, { isDue, toTest, back }) {
  const { visit, memory } = ctx;
  const { device } = memory;
  const to = `#v/${visit.id}/d/${device.id}/other`;
  if (device.removed_on) return html`<a class="button filled" href="#${back}">${t("Back to the list")}</a>`;
  if (isDue || toTest.length) {
    return html`<a class="button" href="${to}?part=not-tested">${t("Not tested")}</a><a class="button" href="${to}">${glyph("fail")} ${t("Fail")}</a>${isDue ? html`<button class="button filled" data-do="saveReading" data-what="${t("reading of {address}", device)}">${memory.nowStage === "as_left" ? t("Save as left") : t("Save as found")}</button>` : html`<button class="button filled" data-do="pass" data-what="${t("{address} pass", device)}">${glyph("pass")} ${t("Pass")}</button>`}`;
  }
  return html`<a class="button" href="${to}">${t("Correct it")}</a><button class="button filled" data-do="next">${t("Next device")}</button>`;
}

// The verdict: of what is typed, else of what stands.
function judgedPart(ctx) {
  const { memory, visit } = ctx;
  const { device } = memory;
  const standing = visit.reading(device.id, "as_left") ?? visit.reading(device.id, "as_found");
  const judged = memory.isDue ? understand(device, memory.said) : standing?.judged;
  const isEmpty = memory.isDue && judged.isEmpty;
  const state = memory.isDue && memory.override ? memory.override : (judged?.state ?? "not_judged");
  const bar = rangeBar({
    state,
    value: isEmpty || judged?.isBrief ? null : (judged?.measured ?? judged?.setting ?? null),
    low: device.marked_low,
    high: device.marked_high,
    drift: judged?.drift ?? null,
    limit: judged?.drift === null || judged?.drift === undefined ? null : judged.limit,
    warningShare: device.nearing_share,
    held: judged?.drift !== null && judged?.drift !== undefined,
    room: ctx.room(),
  });
  const stage = memory.isDue ? memory.nowStage : standing?.stage;
  let verdict;
  if (memory.isDue && judged.problem) verdict = html`<p class="wrong-text">${glyph("fail")} ${say(judged.toldProblem)}</p>`;
  else if (isEmpty) verdict = html`<p class="second">${t("Type the alarm point, or what the control unit corrects. It is judged as you type; nothing is saved yet.")}</p>`;
  else verdict = html`<div class="verdict"><span class="tone-${toneOf(state)}">${glyph(state, 32)}</span><div><h2 class="tone-${toneOf(state)}">${t(VERDICTS[state])}</h2><p>${sayVerdict(judged)}${stage !== "as_left" && NEXT[state] ? html` <b>${t(NEXT[state])}</b>` : ""}</p></div></div>`;
  const slips = memory.isDue ? judged.toldSlips.map(say) : [];
  if (memory.isDue && !isEmpty) {
    const same = visit.sameInARow(memory.said);
    if (same >= SAME_IN_A_ROW) slips.push(many("The same was typed for the last {n} detector. Is it what this one shows?", "The same was typed for the last {n} detectors. Is it what this one shows?", same));
  }
  return html`<div class="band measure"><div class="margin measure-margin">${t(STAGES[stage === "as_left" ? stage : "as_found"])}</div><div class="body">${bar}</div></div><div class="band close" aria-live="polite"><div class="margin"></div><div class="body">${verdict}${slips.map((slip) => html`<p class="wrong-text slip">${glyph("needs_attention")} ${slip}</p>`)}</div></div>`;
}

function typing(ctx) {
  const { memory, visit } = ctx;
  const { said } = memory;
  const field = (name, label) => html`<div class="field"><label for="r-${name}">${label}</label><input id="r-${name}" data-reading="${name}" value="${said[name]}" inputmode="none" autocomplete="off" class="${memory.field === name ? "is-current" : ""}"><span class="unit" data-unit>${said.unit}</span></div>`;
  return html`<form class="band" data-do="saveReading" id="reading"><div class="margin count-margin">${t("typed")}</div><div class="body stack">
    ${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}
    <div class="pair">${field("measured", t("alarm point"))}${field("drift", t("corrected"))}</div>
    <fieldset class="units"><legend class="sr-only">${t("Unit")}</legend>${["%/ft", "%/m", "dB/m"].map((unit) => html`<label><input type="radio" name="unit" value="${unit}" ${unit === said.unit ? "checked" : ""}>${unit}</label>`)}</fieldset>
    <div class="keypad-row"><div class="keypad">${[..."123456789.0"].map((key) => html`<button type="button" data-do="key" data-key="${key}">${key}</button>`)}<button type="button" data-do="key" data-key="erase" aria-label="${t("Erase one")}">${glyph("erase", 34)}</button></div><div class="stack fill"><a class="button" href="#v/${visit.id}/d/${memory.device.id}/other?part=replaced">${t("Replaced")}</a><button type="button" class="button" data-do="unfold" data-part="verdict">${t("Other verdict")}</button><button type="button" class="button" data-do="unfold" data-part="method">${t("How it was read")}</button></div></div>
    <details id="method" ${memory.unfolded === "method" ? "open" : ""}><summary>${t("How it was read: {method}", { method: packed(new Map(visit.rules.methods).get(memory.method)) ?? t("not said") })}</summary><div class="stack">
      <div class="field words"><label for="how">${t("permitted method")}</label><select id="how" data-keep="method">${visit.rules.methods.map(([key, name]) => html`<option value="${key}" ${key === memory.method ? "selected" : ""}>${packed(name)}</option>`)}</select></div>
      <div class="field words"><label for="with">${t("instrument (if any)")}</label><select id="with" data-keep="instrument"><option value="">${t("none")}</option>${visit.rules.instruments.map((one) => html`<option value="${one.id}" ${one.id === memory.instrument ? "selected" : ""}>${one.name}${one.ends_on && one.ends_on < visit.facts.today ? `, ${t("calibration ended {day}", { day: day(one.ends_on) })}` : ""}</option>`)}</select></div>
      <div class="field"><label for="r-used">${t("allowance used (if printed)")}</label><input id="r-used" data-reading="used" inputmode="decimal" value="${said.used}"><span class="unit">%</span></div>
      <div class="field words"><label for="r-says">${t("what the control unit says (if anything)")}</label><select id="r-says" data-reading="control_unit_says">${Object.entries(CONTROL_UNIT_SAYS).map(([one, text]) => html`<option value="${one}" ${one === said.control_unit_says ? "selected" : ""}>${t(text)}</option>`)}</select></div></div></details>
    <details id="verdict" ${memory.unfolded === "verdict" ? "open" : ""}><summary>${t("Other verdict, with a reason")}</summary><div class="stack"><div class="field words"><label for="override">${t("verdict")}</label><select id="override" data-keep="override"><option value="">${t("as judged")}</option>${Object.entries(VERDICTS).map(([key, name]) => html`<option value="${key}" ${key === memory.override ? "selected" : ""}>${t(name)}</option>`)}</select></div><div class="field words"><label for="override-why">${t("why you judge otherwise")}</label><input id="override-why" data-keep="overrideReason" value="${memory.overrideReason ?? ""}"></div></div></details>
    <button class="sr-only" tabindex="-1">${t("Save")}</button></div></form>`;
}

function nextSteps(ctx, { found, left, state, sensitive, isDue }) {
  const { device } = ctx.memory;
  if (!sensitive || !found || device.removed_on) return "";
  if (state.isCleaned && isDue) return "";
  return html`<div class="band"><div class="margin count-margin">${t("next")}</div><div class="body row-form">${state.isCleaned ? "" : html`<button class="button" data-do="clean" data-what="${t("cleaning of {address}", device)}">${t("Clean, then read as left")}</button><a class="button" href="#v/${ctx.visit.id}/d/${device.id}/other?part=replaced">${t("Replaced")}</a>`}${isDue ? "" : html`<button class="button" data-do="correct" data-stage="${left ? "as_left" : "as_found"}">${left ? t("Correct the reading as left") : t("Correct the reading")}</button>`}</div></div>`;
}

const KINDS = {
  note: mark("Note"),
  cleaned: mark("Cleaned"),
  replaced: mark("Replaced"),
  attribute: mark("Corrected"),
  finding: mark("Written down"),
  measured: mark("Measured"),
  bound: mark("Label"),
  log: mark("Logged"),
  added: mark("Added"),
  begin: mark("Begun"),
  hand_in: mark("Handed in"),
  signature: mark("Signature"),
  taken_back: mark("Taken back"),
};
const SEVERITIES = { deficiency: mark("deficiency"), impairment: mark("impairment") };
const WRITTEN = { deficiency: mark("deficiency written down, on this tablet."), impairment: mark("impairment written down, on this tablet.") };

const TAKEN = { result: mark("result"), reading: mark("reading"), not_tested: mark("not tested"), cleaned: mark("cleaned") };

function stated(ctx, state) {
  const shown = state.standing;
  if (!shown.length) return "";
  const zone = ctx.visit.facts.building.time_zone;
  return html`<section class="band" aria-labelledby="stated"><div class="margin count-margin">${shown.length}</div><div class="body"><h2 id="stated" class="section-head">${t("Stated on this visit")}</h2>${state.outcome === "two_results" ? html`<p>${rich("<b>Neither of you knew of the other's.</b> Both are kept, and the office decides which holds. Was yours a slip? Take it back; then the other one stands.")}</p>` : ""}<ul class="lines">${shown.map((one) => html`<li class="row-form"><div class="grow"><p>${headOf(one)} <span class="second">${packed(ctx.visit.rules.tasks[one.task]) ?? ""}${one.stage ? `, ${t(STAGES[one.stage] ?? one.stage)}` : ""}</span></p><p>${textOf(one)}</p>${photosOf(one)}<p class="second">${one.isMine ? (one.author ?? t("here")) : one.author}, ${clock(one.at, zone)} ${one.row ? whereIs(one.row) : ""}</p></div>${one.isMine && ["result", "reading", "not_tested", "cleaned"].includes(one.kind) ? html`<button class="button" data-do="takeBack" data-id="${one.id}" aria-label="${t("Take back: {kind} {task}", { kind: t(TAKEN[one.kind]), task: packed(ctx.visit.rules.tasks[one.task]) ?? one.task })}">${t("Take back")}</button>` : ""}</li>`)}</ul></div></section>`;
}

export function headOf(one) {
  if (one.kind === "reading") return stateWord(one.judged?.state || "not_judged");
  if (one.kind === "result") return stateWord(one.result);
  if (one.kind === "not_tested") return stateWord("not_tested");
  if (one.kind === "measured" && one.body.state) return stateWord(one.body.state);
  if (one.kind === "finding" && ["deficiency", "impairment"].includes(one.body.severity)) return html`<b class="state">${glyph(one.body.severity)}<span>${t(SEVERITIES[one.body.severity])}</span></b>`;
  return html`<b>${t(KINDS[one.kind] ?? one.kind)}</b>`;
}

export function textOf(one) {
  if (one.kind === "reading") return one.judged ? sayVerdict(one.judged) : one.reason;
  const photos = one.photos?.length ? many("{n} photo.", "{n} photos.", one.photos.length) : "";
  const { text = "", words: said, title } = one.body;
  const kept = [one.reason, title, text === "Photo." && photos ? "" : text, said];
  return [...new Set([...kept.map(packed), photos])].filter(Boolean).join(" ");
}

export const photosOf = (one) => html`${(one.photos ?? []).map((photo) => html`<canvas class="thumb" data-photo="${photo.sha256}" role="img" aria-label="${one.kind === "signature" ? t("Signature") : t("Photo")}"></canvas>`)}`;

export function whereIs(row) {
  if (row.state === "on_tablet") return stateWord("on_tablet", undefined, 20);
  if (row.answer === "review") return stateWord("needs_attention", row.said || t("for review"), 20);
  return stateWord("sent", undefined, 20);
}

function earlier(device, found, sensitive) {
  if (!sensitive || device.removed_on) return "";
  if (!found) return html`<div class="band"><div class="margin"></div><p class="body second">${t("Earlier readings are shown once this one is saved.")}</p></div>`;
  if (!device.earlier.length) return "";
  const now = found.judged;
  const compare = (was) => {
    for (const name of ["drift", "measured"]) {
      if (typeof was[name] === "number" && typeof now?.[name] === "number") {
        const change = now[name] - was[name];
        return t("{change} %/ft since", { change: `${change >= 0 ? "+" : "−"}${quantity(Math.abs(change))}` });
      }
    }
    return "";
  };
  return html`<section class="band" aria-labelledby="earlier"><div class="margin count-margin">${t("before")}</div><div class="body"><h2 id="earlier" class="section-head">${t("Earlier readings")}</h2><ul class="lines">${device.earlier.map((was, at) => html`<li class="row-form">${stateWord(was.verdict)}<span class="grow">${was.text} ${at === 0 ? html`<b>${compare(was)}</b>` : ""}</span><span class="second">${day(was.on)}</span></li>`)}</ul></div></section>`;
}

function labelsOf(ctx) {
  const { device } = ctx.memory;
  if (device.removed_on) return "";
  const codes = Labels.of(ctx.visit).ofDevice(device.id);
  return html`<div class="band"><div class="margin count-margin">${t("label")}</div><div class="body row-form"><p class="grow">${codes.length ? codes.map((code) => html`<span class="mono">${sayCode(code)}</span> `) : html`<b>${t("No label yet.")}</b> <span class="second">${t("A code on it opens this device at once.")}</span>`}</p><a class="button" href="#v/${ctx.visit.id}/scan?for=${device.id}">${codes.length ? t("Another label") : t("Scan its label")}</a></div></div>`;
}

function more(ctx) {
  const { device } = ctx.memory;
  return html`<section class="band" aria-labelledby="more"><div class="margin"></div><div class="body stack"><h2 id="more" class="section-head">${t("Note, photo, something wrong")}</h2><form class="row-form" data-do="note"><div class="field words grow"><label for="note">${t("note on this device")}</label><input id="note" name="text" maxlength="500" value="${ctx.memory.note ?? ""}"></div><button class="button" data-what="${t("note")}">${t("Save note")}</button></form><div class="row-form"><label class="button">${t("Take a photo")}<input class="sr-only" type="file" accept="image/*" capture="environment" id="photo"></label><button class="button" data-do="deficiency" data-what="${t("deficiency")}">${glyph("deficiency")} ${t("Deficiency")}</button><button class="button" data-do="impairment" data-what="${t("impairment")}">${glyph("impairment")} ${t("Impairment")}</button><button class="button" data-do="relabel">${t("Correct the place")}</button></div>${ctx.memory.isRelabelling ? html`<form class="row-form" data-do="saveLabel"><div class="field words grow"><label for="label">${t("place")}</label><input id="label" name="label" value="${device.label}" maxlength="160"></div><button class="button" data-what="${t("place")}">${t("Save place")}</button></form>` : ""}</div></section>`;
}

function renew(ctx) {
  const part = document.getElementById("judged");
  if (part) part.innerHTML = String(judgedPart(ctx));
}

function onInput(ctx, event) {
  const { reading, keep: kept } = event.target.dataset;
  if (reading) {
    ctx.memory.said[reading] = event.target.value;
    renew(ctx);
  } else if (kept) ctx.memory[kept] = event.target.value;
  else if (event.target.id === "note") ctx.memory.note = event.target.value;
}

async function onChange(ctx, event) {
  const { target } = event;
  if (target.name === "unit") {
    ctx.memory.said.unit = target.value;
    await store.set("unit", target.value);
    for (const unit of document.querySelectorAll("[data-unit]")) unit.textContent = target.value;
    renew(ctx);
  } else if (["method", "instrument"].includes(target.dataset.keep)) await store.set(target.dataset.keep, target.value);
  else if (target.dataset.keep === "override") renew(ctx);
  else if (target.id === "photo" && target.files[0]) await takePhoto(ctx, target.files[0]);
}

async function takePhoto(ctx, file) {
  const { device } = ctx.memory;
  const { text, photos } = await keepOrSay(ctx, file, ctx.visit.photoCount);
  try {
    await save(ctx, "note", { device: device.id, body: { text }, photos });
    await ctx.redraw();
  } catch (error) {
    ctx.notSaved(error, t("the note"));
  }
}

document.addEventListener("focusin", (event) => {
  const { reading } = event.target.dataset ?? {};
  if (!["measured", "drift"].includes(reading)) return;
  document.querySelectorAll("[data-reading].is-current").forEach((one) => one.classList.remove("is-current"));
  event.target.classList.add("is-current");
});

export const actions = {
  key(ctx, element) {
    const { memory } = ctx;
    const field = document.querySelector("[data-reading].is-current") ?? document.getElementById("r-measured");
    const name = field.dataset.reading;
    memory.field = name;
    let value = field.value;
    if (element.dataset.key === "erase") value = value.slice(0, -1);
    else if (element.dataset.key !== "." || !value.includes(".")) value += element.dataset.key;
    field.value = memory.said[name] = value;
    renew(ctx);
  },
  unfold(ctx, element) {
    ctx.memory.unfolded = element.dataset.part;
    const part = document.getElementById(element.dataset.part);
    part.open = true;
    part.scrollIntoView({ block: "center" });
  },
  async saveReading(ctx) {
    const { visit, memory } = ctx;
    const { device, said, nowStage: stage } = memory;
    if (!visit.hasBegun) return ctx.go(`v/${visit.id}/begin`);
    const judged = understand(device, said);
    if (judged.problem || judged.isEmpty) memory.wrong = judged.problem ? say(judged.toldProblem) : t("Type the alarm point, or what the control unit corrects.");
    else if (memory.override && memory.override !== judged.state && !memory.overrideReason?.trim()) memory.wrong = t("Say why you judge otherwise; the report prints the reason.");
    else memory.wrong = "";
    if (memory.wrong) return ctx.redraw();
    await save(ctx, "reading", {
      device: device.id,
      body: {
        task: "sensitivity",
        stage,
        said: Object.fromEntries(Object.entries(said).filter(([, value]) => value !== "")),
        method: memory.method,
        instrument: memory.instrument,
        override_state: memory.override && memory.override !== judged.state ? memory.override : "",
        override_reason: memory.override ? (memory.overrideReason ?? "") : "",
      },
      supersedes: visit.standingIds(device.id, "sensitivity", stage),
    });
    const unit = said.unit;
    Object.assign(memory, { said: { measured: "", drift: "", used: "", control_unit_says: "", unit }, stage: undefined, isCorrecting: false, override: "", overrideReason: "", unfolded: "" });
    ctx.say(t("Reading of {address} on this tablet: {result}.", { address: device.address, result: wordOf(resultOf(judged.state) || "not_judged") }));
    await ctx.redraw();
    scrollTo(0, 0);
    return null;
  },
  async pass(ctx) {
    const { visit, memory } = ctx;
    if (!visit.hasBegun) return ctx.go(`v/${visit.id}/begin`);
    await pass(ctx, memory.device.id);
    ctx.say(t("{address} pass, on this tablet.", memory.device));
    if (visit.isDone(memory.device.id)) return actions.next(ctx);
    return ctx.redraw();
  },
  async clean(ctx) {
    await save(ctx, "cleaned", { device: ctx.memory.device.id });
    await ctx.redraw();
    scrollTo(0, 0);
  },
  correct(ctx, element) {
    Object.assign(ctx.memory, { isCorrecting: true, stage: element.dataset.stage });
    return ctx.redraw();
  },
  async takeBack(ctx, element) {
    await takeBack(ctx, ctx.memory.device.id, [element.dataset.id]);
    await ctx.redraw();
  },
  // The next one that waits, in walking order; else the list.
  next(ctx) {
    const { visit, memory } = ctx;
    const at = visit.devices.indexOf(memory.device);
    const rest = [...visit.devices.slice(at + 1), ...visit.devices.slice(0, at)];
    const next = rest.find((device) => device.area === memory.device.area && !visit.isDone(device.id));
    if (next?.tasks.includes("sensitivity") && visit.state(next.id).missing.includes("sensitivity")) {
      return ctx.go(`v/${visit.id}/d/${next.id}`);
    }
    return ctx.go(`v/${visit.id}${memory.device.area ? `?area=${memory.device.area}` : ""}`);
  },
  async note(ctx, form) {
    const text = new FormData(form).get("text").trim();
    if (!text) return;
    await save(ctx, "note", { device: ctx.memory.device.id, body: { text } });
    ctx.memory.note = "";
    await ctx.redraw();
  },
  deficiency: (ctx) => finding(ctx, "deficiency", "Deficiency found on the spot"),
  impairment: (ctx) => finding(ctx, "impairment", "Impairment: out of service"),
  relabel(ctx) {
    ctx.memory.isRelabelling = true;
    return ctx.redraw();
  },
  async saveLabel(ctx, form) {
    const { device } = ctx.memory;
    const after = new FormData(form).get("label").trim();
    if (after !== device.label) {
      await save(ctx, "attribute", { device: device.id, body: { field: "label", before: device.label, after } });
    }
    ctx.memory.isRelabelling = false;
    await ctx.redraw();
  },
};

// One tap writes it down; what it is may be typed as the note, before or after.
async function finding(ctx, severity, title) {
  const note = ctx.memory.note?.trim() ?? "";
  await save(ctx, "finding", {
    device: ctx.memory.device.id,
    body: { severity, title: note ? note.slice(0, 160) : title, text: note },
  });
  ctx.memory.note = "";
  ctx.say(t(WRITTEN[severity]));
  await ctx.redraw();
}
