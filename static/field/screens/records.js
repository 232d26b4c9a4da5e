// Records beside the devices' results: test mode, what is bypassed, batteries, sound, pressure, notes.
import { keepOrSay } from "../photos.js";
import { save } from "../saving.js";
import { VOLTAGES, judgeBattery, judgeRange, judgeSound } from "../trade.js";
import { clock, glyph, html, stateWord } from "../draw.js";
import { headOf, photosOf, textOf, whereIs } from "./device.js";

const CHEMISTRIES = [["vrla", "sealed lead-acid"], ["vented", "vented lead-acid"], ["nicad", "nickel-cadmium"]];
const MODES = [["public", "public"], ["sleeping", "sleeping area"], ["private", "private"]];
const FORMS = {
  battery: {
    title: "Battery",
    fields: (visit, said) => {
      const sets = setsOf(visit);
      const which = sets.length ? [["set", "which set", [...sets.map((one) => [one.id, `${one.address} ${one.label}`.trim()]), ["", "one that is on no list"]]]] : [];
      const about = setOf(visit, said) ? [["where", "make and date code"]] : [["where", "where, make and date code"], ["chemistry", "kind", CHEMISTRIES], ["volts", "nominal", VOLTAGES]];
      return [...which, ...about, ["float_v", "on charge, whole set", "V"], ["load_v", "under load, whole set", "V"], ["capacity", "capacity found", "%"]];
    },
    judge: (said, visit) => judgeBattery(said, visit.rules.battery, setOf(visit, said)?.battery),
  },
  sound: {
    title: "Sound level",
    fields: [["where", "where"], ["mode", "mode", MODES], ["ambient", "ambient, averaged", "dBA"], ["loudest", "loudest lasting 60 s", "dBA"], ["level", "alarm signal", "dBA"]],
    judge: judgeSound,
  },
  duct: {
    title: "Duct pressure",
    fields: [["where", "which duct detector"], ["value", "differential pressure", "in. w.c."], ["low", "maker's least", "in. w.c."], ["high", "maker's most", "in. w.c."]],
    judge: (said) => judgeRange({ ...said, unit: "in. w.c." }),
  },
  other: {
    title: "Other measurement",
    fields: [["where", "what and where"], ["unit", "unit"], ["value", "found"], ["low", "least allowed"], ["high", "most allowed"]],
    judge: (said) => judgeRange({ unit: "", ...said }),
  },
};

const setsOf = (visit) => visit.devices.filter((device) => device.battery && !device.removed_on);
const setOf = (visit, said) => setsOf(visit).find((one) => one.id === (said.set ?? setsOf(visit)[0]?.id));
const fieldsOf = (form, ctx) => (typeof form.fields === "function" ? form.fields(ctx.visit, ctx.memory.typed ?? {}) : form.fields);

