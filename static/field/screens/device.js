// One device: what is asked of it, the reading between its marks, the verdict as one types.
import { resultOf, understand } from "../judge.js";
import { clock, count, day, glyph, html, quantity, rangeBar, say, stateWord, toneOf } from "../draw.js";
import { keepOrSay } from "../photos.js";
import { pass, save, takeBack } from "../saving.js";
import { shownState } from "./list.js";
import { Labels, sayCode } from "../labels.js";
import * as store from "../store.js";

const VERDICTS = {
  in_range: "In range",
  nearing_limit: "In range, nearing its limit",
  out_of_range: "Out of range",
  not_judged: "Not judged",
};
const NEXT = {
  nearing_limit: "Clean it now, then read again as left.",
  out_of_range: "Clean it and read again as left, or replace it.",
};
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
  const kind = new Map(visit.rules.kinds).get(device.kind) ?? device.kind;
  const area = visit.areas.get(device.area);
  const back = `v/${visit.id}${device.area ? `?area=${device.area}` : ""}`;
  return {
    back: "List",
    backTo: back,
    place: `${visit.facts.building.name}${area ? `, ${area.name}` : ""}`,
    title: `${device.address} ${device.label}`,
    main: html`
      <div class="band page-head"><div class="margin"><p class="address">${device.address}</p></div><div class="body"><div class="head-line"><h1>${device.label || "No place said"}</h1>${state.missing.length === 0 || state.outcome === "two_results" ? shownState(state) : ""}</div><p>${kind[0].toUpperCase()}${kind.slice(1)}${device.product ? `, ${device.product}` : ""}.${sensitive ? html` ${device.marked_low !== null && device.marked_high !== null ? html`Marked <b>${quantity(device.marked_low)} to ${quantity(device.marked_high)} %/ft</b>.` : html`<b>No range is marked</b>: at most 4 %/ft.`}` : ""}${device.serial ? ` Serial ${device.serial}.` : ""}${device.removed_on ? html` <b>Taken down.</b>` : ""}</p></div></div>
      ${sensitive && (isDue || found) ? html`<div id="judged">${judgedPart(ctx)}</div>` : ""}
      ${isDue ? typing(ctx) : ""}
      ${isDue && toTest.length ? html`<div class="band"><div class="margin count-margin">works?</div><div class="body row-form"><p class="grow"><b>${words(visit, toTest)}</b> <span class="second">is separate from the reading.</span></p><button class="button" data-do="pass" data-what="${device.address} pass">${glyph("pass")} Pass</button></div></div>` : ""}
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
  const said = tasks.map((task) => visit.rules.tasks[task]).join(", ");
  return said[0].toUpperCase() + said.slice(1);
};

function deedsOf(ctx, { isDue, toTest, back }) {
  const { visit, memory } = ctx;
  const { device } = memory;
  const to = `#v/${visit.id}/d/${device.id}/other`;
  if (device.removed_on) return html`<a class="button filled" href="#${back}">Back to the list</a>`;
  if (isDue || toTest.length) {
    return html`<a class="button" href="${to}?part=not-tested">Not tested</a><a class="button" href="${to}">${glyph("fail")} Fail</a>${isDue ? html`<button class="button filled" data-do="saveReading" data-what="reading of ${device.address}">Save ${memory.nowStage === "as_left" ? "as left" : "as found"}</button>` : html`<button class="button filled" data-do="pass" data-what="${device.address} pass">${glyph("pass")} Pass</button>`}`;
  }
  return html`<a class="button" href="${to}">Correct it</a><button class="button filled" data-do="next">Next device</button>`;
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
  if (memory.isDue && judged.problem) verdict = html`<p class="wrong-text">${glyph("fail")} ${judged.problem}</p>`;
  else if (isEmpty) verdict = html`<p class="second">Type the alarm point, or what the control unit corrects. It is judged as you type; nothing is saved yet.</p>`;
  else verdict = html`<div class="verdict"><span class="tone-${toneOf(state)}">${glyph(state, 32)}</span><div><h2 class="tone-${toneOf(state)}">${VERDICTS[state]}</h2><p>${judged.reason}${stage !== "as_left" && NEXT[state] ? html` <b>${NEXT[state]}</b>` : ""}</p></div></div>`;
  const slips = memory.isDue ? [...judged.slips] : [];
  if (memory.isDue && !isEmpty) {
    const same = visit.sameInARow(memory.said);
    if (same >= SAME_IN_A_ROW) slips.push(say`The same was typed for the last ${same} detectors. Is it what this one shows?`);
  }
  return html`<div class="band measure"><div class="margin measure-margin">${stage === "as_left" ? "as left" : "as found"}</div><div class="body">${bar}</div></div><div class="band close" aria-live="polite"><div class="margin"></div><div class="body">${verdict}${slips.map((slip) => html`<p class="wrong-text slip">${glyph("needs_attention")} ${slip}</p>`)}</div></div>`;
}

