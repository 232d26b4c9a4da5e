// Finish: nothing open, a reason for what was not tested, who was told, the owner's signature or why
// not, and a summary to leave behind.
import { sha256 } from "../canonical.js";
import * as store from "../store.js";
import { save } from "../saving.js";
import { clock, day, glyph, html, rich, stateWord, strokes } from "../draw.js";
import { packed } from "../packed.js";
import { many, t } from "../words.js";
import { headOf, photosOf } from "./device.js";

export function show(ctx) {
  const { visit, memory } = ctx;
  const counts = visit.counts();
  const signed = visit.about("signature").filter((one) => one.isMine).at(-1);
  const isOver = visit.isHandedIn;
  const two = visit.devices.filter((device) => visit.state(device.id).outcome === "two_results");
  return {
    back: t("List"),
    backTo: `v/${visit.id}`,
    place: `${visit.facts.building.name}, ${day(visit.facts.planned_on)}`,
    title: t("Finish"),
    main: html`
      <div class="band page-head"><div class="margin"><p>${isOver ? t("handed in") : t("finish")}</p></div><div class="body"><h1>${isOver ? t("Summary of this visit") : t("Finish and hand in")}</h1>${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}</div></div>
      ${summary(ctx, counts)}
      ${isOver ? "" : openItems(visit, two)}
      ${isOver ? "" : found(visit)}
      ${isOver || !counts.waiting ? "" : html`<form class="band" data-do="nothing"><div class="margin count-margin">${counts.waiting}</div><div class="body stack"><h2 class="section-head">${t("Not tested, without a reason yet")}</h2><p>${many("{n} device has no result and no reason. The same reason is written for each; nothing passes by itself.", "{n} devices have no result and no reason. The same reason is written for each; nothing passes by itself.", counts.waiting)}</p><div class="reasons">${visit.rules.not_tested.map((reason) => html`<button type="button" class="button" data-do="rest" data-reason="${reason}" aria-pressed="${memory.rest === reason}">${packed(reason)}</button>`)}</div><div class="field words"><label for="rest">${t("reason for the rest")}</label><input id="rest" maxlength="200" value="${memory.rest ?? ""}"></div></div></form>`}
      ${signed ? html`<div class="band"><div class="margin count-margin">${t("signed")}</div><div class="body"><p>${signed.body.words}</p>${photosOf(signed)}</div></div>` : isOver ? "" : signing(memory)}
      ${isOver ? "" : html`<div class="band"><div class="margin count-margin">${t("told")}</div><div class="body"><div class="field words"><label for="told">${t("who was told that the work has ended, and when; signals received")}</label><textarea id="told" rows="3">${memory.told ?? ""}</textarea></div></div></div>`}`,
    deeds: isOver
      ? html`<button class="button" data-do="print">${t("Print the summary")}</button><a class="button filled" href="#v/${visit.id}/sending">${t("See what is sent")}</a>`
      : html`<a class="button" href="#v/${visit.id}">${t("Not yet")}</a><button class="button filled" data-do="handIn" data-what="${t("the hand-in")}">${t("Hand in")}</button>`,
    actions,
    onInput(_, event) {
      const { id, value } = event.target;
      if (["rest", "told", "owner", "whyNot"].includes(id)) memory[id] = value;
    },
    after: (root) => draw(root, memory),
  };
}

