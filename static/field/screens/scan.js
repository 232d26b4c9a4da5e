// Scan a label, or type its last characters: its device opens. What is of another building stops;
// what is not known here may be bound.
import { day, glyph, html, rich } from "../draw.js";
import { Eye, readPhoto } from "../camera.js";
import { isScanned, Labels, sayCode, TAIL } from "../labels.js";
import { save } from "../saving.js";
import { many, t } from "../words.js";
import { search } from "./list.js";

const MOST = 12;

export function show(ctx) {
  const { visit, memory } = ctx;
  const wanted = visit.byId.get(ctx.query.get("for"));
  Object.assign(memory, { wanted });
  const { found } = memory;
  return {
    back: wanted ? wanted.address : t("List"),
    backTo: wanted ? `v/${visit.id}/d/${wanted.id}` : `v/${visit.id}`,
    place: visit.facts.building.name,
    title: t("Scan"),
    main: found ? answer(ctx, found) : looking(ctx),
    deeds: found
      ? html`<button class="button" data-do="anew">${t("Scan another")}</button><a class="button" href="#v/${visit.id}">${t("Back to the list")}</a>`
      : html`<label class="button">${t("Take a photo of it")}<input class="sr-only" type="file" accept="image/*" capture="environment" id="still"></label><a class="button" href="#v/${visit.id}">${t("Back to the list")}</a>`,
    actions,
    onInput,
    onChange,
    after: () => {
      const typed = memory.isAsked ? null : ctx.query.get("typed");
      memory.isAsked = true;
      if (typed) take(ctx, Labels.of(visit).findTyped(typed), isScanned(typed) ? "scanned" : "typed");
      else if (!memory.found) look(ctx);
    },
  };
}

function looking({ memory }) {
  const { wanted } = memory;
  return html`
    <div class="band page-head"><div class="margin">${wanted ? html`<p class="address">${wanted.address}</p>` : glyph("find", 28)}</div><div class="body"><h1>${wanted ? t("Scan the label on {address}", wanted) : t("Scan a label")}</h1><p class="lede" id="eye-said">${memory.said ?? t("Hold the square code before the camera; it opens by itself.")}</p></div></div>
    <div class="band"><div class="margin"></div><div class="body"><video class="eye" id="eye" muted playsinline aria-label="${t("What the camera sees")}"></video></div></div>
    <form class="band" data-do="typed"><label class="margin count-margin" for="code">${t("or type")}</label><div class="body stack">${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}<div class="row-form"><div class="field grow"><input id="code" name="code" maxlength="300" value="${memory.typed ?? ""}" autocomplete="off" autocapitalize="characters" spellcheck="false" aria-label="${t("The code, or its last {n} characters", { n: TAIL })}"></div><button class="button">${t("Open")}</button></div><p class="second">${t("The last {n} characters stand large on the label.", { n: TAIL })}</p></div></form>`;
}

// The camera is a help, never a need: where it does not open, one types.
async function look(ctx) {
  const { memory } = ctx;
  memory.eye?.close();
  const video = document.getElementById("eye");
  if (!video) return;
  memory.eye = new Eye(video, (text) => take(ctx, [Labels.of(ctx.visit).find(text)], "scanned"));
  try {
    await memory.eye.open();
  } catch (error) {
    const isRefused = ["NotAllowedError", "SecurityError"].includes(error.name);
    const isMissing = ["NotFoundError", "OverconstrainedError"].includes(error.name) || !navigator.mediaDevices;
    memory.said = isRefused
      ? t("The browser may not use the camera. Allow it in the browser's settings, or type the last characters.")
      : isMissing
        ? t("This tablet shows no camera. Type the last characters, or take a photo.")
        : t("The camera does not open. Type the last characters, or take a photo.");
    const said = document.getElementById("eye-said");
    if (said) said.textContent = memory.said;
    video.hidden = true;
  }
}