function typing(ctx) {
  const { memory, visit } = ctx;
  const { said } = memory;
  const field = (name, label) => html`<div class="field"><label for="r-${name}">${label}</label><input id="r-${name}" data-reading="${name}" value="${said[name]}" inputmode="none" autocomplete="off" class="${memory.field === name ? "is-current" : ""}"><span class="unit" data-unit>${said.unit}</span></div>`;
  return html`<form class="band" data-do="saveReading" id="reading"><div class="margin count-margin">typed</div><div class="body stack">
    ${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}
    <div class="pair">${field("measured", "alarm point")}${field("drift", "corrected")}</div>
    <fieldset class="units"><legend class="sr-only">Unit</legend>${["%/ft", "%/m", "dB/m"].map((unit) => html`<label><input type="radio" name="unit" value="${unit}" ${unit === said.unit ? "checked" : ""}>${unit}</label>`)}</fieldset>
    <div class="keypad-row"><div class="keypad">${[..."123456789.0"].map((key) => html`<button type="button" data-do="key" data-key="${key}">${key}</button>`)}<button type="button" data-do="key" data-key="erase" aria-label="Erase one">${glyph("erase", 34)}</button></div><div class="stack fill"><a class="button" href="#v/${visit.id}/d/${memory.device.id}/other?part=replaced">Replaced</a><button type="button" class="button" data-do="unfold" data-part="verdict">Other verdict</button><button type="button" class="button" data-do="unfold" data-part="method">How it was read</button></div></div>
    <details id="method" ${memory.unfolded === "method" ? "open" : ""}><summary>How it was read: ${new Map(visit.rules.methods).get(memory.method) ?? "not said"}</summary><div class="stack">
      <div class="field words"><label for="how">permitted method</label><select id="how" data-keep="method">${visit.rules.methods.map(([key, name]) => html`<option value="${key}" ${key === memory.method ? "selected" : ""}>${name}</option>`)}</select></div>
      <div class="field words"><label for="with">instrument (if any)</label><select id="with" data-keep="instrument"><option value="">none</option>${visit.rules.instruments.map((one) => html`<option value="${one.id}" ${one.id === memory.instrument ? "selected" : ""}>${one.name}${one.ends_on && one.ends_on < visit.facts.today ? `, calibration ended ${day(one.ends_on)}` : ""}</option>`)}</select></div>
      <div class="field"><label for="r-used">allowance used (if printed)</label><input id="r-used" data-reading="used" inputmode="decimal" value="${said.used}"><span class="unit">%</span></div>
      <div class="field words"><label for="r-says">what the control unit says (if anything)</label><select id="r-says" data-reading="control_unit_says">${["", "in range", "out of range"].map((one) => html`<option ${one === said.control_unit_says ? "selected" : ""}>${one}</option>`)}</select></div></div></details>
    <details id="verdict" ${memory.unfolded === "verdict" ? "open" : ""}><summary>Other verdict, with a reason</summary><div class="stack"><div class="field words"><label for="override">verdict</label><select id="override" data-keep="override"><option value="">as judged</option>${Object.entries(VERDICTS).map(([key, name]) => html`<option value="${key}" ${key === memory.override ? "selected" : ""}>${name}</option>`)}</select></div><div class="field words"><label for="override-why">why you judge otherwise</label><input id="override-why" data-keep="overrideReason" value="${memory.overrideReason ?? ""}"></div></div></details>
    <button class="sr-only" tabindex="-1">Save</button></div></form>`;
}

