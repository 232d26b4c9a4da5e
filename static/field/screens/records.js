// Records beside the devices' results: test mode, what is bypassed, batteries, sound, pressure, notes.
import { keepOrSay } from "../photos.js";
import { save } from "../saving.js";
import { VOLTAGES, judgeBattery, judgeRange, judgeSound } from "../trade.js";
import { clock, glyph, html, rich, stateWord } from "../draw.js";
import { mark, t } from "../words.js";
import { headOf, photosOf, textOf, whereIs } from "./device.js";

const CHEMISTRIES = [["vrla", mark("sealed lead-acid")], ["vented", mark("vented lead-acid")], ["nicad", mark("nickel-cadmium")]];
const MODES = [["public", mark("public")], ["sleeping", mark("sleeping area")], ["private", mark("private")]];
// A title is English, as the record writes it; `save` is said on the button.
const FORMS = {
  battery: {
    title: mark("Battery"),
    save: mark("Save battery"),
    fields: (visit, said) => {
      const sets = setsOf(visit);
      const which = sets.length ? [["set", mark("which set"), [...sets.map((one) => [one.id, `${one.address} ${one.label}`.trim()]), ["", mark("one that is on no list")]]]] : [];
      const about = setOf(visit, said) ? [["where", mark("make and date code")]] : [["where", mark("where, make and date code")], ["chemistry", mark("kind"), CHEMISTRIES], ["volts", mark("nominal"), VOLTAGES]];
      return [...which, ...about, ["float_v", mark("on charge, whole set"), "V"], ["load_v", mark("under load, whole set"), "V"], ["capacity", mark("capacity found"), "%"]];
    },
    judge: (said, visit) => judgeBattery(said, visit.rules.battery, setOf(visit, said)?.battery),
  },
  sound: {
    title: mark("Sound level"),
    save: mark("Save sound level"),
    fields: [["where", mark("where")], ["mode", mark("mode"), MODES], ["ambient", mark("ambient, averaged"), "dBA"], ["loudest", mark("loudest lasting 60 s"), "dBA"], ["level", mark("alarm signal"), "dBA"]],
    judge: judgeSound,
  },
  duct: {
    title: mark("Duct pressure"),
    save: mark("Save duct pressure"),
    fields: [["where", mark("which duct detector")], ["value", mark("differential pressure"), "in. w.c."], ["low", mark("maker's least"), "in. w.c."], ["high", mark("maker's most"), "in. w.c."]],
    judge: (said) => judgeRange({ ...said, unit: "in. w.c." }),
  },
  other: {
    title: mark("Other measurement"),
    save: mark("Save other measurement"),
    fields: [["where", mark("what and where")], ["unit", mark("unit")], ["value", mark("found")], ["low", mark("least allowed")], ["high", mark("most allowed")]],
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
    back: t("List"),
    backTo: `v/${visit.id}`,
    place: visit.facts.building.name,
    title: t("Records"),
    main: html`
      <div class="band page-head"><div class="margin"><p>${t("records")}</p></div><div class="body"><h1>${t("Records of this visit")}</h1>${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}</div></div>
      <section class="band"><div class="margin count-margin">${on ? glyph("needs_attention") : ""}</div><div class="body"><h2 class="section-head">${t("Test mode at the supervising station")}</h2>${on ? html`<p><b>${t("On test since {time}.", { time: clock(on.at, zone) })}</b> ${on.body.words}</p>` : html`<p class="second">${t("The account is not on test, as far as this tablet knows.")}</p>`}<form class="row-form" data-do="testMode" data-what="${t("test mode")}"><div class="field words grow"><label for="operator">${on ? t("who took it off test, signals received") : t("operator, until when")}</label><input id="operator" name="who" maxlength="200"></div><button class="button ${on ? "filled" : ""}">${on ? t("End test mode") : t("Begin test mode")}</button></form></div></section>
      <section class="band"><div class="margin count-margin">${visit.bypassed.length || ""}</div><div class="body"><h2 class="section-head">${t("Bypassed or disconnected")}</h2>${visit.bypassed.length ? html`<ul class="lines">${visit.bypassed.map((one) => html`<li class="row-form"><div class="grow">${stateWord("needs_attention", one.body.where)} <span class="second">${t("since {time}", { time: clock(one.at, zone) })}</span></div><button class="button" data-do="restore" data-id="${one.id}" data-what="${t("restored")}">${t("Restored")}</button></li>`)}</ul>` : html`<p class="second">${t("Nothing is open. The visit cannot be finished while something is.")}</p>`}${visit.facts.building.releasing ? html`<p>${rich("From the building's file: <b>{circuits}</b>", { circuits: visit.facts.building.releasing })}</p>` : ""}<form class="row-form" data-do="bypass" data-what="${t("bypass")}"><div class="field words grow"><label for="where">${t("what, and where it is tagged")}</label><input id="where" name="where" maxlength="160" value="${memory.where ?? ""}"></div><button class="button">${t("Bypassed")}</button></form></div></section>
      <section class="band"><div class="margin"></div><div class="body"><h2 class="section-head">${t("Measurements")}</h2><nav class="posts filter" aria-label="${t("Measurements")}">${Object.entries(FORMS).map(([key, one]) => html`<button type="button" data-do="form" data-form="${key}" aria-pressed="${key === memory.form}">${t(one.title)}</button>`)}</nav>${form ? measuring(ctx, form) : ""}</div></section>
      <section class="band"><div class="margin"></div><div class="body stack"><h2 class="section-head">${t("Note, photo, something wrong")}</h2><form class="row-form" data-do="note" data-what="${t("note")}"><div class="field words grow"><label for="note">${t("about the visit as a whole")}</label><input id="note" name="text" maxlength="500" value="${memory.note ?? ""}"></div><button class="button">${t("Save note")}</button></form><div class="row-form"><label class="button">${t("Take a photo")}<input class="sr-only" type="file" accept="image/*" capture="environment" id="photo"></label><button class="button" data-do="deficiency" data-what="${t("deficiency")}">${glyph("deficiency")} ${t("Deficiency")}</button><button class="button" data-do="impairment" data-what="${t("impairment")}">${glyph("impairment")} ${t("Impairment")}</button></div></div></section>
      ${past.length ? html`<section class="band"><div class="margin count-margin">${past.length}</div><div class="body"><h2 class="section-head">${t("Written down so far")}</h2><ul class="lines">${past.map((one) => html`<li class="row-form"><div class="grow">${["measured", "finding"].includes(one.kind) ? html`${headOf(one)} ` : ""}${visit.byId.has(one.device) && one.kind === "finding" ? html`<span class="address">${visit.byId.get(one.device).address}</span> ` : ""}${textOf(one)}${photosOf(one)}</div><span class="second">${clock(one.at, zone)}</span>${one.row ? whereIs(one.row) : html`<span class="second">${one.author}</span>`}</li>`)}</ul></div></section>` : ""}`,
    deeds: html`<a class="button filled" href="#v/${visit.id}">${t("Carry on with the list")}</a>`,
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
      await save(ctx, "note", { body: { text }, photos }).catch((error) => ctx.notSaved(error, t("the note")));
      await ctx.redraw();
    },
  };
}