export function show(ctx) {
  const { visit, memory } = ctx;
  const zone = visit.facts.building.time_zone;
  const form = FORMS[memory.form];
  const on = visit.testMode;
  const past = [...visit.everything("log"), ...visit.everything("measured"), ...visit.about("note"), ...visit.everything("finding")].sort((a, b) => b.at - a.at);
  return {
    back: "List",
    backTo: `v/${visit.id}`,
    place: visit.facts.building.name,
    title: "Records",
    main: html`
      <div class="band page-head"><div class="margin"><p>records</p></div><div class="body"><h1>Records of this visit</h1>${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}</div></div>
      <section class="band"><div class="margin count-margin">${on ? glyph("needs_attention") : ""}</div><div class="body"><h2 class="section-head">Test mode at the supervising station</h2>${on ? html`<p><b>On test since ${clock(on.at, zone)}.</b> ${on.body.words}</p>` : html`<p class="second">The account is not on test, as far as this tablet knows.</p>`}<form class="row-form" data-do="testMode" data-what="test mode"><div class="field words grow"><label for="operator">${on ? "who took it off test, signals received" : "operator, until when"}</label><input id="operator" name="who" maxlength="200"></div><button class="button ${on ? "filled" : ""}">${on ? "End test mode" : "Begin test mode"}</button></form></div></section>
      <section class="band"><div class="margin count-margin">${visit.bypassed.length || ""}</div><div class="body"><h2 class="section-head">Bypassed or disconnected</h2>${visit.bypassed.length ? html`<ul class="lines">${visit.bypassed.map((one) => html`<li class="row-form"><div class="grow">${stateWord("needs_attention", one.body.where)} <span class="second">since ${clock(one.at, zone)}</span></div><button class="button" data-do="restore" data-id="${one.id}" data-what="restored">Restored</button></li>`)}</ul>` : html`<p class="second">Nothing is open. The visit cannot be finished while something is.</p>`}${visit.facts.building.releasing ? html`<p>From the building's file: <b>${visit.facts.building.releasing}</b></p>` : ""}<form class="row-form" data-do="bypass" data-what="bypass"><div class="field words grow"><label for="where">what, and where it is tagged</label><input id="where" name="where" maxlength="160" value="${memory.where ?? ""}"></div><button class="button">Bypassed</button></form></div></section>
      <section class="band"><div class="margin"></div><div class="body"><h2 class="section-head">Measurements</h2><nav class="posts filter" aria-label="Measurements">${Object.entries(FORMS).map(([key, one]) => html`<button type="button" data-do="form" data-form="${key}" aria-pressed="${key === memory.form}">${one.title}</button>`)}</nav>${form ? measuring(ctx, form) : ""}</div></section>
      <section class="band"><div class="margin"></div><div class="body stack"><h2 class="section-head">Note, photo, something wrong</h2><form class="row-form" data-do="note" data-what="note"><div class="field words grow"><label for="note">about the visit as a whole</label><input id="note" name="text" maxlength="500" value="${memory.note ?? ""}"></div><button class="button">Save note</button></form><div class="row-form"><label class="button">Take a photo<input class="sr-only" type="file" accept="image/*" capture="environment" id="photo"></label><button class="button" data-do="deficiency" data-what="deficiency">${glyph("deficiency")} Deficiency</button><button class="button" data-do="impairment" data-what="impairment">${glyph("impairment")} Impairment</button></div></div></section>
      ${past.length ? html`<section class="band"><div class="margin count-margin">${past.length}</div><div class="body"><h2 class="section-head">Written down so far</h2><ul class="lines">${past.map((one) => html`<li class="row-form"><div class="grow">${["measured", "finding"].includes(one.kind) ? html`${headOf(one)} ` : ""}${visit.byId.has(one.device) && one.kind === "finding" ? html`<span class="address">${visit.byId.get(one.device).address}</span> ` : ""}${textOf(one)}${photosOf(one)}</div><span class="second">${clock(one.at, zone)}</span>${one.row ? whereIs(one.row) : html`<span class="second">${one.author}</span>`}</li>`)}</ul></div></section>` : ""}`,
    deeds: html`<a class="button filled" href="#v/${visit.id}">Carry on with the list</a>`,
    actions,
    onInput(_, event) {
      const { id, name, value } = event.target;
      if (id === "note") memory.note = value;
      if (id === "where") memory.where = value;
      if (event.target.closest("#measuring")) {
        memory.typed = { ...memory.typed, [name]: value };
        document.getElementById("measured").innerHTML = String(verdict(ctx, FORMS[memory.form]));
      }
    },
    async onChange(_, event) {
      if (event.target.id === "m-set") return ctx.redraw();
      if (event.target.id !== "photo" || !event.target.files[0]) return;
      const { text, photos } = await keepOrSay(ctx, event.target.files[0], visit.photoCount);
      await save(ctx, "note", { body: { text }, photos }).catch((error) => ctx.notSaved(error, "the note"));
      await ctx.redraw();
    },
  };
}

function measuring(ctx, form) {
  const fields = fieldsOf(form, ctx);
  const typed = { ...defaults(fields), ...ctx.memory.typed };
  ctx.memory.typed = typed;
  return html`<form class="stack" id="measuring" data-do="measure" data-what="${form.title}"><div class="pair">${fields.map(([name, label, choices]) => (Array.isArray(choices) ? html`<div class="field words"><label for="m-${name}">${label}</label><select id="m-${name}" name="${name}">${choices.map(([key, words]) => html`<option value="${key}" ${typed[name] === key ? "selected" : ""}>${words}</option>`)}</select></div>` : html`<div class="field ${choices ? "" : "words"}"><label for="m-${name}">${label}</label><input id="m-${name}" name="${name}" value="${typed[name] ?? ""}" ${choices ? html`inputmode="decimal"` : ""} autocomplete="off" maxlength="120">${choices ? html`<span class="unit">${choices}</span>` : ""}</div>`))}</div><div id="measured" aria-live="polite">${verdict(ctx, form)}</div><button class="button filled">Save ${form.title.toLowerCase()}</button></form>`;
}

const defaults = (fields) => Object.fromEntries(fields.filter(([, , choices]) => Array.isArray(choices)).map(([name, , choices]) => [name, name === "volts" ? "12" : choices[0][0]]));

function verdict(ctx, form) {
  const judged = form.judge(ctx.memory.typed, ctx.visit);
  return judged.isEmpty ? html`<p class="second">Type what you measured; the rule is shown at once.</p>` : html`<p>${stateWord(judged.state)} ${judged.words}</p>`;
}

const actions = {
  form(ctx, element) {
    ctx.memory.form = ctx.memory.form === element.dataset.form ? "" : element.dataset.form;
    ctx.memory.typed = {};
    return ctx.redraw();
  },
  async testMode(ctx, form) {
    const who = new FormData(form).get("who").trim();
    ctx.memory.wrong = who ? "" : "Write down who: the operator's name, and until when.";
    if (who) {
      const off = Boolean(ctx.visit.testMode);
      await save(ctx, "log", { body: { what: off ? "test_off" : "test_on", words: `${off ? "Test mode ended" : "Test mode begun"}: ${who}` } });
    }
    await ctx.redraw();
  },
  async bypass(ctx, form) {
    const where = new FormData(form).get("where").trim();
    ctx.memory.wrong = where ? "" : "Write down what is bypassed, and where.";
    if (where) {
      await save(ctx, "log", { body: { what: "bypassed", where, words: `Bypassed or disconnected: ${where}` } });
      ctx.memory.where = "";
    }
    await ctx.redraw();
  },
  async restore(ctx, element) {
    const one = ctx.visit.bypassed.find((open) => open.id === element.dataset.id);
    await save(ctx, "log", { body: { what: "restored", of: one.id, where: one.body.where, words: `Restored: ${one.body.where}` } });
    await ctx.redraw();
  },
  async measure(ctx) {
    const form = FORMS[ctx.memory.form];
    const judged = form.judge(ctx.memory.typed, ctx.visit);
    const { set, ...said } = ctx.memory.typed;
    const listed = ctx.memory.form === "battery" ? setOf(ctx.visit, ctx.memory.typed) : null;
    const where = [listed?.address, said.where?.trim()].filter(Boolean).join(", ");
    if (ctx.memory.form === "duct") said.unit = "in. w.c.";
    ctx.memory.wrong = judged.isEmpty ? "Type what you measured." : where ? "" : "Say where it was measured.";
    if (!ctx.memory.wrong) {
      await save(ctx, "measured", { device: listed?.id ?? null, body: { what: ctx.memory.form, said, state: judged.state, words: `${form.title}, ${where}: ${judged.words}` } });
      Object.assign(ctx.memory, { form: "", typed: {} });
    }
    await ctx.redraw();
  },
  async note(ctx, form) {
    const text = new FormData(form).get("text").trim();
    if (!text) return;
    await save(ctx, "note", { body: { text } });
    ctx.memory.note = "";
    await ctx.redraw();
  },
  deficiency: (ctx) => finding(ctx, "deficiency", "Deficiency found on the spot"),
  impairment: (ctx) => finding(ctx, "impairment", "Impairment: out of service"),
};

async function finding(ctx, severity, title) {
  const note = ctx.memory.note?.trim() ?? "";
  await save(ctx, "finding", { body: { severity, title: note ? note.slice(0, 160) : title, text: note } });
  ctx.memory.note = "";
  await ctx.redraw();
}