function nextSteps(ctx, { found, left, state, sensitive, isDue }) {
  const { device } = ctx.memory;
  if (!sensitive || !found || device.removed_on) return "";
  if (state.isCleaned && isDue) return "";
  return html`<div class="band"><div class="margin count-margin">next</div><div class="body row-form">${state.isCleaned ? "" : html`<button class="button" data-do="clean" data-what="cleaning of ${device.address}">Clean, then read as left</button><a class="button" href="#v/${ctx.visit.id}/d/${device.id}/other?part=replaced">Replaced</a>`}${isDue ? "" : html`<button class="button" data-do="correct" data-stage="${left ? "as_left" : "as_found"}">Correct the reading${left ? " as left" : ""}</button>`}</div></div>`;
}

const KINDS = { note: "Note", cleaned: "Cleaned", replaced: "Replaced", attribute: "Corrected", finding: "Written down", measured: "Measured", bound: "Label", log: "Logged", added: "Added", begin: "Begun", hand_in: "Handed in", signature: "Signature", taken_back: "Taken back" };

function stated(ctx, state) {
  const shown = state.standing;
  if (!shown.length) return "";
  const zone = ctx.visit.facts.building.time_zone;
  return html`<section class="band" aria-labelledby="stated"><div class="margin count-margin">${shown.length}</div><div class="body"><h2 id="stated" class="section-head">Stated on this visit</h2>${state.outcome === "two_results" ? html`<p><b>Neither of you knew of the other's.</b> Both are kept, and the office decides which holds. Was yours a slip? Take it back; then the other one stands.</p>` : ""}<ul class="lines">${shown.map((one) => html`<li class="row-form"><div class="grow"><p>${headOf(one)} <span class="second">${ctx.visit.rules.tasks[one.task] ?? ""}${one.stage ? `, ${one.stage.replace("_", " ")}` : ""}</span></p><p>${textOf(one)}</p>${photosOf(one)}<p class="second">${one.isMine ? (one.author ?? "here") : one.author}, ${clock(one.at, zone)} ${one.row ? whereIs(one.row) : ""}</p></div>${one.isMine && ["result", "reading", "not_tested", "cleaned"].includes(one.kind) ? html`<button class="button" data-do="takeBack" data-id="${one.id}" aria-label="Take back: ${one.kind} ${one.task}">Take back</button>` : ""}</li>`)}</ul></div></section>`;
}

export function headOf(one) {
  if (one.kind === "reading") return stateWord(one.judged?.state || "not_judged");
  if (one.kind === "result") return stateWord(one.result);
  if (one.kind === "not_tested") return stateWord("not_tested");
  if (one.kind === "measured" && one.body.state) return stateWord(one.body.state);
  if (one.kind === "finding" && ["deficiency", "impairment"].includes(one.body.severity)) return html`<b class="state">${glyph(one.body.severity)}<span>${one.body.severity}</span></b>`;
  return html`<b>${KINDS[one.kind] ?? one.kind}</b>`;
}

export function textOf(one) {
  if (one.kind === "reading") return one.judged?.reason ?? one.reason;
  const photos = one.photos?.length ? `${count(one.photos.length, "photo")}.` : "";
  const { text = "", words: said, title } = one.body;
  return [...new Set([one.reason, title, text === "Photo." && photos ? "" : text, said, photos])].filter(Boolean).join(" ");
}

export const photosOf = (one) => html`${(one.photos ?? []).map((photo) => html`<canvas class="thumb" data-photo="${photo.sha256}" role="img" aria-label="${one.kind === "signature" ? "Signature" : "Photo"}"></canvas>`)}`;