function summary(ctx, counts) {
  const { visit } = ctx;
  const handed = visit.isHandedIn ? visit.about("hand_in").at(-1) : null;
  const forRest = handed?.body.reason_for_rest ?? "";
  const rest = visit.devices.filter((device) => !visit.isDone(device.id));
  const explained = counts.explained + (forRest ? rest.length : 0);
  const waiting = forRest ? 0 : rest.length;
  const wrong = visit.devices.filter((device) => ["fail", "two_results"].includes(visit.state(device.id).outcome));
  const found = [...visit.everything("finding"), ...visit.everything("measured").filter((one) => one.body.state === "fail")];
  const measured = visit.everything("measured").filter((one) => one.body.state !== "fail");
  const states = visit.devices.map((device) => {
    if (!visit.isDone(device.id)) return forRest ? "not_tested" : "later";
    return visit.state(device.id).isReplaced ? "not_tested" : visit.state(device.id).outcome;
  });
  const untested = visit.devices.filter((device) => visit.isDone(device.id) && visit.state(device.id).outcome === "not_tested");
  const total = (words, shape, number) => html`<div><dt>${words}</dt><dd>${glyph(shape, 28)} ${number}</dd></div>`;
  const section = (title, number, rows) => (number ? html`<section class="band"><div class="margin count-margin">${number}</div><div class="body"><h2 class="section-head">${title}</h2><ul class="lines">${rows}</ul></div></section>` : "");
  const line = (address, text, end) => html`<li class="row-form">${address ? html`<span class="address">${address}</span>` : ""}<span class="grow">${text}</span>${end}</li>`;
  const said = (one) => line(visit.byId.get(one.device)?.address ?? "", packed(one.body.title ?? one.body.words), headOf(one));
  return html`${handed ? facts(visit, handed) : ""}<div class="band measure"><div class="margin measure-margin">${t("walking order")}</div><div class="body">${strokes(states, { room: ctx.room() })}<dl class="totals">${total(t("pass"), "pass", counts.pass)}${total(t("fail"), "fail", counts.fail + counts.two_results)}${total(t("not tested, with a reason"), "not_tested", explained)}${waiting ? total(t("not tested yet"), "not_tested", waiting) : ""}</dl></div></div>
    ${section(t("Wrong"), wrong.length + found.length, [...wrong.map((device) => line(device.address, `${device.label}. ${packed(visit.state(device.id).reason)}`, stateWord(visit.state(device.id).outcome))), ...found.map(said)])}
    ${section(t("Not tested"), untested.length + (forRest ? rest.length : 0), [
      ...untested.map((device) => line(device.address, device.label, html`<span class="second">${packed(visit.state(device.id).reason) || (visit.state(device.id).isReplaced ? t("replaced") : "")}</span>`)),
      forRest && rest.length ? html`<li><p><b>${packed(forRest)}</b> <span class="second">${many("{n} device", "{n} devices", rest.length)}</span></p><p class="address">${rest.map((device) => device.address).join(", ")}</p></li>` : "",
    ])}
    ${section(t("Measured"), measured.length, measured.map(said))}
    <div class="band"><div class="margin"></div><p class="body note">${t("This says what was tested, by whom and with what result. It is not the report: the office reviews it and signs the record. Whether the installation meets the code is for the authority having jurisdiction to decide.")}</p></div>`;
}

// What the owner keeps says where, when, by whom, and who was told.
function facts(visit, handed) {
  const { building, people, planned_on: on } = visit.facts;
  const tasks = visit.facts.tasks.map((task) => packed(visit.rules.tasks[task])).join(", ");
  const row = (name, text) => (text ? html`<dt>${name}</dt><dd>${text}</dd>` : "");
  return html`<div class="band"><div class="margin"></div><div class="body"><dl class="facts">${row(t("where"), `${building.name}, ${building.address}`)}${row(t("when"), t("{day}, handed in at {time}", { day: day(on), time: clock(handed.at, building.time_zone) }))}${row(t("by"), people.join(", "))}${row(t("tested"), tasks)}${row(t("told afterwards"), handed.body.notified)}</dl></div></div>`;
}

function openItems(visit, two) {
  const open = (said, deed) => html`<li class="row-form"><span class="grow">${said}</span><a class="button" href="#v/${visit.id}/records">${deed}</a></li>`;
  const items = [
    ...visit.bypassed.map((one) => open(stateWord("needs_attention", t("Still bypassed: {where}", one.body)), t("Restore it"))),
    visit.testMode ? open(stateWord("needs_attention", t("On test since {time}", { time: clock(visit.testMode.at, visit.facts.building.time_zone) })), t("End test mode")) : "",
    two.length ? html`<li>${stateWord("two_results", t("Two results: {addresses}", { addresses: two.map((device) => device.address).join(", ") }))} <span class="second">${t("The office decides which holds, unless one of you takes theirs back.")}</span></li>` : "",
  ].filter(Boolean);
  return items.length ? html`<section class="band"><div class="margin count-margin">${items.length}</div><div class="body"><h2 class="section-head">${t("Open items")}</h2><ul class="lines">${items}</ul></div></section>` : "";
}

// Shown to the technician alone: a question, never a bar.
function found(visit) {
  const { results, byLabel, hurried } = visit.pace();
  if (!results) return "";
  return html`<div class="band"><div class="margin count-margin">${t("found")}</div><div class="body"><p>${many("{found} of {n} result here by the device's label, the others from the list.", "{found} of {n} results here by the device's label, the others from the list.", results, { found: byLabel })}</p>${hurried ? html`<div class="row-form"><p class="grow">${rich("<b>{n} came within 40 s without a label.</b> Write down how they were tested; nobody has to ask then.", { n: hurried })}</p><a class="button" href="#v/${visit.id}/records">${t("Write a note")}</a></div>` : ""}</div></div>`;
}

