// Scan a label, or type its last characters: its device opens. What is of another building stops;
// what is not known here may be bound.
import { day, glyph, html, say } from "../draw.js";
import { Eye, readPhoto } from "../camera.js";
import { isScanned, Labels, sayCode, TAIL } from "../labels.js";
import { save } from "../saving.js";
import { search } from "./list.js";

const MOST = 12;

export function show(ctx) {
  const { visit, memory } = ctx;
  const wanted = visit.byId.get(ctx.query.get("for"));
  Object.assign(memory, { wanted });
  const { found } = memory;
  return {
    back: wanted ? wanted.address : "List",
    backTo: wanted ? `v/${visit.id}/d/${wanted.id}` : `v/${visit.id}`,
    place: visit.facts.building.name,
    title: "Scan",
    main: found ? answer(ctx, found) : looking(ctx),
    deeds: found
      ? html`<button class="button" data-do="anew">Scan another</button><a class="button" href="#v/${visit.id}">Back to the list</a>`
      : html`<label class="button">Take a photo of it<input class="sr-only" type="file" accept="image/*" capture="environment" id="still"></label><a class="button" href="#v/${visit.id}">Back to the list</a>`,
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
    <div class="band page-head"><div class="margin">${wanted ? html`<p class="address">${wanted.address}</p>` : glyph("find", 28)}</div><div class="body"><h1>${wanted ? `Scan the label on ${wanted.address}` : "Scan a label"}</h1><p class="lede" id="eye-said">${memory.said ?? "Hold the square code before the camera; it opens by itself."}</p></div></div>
    <div class="band"><div class="margin"></div><div class="body"><video class="eye" id="eye" muted playsinline aria-label="What the camera sees"></video></div></div>
    <form class="band" data-do="typed"><label class="margin count-margin" for="code">or type</label><div class="body stack">${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}<div class="row-form"><div class="field grow"><input id="code" name="code" maxlength="300" value="${memory.typed ?? ""}" autocomplete="off" autocapitalize="characters" spellcheck="false" aria-label="The code, or its last ${TAIL} characters"></div><button class="button">Open</button></div><p class="second">The last ${TAIL} characters stand large on the label.</p></div></form>`;
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
      ? "The browser may not use the camera. Allow it in the browser's settings, or type the last characters."
      : isMissing
        ? "This tablet shows no camera. Type the last characters, or take a photo."
        : "The camera does not open. Type the last characters, or take a photo.";
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
  const open = (id) => html`<a class="button filled" href="#v/${visit.id}/d/${id}?how=${memory.how}">Open ${visit.byId.get(id).address}</a>`;
  const row = (body) => html`<div class="band"><div class="margin"></div><div class="body stack">${body}</div></div>`;
  if (found.is === "several") {
    return html`${told(`${found.hits.length} labels end so`, "Type more of it, or choose.")}${row(found.hits.filter((one) => one.is === "device").map((one) => html`<p class="row-form"><span class="mono grow">${sayCode(one.code)}</span>${open(one.device)}</p>`))}`;
  }
  if (found.is === "elsewhere") {
    return stop("Wrong building", html`This label hangs in <b>${found.building}</b>. You are on the visit of <b>${house}</b>. Nothing was entered.`);
  }
  if (found.is === "misread") return told("That code does not fit", html`${code} is not a code of ours: its last character checks the others. Compare it letter by letter.`);
  if (found.is === "retired") return told("This label is out of use", html`${code} was taken out of use on ${day(found.on)}. Put another label on.`);
  if (found.is === "disputed") {
    return html`${stop("Two devices claim this label", html`${code} was bound to ${found.devices.map((id) => visit.byId.get(id)?.address ?? "a device not on this visit").join(" and ")} by people apart. The office decides; until then open the device from the list.`)}${row(found.devices.filter((id) => visit.byId.has(id)).map(open))}`;
  }
  if (found.is === "outside") return told("Not on this visit", html`${code} hangs on <b>${found.address}</b> of ${house}, which this visit does not ask for.`);
  if (found.is === "same") return html`${told(`It hangs on ${memory.wanted.address} already`, html`${code}`)}${row(open(found.device))}`;
  if (found.is === "device") {
    const device = visit.byId.get(found.device);
    if (!memory.wanted) {
      const next = visit.byId.get(found.next);
      return html`${told(`${device.address} was taken down`, html`${code} still names the device that is gone.${next ? " If the label stayed on the base, bind it to the new one." : ""}`)}${next ? binding(ctx, next, true) : ""}`;
    }
    return html`${told(`It hangs on ${device.address}`, html`${code} names <b>${device.address} ${device.label}</b>. If it is on ${memory.wanted.address} now, say why.`)}${row(open(device.id))}${binding(ctx, memory.wanted, true)}`;
  }
  const head = told(found.is === "free" ? "A new label" : "This code is not known here", html`${code} ${found.is === "free" ? "hangs on no device yet." : "may be an older barcode, or a label of a building that this tablet does not hold."} ${memory.wanted ? "" : "Which device is it on?"}`);
  return html`${head}${memory.wanted ? binding(ctx, memory.wanted, false) : choosing(ctx)}`;
}

function binding({ memory }, device, needsReason) {
  return html`<form class="band" data-do="bind" data-device="${device.id}"><div class="margin address">${device.address}</div><div class="body stack">${memory.wrong ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${memory.wrong}</p>` : ""}<p><b>${device.label || "no place said"}</b></p>${needsReason ? html`<div class="field words"><label for="why">why it hangs elsewhere now</label><input id="why" name="reason" maxlength="200" value="${memory.reason ?? ""}"></div>` : ""}<button class="button filled" data-what="label of ${device.address}">It hangs on ${device.address}</button></div></form>`;
}

function choosing(ctx) {
  const { memory } = ctx;
  return html`<div class="band"><label class="margin count-margin" for="on">find</label><div class="body"><div class="field words"><input id="on" type="search" value="${memory.words ?? ""}" autocomplete="off" autocapitalize="off" spellcheck="false" aria-label="Address, place or serial of the device it is on"></div></div></div><div id="on-rows">${choices(ctx)}</div>`;
}

function choices({ visit, memory }) {
  const labels = Labels.of(visit);
  const rows = (memory.words ? search(visit, memory.words) : visit.devices.filter((one) => !labels.ofDevice(one.id).length))
    .filter((one) => !one.removed_on)
    .slice(0, MOST);
  if (!rows.length) return html`<div class="band"><div class="margin"></div><p class="body">No device of this visit fits “${memory.words ?? ""}”.</p></div>`;
  return html`<ul class="entries">${rows.map((one) => html`<li class="entry"><div class="margin"><span class="address">${one.address}</span></div><div class="entry-body"><div class="what"><p><b>${one.label || "no place said"}</b></p></div><div class="actions"><button class="button" data-do="choose" data-device="${one.id}" data-what="label of ${one.address}" aria-label="It hangs on ${one.address}">It is on this</button></div></div></li>`)}</ul>`;
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
    ctx.memory.wrong = "No code was seen on that photo. Come nearer, or type the last characters.";
    await ctx.redraw();
  }
}

async function bind(ctx, id, reason) {
  const { visit, memory } = ctx;
  const { code, replaces = [] } = memory.found;
  const device = visit.byId.get(id);
  await save(ctx, "bound", { device: id, body: { code, replaces, reason, words: sayCode(code) } });
  ctx.say(say`Label bound to ${device.address}, on this tablet.`);
  return ctx.go(`v/${visit.id}/d/${id}?how=${memory.how}`);
}

const actions = {
  typed(ctx, form) {
    const text = String(new FormData(form).get("code")).trim();
    ctx.memory.typed = text;
    const hits = Labels.of(ctx.visit).findTyped(text);
    ctx.memory.wrong = hits.length ? "" : say`Type at least the last ${TAIL} characters.`;
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
      ctx.memory.wrong = "Say why it hangs elsewhere now; the reason stays with the label.";
      return ctx.redraw();
    }
    return bind(ctx, form.dataset.device, String(said ?? "").trim());
  },
};