function take(ctx, hits, how) {
  const { visit, memory } = ctx;
  memory.how = how;
  const [one] = hits;
  memory.eye?.close();
  if (navigator.vibrate) navigator.vibrate(30);
  if (hits.length > 1) memory.found = { is: "several", hits };
  else if (one.is === "device" && !memory.wanted && !visit.byId.get(one.device).removed_on) {
    return ctx.go(`v/${visit.id}/d/${one.device}?how=${how}`);
  } else if (one.is === "device" && memory.wanted?.id === one.device) {
    memory.found = { ...one, is: "same" };
  } else memory.found = one;
  return ctx.redraw();
}

const stop = (title, body) => html`<div class="band page-head stop" role="alert"><div class="margin">${glyph("fail", 40)}</div><div class="body"><h1>${title}</h1><p class="lede">${body}</p></div></div>`;
const told = (title, body) => html`<div class="band page-head" role="status"><div class="margin">${glyph("find", 28)}</div><div class="body"><h1>${title}</h1><p class="lede">${body}</p></div></div>`;

function answer(ctx, found) {
  const { visit, memory } = ctx;
  const code = html`<span class="mono">${sayCode(found.code ?? "")}</span>`;
  const house = visit.facts.building.name;
  const open = (id) => html`<a class="button filled" href="#v/${visit.id}/d/${id}?how=${memory.how}">${t("Open {address}", visit.byId.get(id))}</a>`;
  const row = (body) => html`<div class="band"><div class="margin"></div><div class="body stack">${body}</div></div>`;
  if (found.is === "several") {
    return html`${told(many("{n} label ends so", "{n} labels end so", found.hits.length), t("Type more of it, or choose."))}${row(found.hits.filter((one) => one.is === "device").map((one) => html`<p class="row-form"><span class="mono grow">${sayCode(one.code)}</span>${open(one.device)}</p>`))}`;
  }
  if (found.is === "elsewhere") {
    return stop(t("Wrong building"), rich("This label hangs in <b>{building}</b>. You are on the visit of <b>{house}</b>. Nothing was entered.", { building: found.building, house }));
  }
  if (found.is === "misread") return told(t("That code does not fit"), rich("{code} is not a code of ours: its last character checks the others. Compare it letter by letter.", { code }));
  if (found.is === "retired") return told(t("This label is out of use"), rich("{code} was taken out of use on {day}. Put another label on.", { code, day: day(found.on) }));
  if (found.is === "disputed") {
    const devices = found.devices.map((id) => visit.byId.get(id)?.address ?? t("a device not on this visit")).join(t(" and "));
    return html`${stop(t("Two devices claim this label"), rich("{code} was bound to {devices} by people apart. The office decides; until then open the device from the list.", { code, devices }))}${row(found.devices.filter((id) => visit.byId.has(id)).map(open))}`;
  }
  if (found.is === "outside") return told(t("Not on this visit"), rich("{code} hangs on <b>{address}</b> of {house}, which this visit does not ask for.", { code, address: found.address, house }));
  if (found.is === "same") return html`${told(t("It hangs on {address} already", memory.wanted), html`${code}`)}${row(open(found.device))}`;
  if (found.is === "device") {
    const device = visit.byId.get(found.device);
    if (!memory.wanted) {
      const next = visit.byId.get(found.next);
      return html`${told(t("{address} was taken down", device), html`${rich("{code} still names the device that is gone.", { code })}${next ? ` ${t("If the label stayed on the base, bind it to the new one.")}` : ""}`)}${next ? binding(ctx, next, true) : ""}`;
    }
    return html`${told(t("It hangs on {address}", device), rich("{code} names <b>{device}</b>. If it is on {address} now, say why.", { code, device: `${device.address} ${device.label}`, address: memory.wanted.address }))}${row(open(device.id))}${binding(ctx, memory.wanted, true)}`;
  }
  const isFree = found.is === "free";
  const about = isFree ? rich("{code} hangs on no device yet.", { code }) : rich("{code} may be an older barcode, or a label of a building that this tablet does not hold.", { code });
  const head = told(isFree ? t("A new label") : t("This code is not known here"), html`${about} ${memory.wanted ? "" : t("Which device is it on?")}`);
  return html`${head}${memory.wanted ? binding(ctx, memory.wanted, false) : choosing(ctx)}`;
}