const signing = (memory) => html`<section class="band"><div class="margin count-margin">${t("owner")}</div><div class="body stack"><h2 class="section-head">${t("Owner's name and signature, or why not")}</h2><div class="pair"><div class="field words"><label for="owner">${t("name")}</label><input id="owner" maxlength="120" autocomplete="off" value="${memory.owner ?? ""}"></div><div class="field words"><label for="whyNot">${t("or why there is none")}</label><input id="whyNot" maxlength="160" value="${memory.whyNot ?? ""}"></div></div><canvas id="pad" class="pad" aria-label="${t("Signature")}"></canvas><div class="row-form"><button class="button" data-do="clearPad">${t("Clear")}</button><button class="button" data-do="sign" data-what="${t("the signature")}">${t("Save signature")}</button></div></div></section>`;

let pad = null;
function draw(root, memory) {
  const canvas = root.querySelector("#pad");
  pad = null;
  if (!canvas) return;
  const ratio = Math.max(1, devicePixelRatio || 1);
  canvas.width = canvas.offsetWidth * ratio;
  canvas.height = canvas.offsetHeight * ratio;
  canvas.getContext("2d").scale(ratio, ratio);
  pad = new window.SignaturePad(canvas, { penColor: getComputedStyle(document.documentElement).color, minWidth: 1.2, maxWidth: 3 });
  pad.addEventListener("beginStroke", () => {
    pad.penColor = getComputedStyle(document.documentElement).color; // the theme may have changed
  });
  if (memory.strokes) pad.fromData(memory.strokes.map((stroke) => ({ ...stroke, penColor: pad.penColor })));
  pad.addEventListener("endStroke", () => {
    memory.strokes = pad.toData();
  });
}

// The signature in ink on white, whatever the theme.
async function signature() {
  const sheet = document.createElement("canvas");
  const own = document.getElementById("pad");
  sheet.width = own.width;
  sheet.height = own.height;
  const context = sheet.getContext("2d");
  context.scale(Math.max(1, devicePixelRatio || 1), Math.max(1, devicePixelRatio || 1));
  const inked = new window.SignaturePad(sheet, { penColor: "#13221d", backgroundColor: "#ffffff", minWidth: 1.2, maxWidth: 3 });
  inked.fromData(pad.toData().map((stroke) => ({ ...stroke, penColor: "#13221d" })), { clear: true });
  const blob = await new Promise((resolve) => sheet.toBlob(resolve, "image/png"));
  return blob.arrayBuffer();
}

const actions = {
  nothing() {},
  rest(ctx, element) {
    ctx.memory.rest = element.dataset.reason;
    return ctx.redraw();
  },
  clearPad(ctx) {
    pad?.clear();
    ctx.memory.strokes = null;
  },
  async sign(ctx) {
    const { memory } = ctx;
    const [owner, whyNot] = [memory.owner?.trim() ?? "", memory.whyNot?.trim() ?? ""];
    const isInked = pad && !pad.isEmpty();
    memory.wrong = "";
    if (isInked && !owner) memory.wrong = t("Write the name of whoever signed.");
    else if (!isInked && !whyNot) memory.wrong = t("Have the owner sign, or write why there is no signature.");
    if (memory.wrong) return ctx.redraw();
    const photos = [];
    if (isInked) {
      const bytes = await signature();
      const name = await sha256(bytes);
      await store.putBlob({ sha256: name, bytes, isSent: false, at: Date.now() });
      photos.push({ sha256: name, length: bytes.byteLength });
    }
    const words = isInked ? `Signed on the tablet by ${owner}.` : `No signature${owner ? ` of ${owner}` : ""}: ${whyNot}`;
    await save(ctx, "signature", { body: { name: owner, why_not: isInked ? "" : whyNot, words }, photos });
    return ctx.redraw();
  },
  async handIn(ctx) {
    const { visit, memory } = ctx;
    const { waiting } = visit.counts();
    memory.wrong = "";
    if (visit.bypassed.length) memory.wrong = t("Restore first, then finish: {what}.", { what: visit.bypassed.map((one) => one.body.where).join("; ") });
    else if (visit.testMode) memory.wrong = t("End test mode at the supervising station first, and make sure that signals arrived.");
    else if (waiting && !memory.rest?.trim()) memory.wrong = many("{n} device has no result and no reason. Say why not.", "{n} devices have no result and no reason. Say why not.", waiting);
    else if (!visit.about("signature").length) memory.wrong = t("Have the owner sign, or write why there is no signature.");
    else if (!memory.told?.trim()) memory.wrong = t("Tell everyone who was told before that the work has ended, and write down whom.");
    if (memory.wrong) {
      await ctx.redraw();
      return scrollTo(0, 0);
    }
    await save(ctx, "hand_in", { body: { notified: memory.told.trim(), reason_for_rest: memory.rest?.trim() ?? "" } });
    ctx.say(t("Handed in, on this tablet."));
    await ctx.redraw();
    return scrollTo(0, 0);
  },
  print: () => window.print(),
};
