// Before the first test: the cautions, each ticked; who was told, and when.
import { day, glyph, html } from "../draw.js";
import { packed } from "../packed.js";
import { save } from "../saving.js";
import { t } from "../words.js";

export function show(ctx) {
  const { visit } = ctx;
  const { facts } = visit;
  const { building } = facts;
  const fact = (name, text) => (text ? html`<dt>${name}</dt><dd>${text}</dd>` : "");
  return {
    back: t("List"),
    backTo: `v/${visit.id}`,
    place: `${building.name}, ${day(facts.planned_on)}`,
    title: t("Before the first test"),
    main: html`
      <div class="band page-head"><div class="margin"><p>${t("before")}</p></div><div class="body"><h1>${t("Before the first test")}</h1><p class="lede">${t("Read each and tick it. They are printed with the record.")}</p></div></div>
      <div class="band"><div class="margin count-margin">${t("the site")}</div><div class="body"><dl class="facts">${fact(t("address"), building.address)}${fact(t("access"), building.instructions)}${fact(t("this visit"), [facts.tasks.map((task) => packed(visit.rules.tasks[task])).join(", "), facts.purpose, facts.instructions].filter(Boolean).join(". "))}${fact(t("supervising station"), building.monitoring)}${building.contacts.map((one) => fact(one.part || t("contact"), `${one.name} ${one.telephone}`))}${fact(t("code"), building.edition)}${facts.earlier_notes.map((one) => fact(`${one.by}, ${day(one.at)}`, one.text))}</dl></div></div>
      <form id="begin" data-do="begin"><div class="band"><div class="margin count-margin">${t("cautions")}</div><div class="body"><ul class="lines headed">${facts.cautions.map((text, at) => html`<li><label class="tick-field"><input type="checkbox" name="caution" value="${at}" ${ctx.memory.ticked?.has(String(at)) ? "checked" : ""}><span>${at === 0 && building.releasing ? html`<b>${packed(text)}</b>` : packed(text)}</span></label></li>`)}</ul></div></div>
      <div class="band"><div class="margin count-margin">${t("told")}</div><div class="body stack">${ctx.memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${ctx.memory.wrong}</p>` : ""}<div class="field words"><label for="notified">${t("who was told before, and when: supervising station, occupants, fire service")}</label><textarea id="notified" name="notified" rows="3">${ctx.memory.notified ?? ""}</textarea></div></div></div></form>`,
    deeds: html`<a class="button" href="#v/${visit.id}">${t("Look at the list")}</a><button class="button filled" data-do="submit">${t("Begin the visit")}</button>`,
    onInput(_, event) {
      const { name, value, checked } = event.target;
      ctx.memory.ticked ??= new Set();
      if (name === "caution") ctx.memory.ticked[checked ? "add" : "delete"](value);
      if (name === "notified") ctx.memory.notified = value;
    },
    actions: {
      submit: () => document.getElementById("begin").requestSubmit(),
      async begin(_, form) {
        const body = new FormData(form);
        const ticked = new Set(body.getAll("caution"));
        Object.assign(ctx.memory, { ticked, notified: body.get("notified") });
        const left = facts.cautions.findIndex((_text, at) => !ticked.has(String(at)));
        ctx.memory.wrong = "";
        if (left >= 0) ctx.memory.wrong = t("Read each caution and tick it; not ticked: {caution}", { caution: packed(facts.cautions[left]) });
        else if (!body.get("notified").trim()) ctx.memory.wrong = t("Tell the supervising station and the occupants first, and write down whom and when.");
        if (ctx.memory.wrong) return ctx.redraw();
        await save(ctx, "begin", { body: { notified: body.get("notified").trim(), cautions: facts.cautions } });
        return ctx.go(`v/${visit.id}`);
      },
    },
  };
}
