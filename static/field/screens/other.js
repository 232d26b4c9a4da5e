// Why it failed, why it was not tested, or that it was replaced: one tap on a reason saves it.
import { glyph, html } from "../draw.js";
import { uuid7 } from "../entries.js";
import { packed, upper } from "../packed.js";
import { save } from "../saving.js";
import { t } from "../words.js";

export function show(ctx) {
  const { visit } = ctx;
  const device = visit.byId.get(ctx.params[1]);
  ctx.memory.device = device;
  const kind = packed(new Map(visit.rules.kinds).get(device.kind) ?? device.kind);
  const failing = device.tasks.filter((task) => visit.rules.failed[task]);
  const state = visit.state(device.id);
  const own = (name, text) => html`<form class="row-form" data-do="typed" data-kind="${name}" data-task="${text.task ?? ""}"><div class="field words grow"><label for="r-${name}-${text.task ?? ""}">${t("another reason")}</label><input id="r-${name}-${text.task ?? ""}" name="reason" maxlength="200"></div><button class="button">${text.save}</button></form>`;
  const button = (name, reason, task = "") => html`<button class="button" data-do="reason" data-kind="${name}" data-task="${task}" data-reason="${reason}" data-what="${device.address}">${packed(reason)}</button>`;
  return {
    back: t("Device"),
    backTo: `v/${visit.id}/d/${device.id}`,
    place: visit.facts.building.name,
    title: t("{address}: other result", { address: device.address }),
    main: html`
      <div class="band page-head"><div class="margin"><p class="address">${device.address}</p></div><div class="body"><h1>${device.label || t("No label")}</h1><p class="lede">${t("{kind}. One tap on a reason saves it.", { kind: upper(kind) })}</p>${ctx.memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${ctx.memory.wrong}</p>` : ""}</div></div>
      ${failing.map((task) => section("fail", "fail", t("{task} failed", { task: upper(packed(visit.rules.tasks[task])) }), html`<div class="reasons">${visit.rules.failed[task].map((reason) => button("fail", reason, task))}</div>${own("fail", { task, save: t("Save as fail") })}`))}
      ${section("not_tested", "not-tested", t("Not tested"), html`${state.missing.length || state.outcome === "not_tested" ? html`<div class="reasons">${visit.rules.not_tested.map((reason) => button("not_tested", reason))}</div>${own("not_tested", { save: t("Save as not tested") })}` : html`<p class="second">${t("It has its results. Correct one of them instead, or take it back on the device's page.")}</p>`}`)}
      ${device.removed_on ? "" : section("new", "replaced", t("Replaced by a new device"), html`<div class="field"><label for="serial">${t("serial of the new one (if any)")}</label><input id="serial" maxlength="60" autocomplete="off" value="${ctx.memory.serial ?? ""}"></div><div class="reasons">${visit.rules.replaced.map((reason) => button("replaced", reason))}</div>${own("replaced", { save: t("Save as replaced") })}`)}`,
    deeds: html`<a class="button filled" href="#v/${visit.id}/d/${device.id}">${t("Back to the device")}</a>`,
    actions,
    onInput(_, event) {
      if (event.target.id === "serial") ctx.memory.serial = event.target.value;
    },
    after() {
      const part = ctx.query.get("part");
      if (part) requestAnimationFrame(() => document.getElementById(part)?.scrollIntoView({ block: "start" }));
    },
  };
}

const section = (shape, id, title, inner) => html`<section class="band" id="${id}"><div class="margin count-margin">${glyph(shape)}</div><div class="body"><h2 class="section-head">${title}</h2>${inner}</div></section>`;

const actions = {
  reason: (ctx, element) => enter(ctx, element.dataset.kind, element.dataset.task, element.dataset.reason),
  typed: (ctx, form) => enter(ctx, form.dataset.kind, form.dataset.task, new FormData(form).get("reason").trim()),
};

async function enter(ctx, kind, task, reason) {
  const { visit, memory } = ctx;
  const { device } = memory;
  if (!visit.hasBegun) return ctx.go(`v/${visit.id}/begin`);
  if (!reason) {
    memory.wrong = { fail: t("Say what failed."), not_tested: t("Say why it was not tested."), replaced: t("Say why it was replaced.") }[kind];
    return ctx.redraw();
  }
  let to = `v/${visit.id}${device.area ? `?area=${device.area}` : ""}`;
  if (kind === "fail") {
    await save(ctx, "result", {
      device: device.id,
      body: { task, result: "fail", reason },
      supersedes: visit.standingIds(device.id, task),
    });
  } else if (kind === "not_tested") {
    const tasks = device.tasks.filter((name) => visit.state(device.id).tasks.get(name).outcome === "not_tested");
    for (const name of tasks) {
      await save(ctx, "not_tested", {
        device: device.id,
        body: { task: name, reason },
        supersedes: visit.standingIds(device.id, name),
      });
    }
  } else {
    const made = uuid7();
    await save(ctx, "replaced", {
      device: device.id,
      body: { reason, serial: memory.serial?.trim() ?? "", new_device: made },
    });
    to = `v/${visit.id}/d/${made}`;
  }
  ctx.say(t("{address} on this tablet.", { address: device.address }));
  return ctx.go(to);
}