export function whereIs(row) {
  if (row.state === "on_tablet") return stateWord("on_tablet", undefined, 20);
  if (row.answer === "review") return stateWord("needs_attention", row.said || "for review", 20);
  return stateWord("sent", undefined, 20);
}

function earlier(device, found, sensitive) {
  if (!sensitive || device.removed_on) return "";
  if (!found) return html`<div class="band"><div class="margin"></div><p class="body second">Earlier readings are shown once this one is saved.</p></div>`;
  if (!device.earlier.length) return "";
  const now = found.judged;
  const compare = (was) => {
    for (const name of ["drift", "measured"]) {
      if (typeof was[name] === "number" && typeof now?.[name] === "number") {
        const change = now[name] - was[name];
        return say`${change >= 0 ? "+" : "−"}${quantity(Math.abs(change))} %/ft since`;
      }
    }
    return "";
  };
  return html`<section class="band" aria-labelledby="earlier"><div class="margin count-margin">before</div><div class="body"><h2 id="earlier" class="section-head">Earlier readings</h2><ul class="lines">${device.earlier.map((was, at) => html`<li class="row-form">${stateWord(was.verdict)}<span class="grow">${was.text} ${at === 0 ? html`<b>${compare(was)}</b>` : ""}</span><span class="second">${day(was.on)}</span></li>`)}</ul></div></section>`;
}

function labelsOf(ctx) {
  const { device } = ctx.memory;
  if (device.removed_on) return "";
  const codes = Labels.of(ctx.visit).ofDevice(device.id);
  return html`<div class="band"><div class="margin count-margin">label</div><div class="body row-form"><p class="grow">${codes.length ? codes.map((code) => html`<span class="mono">${sayCode(code)}</span> `) : html`<b>No label yet.</b> <span class="second">A code on it opens this device at once.</span>`}</p><a class="button" href="#v/${ctx.visit.id}/scan?for=${device.id}">${codes.length ? "Another label" : "Scan its label"}</a></div></div>`;
}

function more(ctx) {
  const { device } = ctx.memory;
  return html`<section class="band" aria-labelledby="more"><div class="margin"></div><div class="body stack"><h2 id="more" class="section-head">Note, photo, something wrong</h2><form class="row-form" data-do="note"><div class="field words grow"><label for="note">note on this device</label><input id="note" name="text" maxlength="500" value="${ctx.memory.note ?? ""}"></div><button class="button" data-what="note">Save note</button></form><div class="row-form"><label class="button">${"Take a photo"}<input class="sr-only" type="file" accept="image/*" capture="environment" id="photo"></label><button class="button" data-do="deficiency" data-what="deficiency">${glyph("deficiency")} Deficiency</button><button class="button" data-do="impairment" data-what="impairment">${glyph("impairment")} Impairment</button><button class="button" data-do="relabel">Correct the place</button></div>${ctx.memory.isRelabelling ? html`<form class="row-form" data-do="saveLabel"><div class="field words grow"><label for="label">place</label><input id="label" name="label" value="${device.label}" maxlength="160"></div><button class="button" data-what="place">Save place</button></form>` : ""}</div></section>`;
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
    ctx.notSaved(error, "the note");
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
    if (judged.problem || judged.isEmpty) memory.wrong = judged.problem || "Type the alarm point, or what the control unit corrects.";
    else if (memory.override && memory.override !== judged.state && !memory.overrideReason?.trim()) memory.wrong = "Say why you judge otherwise; the report prints the reason.";
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
    ctx.say(say`Reading of ${device.address} on this tablet: ${resultOf(judged.state) || "not judged"}.`);
    await ctx.redraw();
    scrollTo(0, 0);
    return null;
  },
  async pass(ctx) {
    const { visit, memory } = ctx;
    if (!visit.hasBegun) return ctx.go(`v/${visit.id}/begin`);
    await pass(ctx, memory.device.id);
    ctx.say(say`${memory.device.address} pass, on this tablet.`);
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
  ctx.say(say`${severity} written down, on this tablet.`);
  await ctx.redraw();
}