function binding({ memory }, device, needsReason) {
  return html`<form class="band" data-do="bind" data-device="${device.id}"><div class="margin address">${device.address}</div><div class="body stack">${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}<p><b>${device.label || t("no place said")}</b></p>${needsReason ? html`<div class="field words"><label for="why">${t("why it hangs elsewhere now")}</label><input id="why" name="reason" maxlength="200" value="${memory.reason ?? ""}"></div>` : ""}<button class="button filled" data-what="${t("label of {address}", device)}">${t("It hangs on {address}", device)}</button></div></form>`;
}

function choosing(ctx) {
  const { memory } = ctx;
  return html`<div class="band"><label class="margin count-margin" for="on">${t("find")}</label><div class="body"><div class="field words"><input id="on" type="search" value="${memory.words ?? ""}" autocomplete="off" autocapitalize="off" spellcheck="false" aria-label="${t("Address, place or serial of the device it is on")}"></div></div></div><div id="on-rows">${choices(ctx)}</div>`;
}

function choices({ visit, memory }) {
  const labels = Labels.of(visit);
  const rows = (memory.words ? search(visit, memory.words) : visit.devices.filter((one) => !labels.ofDevice(one.id).length))
    .filter((one) => !one.removed_on)
    .slice(0, MOST);
  if (!rows.length) return html`<div class="band"><div class="margin"></div><p class="body">${t("No device of this visit fits “{words}”.", { words: memory.words ?? "" })}</p></div>`;
  return html`<ul class="entries">${rows.map((one) => html`<li class="entry"><div class="margin"><span class="address">${one.address}</span></div><div class="entry-body"><div class="what"><p><b>${one.label || t("no place said")}</b></p></div><div class="actions"><button class="button" data-do="choose" data-device="${one.id}" data-what="${t("label of {address}", one)}" aria-label="${t("It hangs on {address}", one)}">${t("It is on this")}</button></div></div></li>`)}</ul>`;
}

function onInput(ctx, event) {
  if (event.target.id === "code") ctx.memory.typed = event.target.value;
  if (event.target.id === "why") ctx.memory.reason = event.target.value;
  if (event.target.id !== "on") return;
  ctx.memory.words = event.target.value.trim();
  document.getElementById("on-rows").innerHTML = String(choices(ctx));
}

async function onChange(ctx, event) {
  const [file] = event.target.id === "still" ? event.target.files : [];
  if (!file) return;
  const seen = await readPhoto(file).catch(() => []);
  if (seen.length) await take(ctx, [Labels.of(ctx.visit).find(seen[0])], "scanned");
  else {
    ctx.memory.wrong = t("No code was seen on that photo. Come nearer, or type the last characters.");
    await ctx.redraw();
  }
}

async function bind(ctx, id, reason) {
  const { visit, memory } = ctx;
  const { code, replaces = [] } = memory.found;
  const device = visit.byId.get(id);
  await save(ctx, "bound", { device: id, body: { code, replaces, reason, words: sayCode(code) } });
  ctx.say(t("Label bound to {address}, on this tablet.", device));
  return ctx.go(`v/${visit.id}/d/${id}?how=${memory.how}`);
}

const actions = {
  typed(ctx, form) {
    const text = String(new FormData(form).get("code")).trim();
    ctx.memory.typed = text;
    const hits = Labels.of(ctx.visit).findTyped(text);
    ctx.memory.wrong = hits.length ? "" : t("Type at least the last {n} characters.", { n: TAIL });
    return hits.length ? take(ctx, hits, "typed") : ctx.redraw();
  },
  anew(ctx) {
    Object.assign(ctx.memory, { found: null, typed: "", wrong: "", words: "", reason: "" });
    return ctx.redraw();
  },
  choose: (ctx, element) => bind(ctx, element.dataset.device, ""),
  bind(ctx, form) {
    const said = new FormData(form).get("reason");
    if (said !== null && !String(said).trim()) {
      ctx.memory.wrong = t("Say why it hangs elsewhere now; the reason stays with the label.");
      return ctx.redraw();
    }
    return bind(ctx, form.dataset.device, String(said ?? "").trim());
  },
};
