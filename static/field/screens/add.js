// A device that hangs there and is on no list.
import { glyph, html } from "../draw.js";
import { uuid7 } from "../entries.js";
import { packed } from "../packed.js";
import { save } from "../saving.js";
import { t } from "../words.js";

export function show(ctx) {
  const { visit, memory } = ctx;
  const area = memory.area ?? ctx.query.get("area") ?? "";
  return {
    back: t("List"),
    backTo: `v/${visit.id}`,
    place: visit.facts.building.name,
    title: t("Add a device"),
    main: html`
      <div class="band page-head"><div class="margin">${glyph("new", 28)}</div><div class="body"><h1>${t("A device that is on no list")}</h1><p class="lede">${t("It joins the visit and is tested next. The office sees that it was found.")}</p>${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}</div></div>
      <form class="band" data-do="add" id="add"><div class="margin"></div><div class="body stack">
        <div class="field"><label for="address">${t("address, as painted or programmed")}</label><input id="address" name="address" maxlength="40" autocomplete="off" value="${memory.address ?? ""}"></div>
        <fieldset class="kinds"><legend class="second">${t("what it is")}</legend><div class="reasons">${visit.rules.kinds.map(([key, name]) => html`<label class="button choice"><input class="sr-only" type="radio" name="kind" value="${key}" ${memory.kind === key ? "checked" : ""}>${packed(name)}</label>`)}</div></fieldset>
        <div class="field words"><label for="where">${t("where it hangs")}</label><input id="where" name="label" maxlength="160" value="${memory.label ?? ""}"></div>
        <div class="field words"><label for="area">${t("zone or floor")}</label><select id="area" name="area"><option value="">${t("none")}</option>${[...visit.areas.values()].map((one) => html`<option value="${one.id}" ${one.id === area ? "selected" : ""}>${one.name}${one.about ? `, ${one.about}` : ""}</option>`)}</select></div>
        ${visit.facts.systems.length > 1 ? html`<div class="field words"><label for="system">${t("system")}</label><select id="system" name="system">${visit.facts.systems.map((one) => html`<option value="${one.id}">${one.name}</option>`)}</select></div>` : html`<input type="hidden" name="system" value="${visit.facts.systems[0]?.id ?? ""}">`}
      </div></form>`,
    deeds: html`<a class="button" href="#v/${visit.id}">${t("Cancel")}</a><button class="button filled" data-do="submit" data-what="${t("the new device")}">${t("Add it and test it")}</button>`,
    actions: {
      submit: () => document.getElementById("add").requestSubmit(),
      async add(_, form) {
        if (!visit.hasBegun) return ctx.go(`v/${visit.id}/begin`);
        const body = Object.fromEntries(new FormData(form));
        Object.assign(memory, body, { wrong: "" });
        const taken = visit.devices.some((one) => one.address === body.address.trim() && one.system === body.system && !one.removed_on);
        if (!body.address.trim()) memory.wrong = t("A device needs its address, as it is painted or programmed.");
        else if (!body.kind) memory.wrong = t("Choose what it is.");
        else if (taken) memory.wrong = t("{address} is on this visit already. Replace that device instead.", { address: body.address });
        if (memory.wrong) return ctx.redraw();
        const id = uuid7();
        await save(ctx, "added", {
          device: id,
          body: { address: body.address.trim(), kind: body.kind, label: body.label.trim(), area: body.area, system: body.system },
        });
        return ctx.go(`v/${visit.id}/d/${id}`);
      },
    },
  };
}