function measuring(ctx, form) {
  const fields = fieldsOf(form, ctx);
  const typed = { ...defaults(fields), ...ctx.memory.typed };
  ctx.memory.typed = typed;
  return html`<form class="stack" id="measuring" data-do="measure" data-what="${t(form.title)}"><div class="pair">${fields.map(([name, label, choices]) => (Array.isArray(choices) ? html`<div class="field words"><label for="m-${name}">${t(label)}</label><select id="m-${name}" name="${name}">${choices.map(([key, words]) => html`<option value="${key}" ${typed[name] === key ? "selected" : ""}>${t(words)}</option>`)}</select></div>` : html`<div class="field ${choices ? "" : "words"}"><label for="m-${name}">${t(label)}</label><input id="m-${name}" name="${name}" value="${typed[name] ?? ""}" ${choices ? html`inputmode="decimal"` : ""} autocomplete="off" maxlength="120">${choices ? html`<span class="unit">${choices}</span>` : ""}</div>`))}</div><div id="measured" aria-live="polite">${verdict(ctx, form)}</div><button class="button filled">${t(form.save)}</button></form>`;
}

const defaults = (fields) => Object.fromEntries(fields.filter(([, , choices]) => Array.isArray(choices)).map(([name, , choices]) => [name, name === "volts" ? "12" : choices[0][0]]));

function verdict(ctx, form) {
  const judged = form.judge(ctx.memory.typed, ctx.visit);
  return judged.isEmpty ? html`<p class="second">${t("Type what you measured; the rule is shown at once.")}</p>` : html`<p>${stateWord(judged.state)} ${judged.shown}</p>`;
}

const actions = {
  form(ctx, element) {
    ctx.memory.form = ctx.memory.form === element.dataset.form ? "" : element.dataset.form;
    ctx.memory.typed = {};
    return ctx.redraw();
  },
  async testMode(ctx, form) {
    const who = new FormData(form).get("who").trim();
    ctx.memory.wrong = who ? "" : t("Write down who: the operator's name, and until when.");
    if (who) {
      const off = Boolean(ctx.visit.testMode);
      await save(ctx, "log", { body: { what: off ? "test_off" : "test_on", words: `${off ? "Test mode ended" : "Test mode begun"}: ${who}` } });
    }
    await ctx.redraw();
  },
  async bypass(ctx, form) {
    const where = new FormData(form).get("where").trim();
    ctx.memory.wrong = where ? "" : t("Write down what is bypassed, and where.");
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
    ctx.memory.wrong = judged.isEmpty ? t("Type what you measured.") : where ? "" : t("Say where it was measured.");
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
