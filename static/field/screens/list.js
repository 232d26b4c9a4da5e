// The devices in walking order: one area at a time, filters with counts, search as one types.
import { clock, day, glyph, html, rich, stateWord, strokes } from "../draw.js";
import { isScanned, Labels } from "../labels.js";
import { packed } from "../packed.js";
import { pass, takeBack } from "../saving.js";
import { many, t } from "../words.js";

const PAGE = 60; // rows written at once; the rest as one gets there

export function show(ctx) {
  const { visit } = ctx;
  const areas = visit.once("areas", () => areasOf(visit));
  const wanted = ctx.query.get("area") ?? areas.find((area) => area.waiting)?.id ?? "all";
  const area = areas.find((one) => one.id === wanted) ?? all(visit);
  const here = wanted === "all" ? visit.devices : visit.devices.filter((device) => (device.area || "none") === wanted);
  const filters = visit.once(`filters ${wanted}`, () => filtersOf(visit, here));
  const key = filters.has(ctx.query.get("show")) ? ctx.query.get("show") : "waiting";
  const words = ctx.memory.words ?? "";
  const rows = words ? search(visit, words) : (ctx.memory.rows ??= filters.get(key).devices);
  Object.assign(ctx.memory, { list: rows, many: PAGE, area: wanted, here });
  const link = (more) => `#v/${visit.id}?${new URLSearchParams({ area: wanted, show: key, ...more })}`;
  return {
    back: t("Visits"),
    backTo: "",
    place: `${visit.facts.building.name}, ${day(visit.facts.planned_on)}`,
    main: html`
      <div class="band page-head"><div class="margin"><p class="zone-name">${area.name}</p></div><div class="body"><div class="head-line"><h1>${area.about || (area.id === "all" ? t("Every zone") : area.name)}</h1>${areas.length > 1 ? html`<details class="choose"><summary class="other">${t("Other zone")}</summary><nav aria-label="${t("Zones")}"><ul class="lines">${[all(visit), ...areas].map((one) => html`<li><a href="${link({ area: one.id, show: "waiting" })}" ${one.id === wanted ? html`aria-current="true"` : ""}>${one.name}${one.about ? `, ${one.about}` : ""}</a> <span class="second">${one.waiting ? t("{n} of {all} not yet", { n: one.waiting, all: one.devices }) : t("all {n} done", { n: one.devices })}</span></li>`)}</ul></nav></details>` : ""}</div>${lede(visit, here, wanted)}</div></div>
      <div class="band measure" id="order">${order(ctx, here)}</div>
      <div class="band"><div class="margin"></div><div class="body"><nav class="posts filter" id="filters" aria-label="${t("Devices")}">${filterLinks(filters, key, words, link)}</nav></div></div>
      <form class="band find-form" role="search" data-do="nothing" ${ctx.memory.isFinding || words ? "" : html`hidden`} id="finder"><label class="margin count-margin" for="q">${t("find")}</label><div class="body row-form"><div class="field words grow"><input id="q" type="search" value="${words}" autocomplete="off" autocapitalize="off" spellcheck="false" aria-label="${t("Address, place, serial or label; its last characters will do")}"></div><button type="button" class="button" data-do="closeFind">${t("Show all")}</button></div></form>
      <div id="rows">${rowsOf(ctx, rows, words)}</div>`,
    deeds: html`<button class="button" data-do="find">${glyph("find")} ${t("Find")}</button><a class="button" href="#v/${visit.id}/scan">${t("Scan")}</a><a class="button" href="#v/${visit.id}/add?area=${wanted}">${t("Add device")}</a><a class="button" href="#v/${visit.id}/records">${t("Records")}</a>${visit.isHandedIn ? "" : visit.hasBegun ? html`<a class="button filled" href="#v/${visit.id}/finish">${t("Finish")}</a>` : html`<a class="button filled" href="#v/${visit.id}/begin">${t("Begin")}</a>`}`,
    actions,
    onInput,
    after: (root) => watchEnd(ctx, root),
  };
}

function lede(visit, here, area) {
  const counts = visit.once(`counts ${area}`, () => visit.counts(here));
  const others = visit.others.length > 0;
  const rest = [
    many("{n} pass", "{n} pass", counts.pass),
    many("{n} fail", "{n} fail", counts.fail),
    counts.two_results ? t("{n} with two results", { n: counts.two_results }) : "",
    many("{n} not tested with a reason", "{n} not tested with a reason", counts.explained),
  ].filter(Boolean);
  const known = { n: counts.waiting, all: counts.devices, here: counts.here };
  let first = rich("<b>{n} of {all} not tested yet.</b>", known);
  if (others && visit.cursor.at) {
    known.time = clock(visit.cursor.at, visit.facts.building.time_zone);
    first = rich("<b>{n} of {all} not tested yet</b> by anyone as known at {time}; <b>{here} here.</b>", known);
  } else if (others) first = rich("<b>{n} of {all} not tested yet</b> by anyone; <b>{here} here.</b>", known);
  const line = html`<p>${first} <span class="second">${rest.join(", ")}.</span></p>`;
  const begin = html`<a href="#v/${visit.id}/begin">${t("Read the cautions and begin")}</a>`;
  return html`<div id="counts">${visit.facts.sent_back ? html`<p class="answer small">${t("Sent back: {why}", { why: visit.facts.sent_back })}</p>` : ""}${visit.isHandedIn ? html`<p class="answer small">${t("This visit is handed in. What is entered now is shown to the office as late.")}</p>` : ""}${visit.hasBegun ? "" : html`<p>${rich("This visit has not begun. {begin}.", { begin })}</p>`}${visit.bypassed.length ? html`<p class="tone-ochre"><b>${t("{n} bypassed or disconnected:", { n: visit.bypassed.length })}</b> ${visit.bypassed.map((one) => one.body.where).join("; ")}. <a href="#v/${visit.id}/records">${t("Restore")}</a></p>` : ""}${line}</div>`;
}

function order(ctx, here) {
  const { visit } = ctx;
  const room = ctx.room();
  const drawn = visit.once(`order ${ctx.memory.area} ${room}`, () => {
    const states = here.map((device) => {
      const state = visit.state(device.id);
      if (state.missing.length) return "later";
      return state.isReplaced ? "not_tested" : state.outcome;
    });
    return strokes(states, { here: states.indexOf("later"), room });
  });
  return html`<div class="margin measure-margin">${t("walking order")}</div><div class="body">${drawn}</div>`;
}

const all = (visit) => ({
  id: "all",
  name: t("All"),
  about: "",
  devices: visit.devices.length,
  waiting: visit.once("counts all", () => visit.counts()).waiting,
});

function areasOf(visit) {
  const found = new Map();
  for (const device of visit.devices) {
    const id = device.area || "none";
    if (!found.has(id)) {
      const area = visit.areas.get(id);
      found.set(id, { id, name: area?.name ?? t("No zone"), about: area?.about ?? "", devices: 0, waiting: 0 });
    }
    const one = found.get(id);
    one.devices += 1;
    if (!visit.isDone(device.id)) one.waiting += 1;
  }
  return [...found.values()];
}

function filtersOf(visit, here) {
  const kinds = new Map(visit.rules.kinds);
  const found = new Map();
  const put = (key, words, devices) => found.set(key, { words, devices });
  put("waiting", t("not yet"), here.filter((device) => !visit.isDone(device.id)));
  put("all", t("all"), here);
  if (visit.others.length) put("here", t("not yet here"), here.filter((device) => !visit.state(device.id).isMine));
  const present = [...new Set(here.map((device) => device.kind))];
  if (present.length > 1) {
    for (const kind of present) put(kind, packed(kinds.get(kind) ?? kind), here.filter((device) => device.kind === kind));
  }
  put("two", t("two results"), here.filter((device) => visit.state(device.id).outcome === "two_results"));
  put("failed", t("fail"), here.filter((device) => visit.state(device.id).outcome === "fail"));
  put("finding", t("failed last time"), here.filter((device) => device.failed));
  put("new", t("new or moved"), here.filter((device) => device.new || device.isNewHere));
  put("nowhere", t("no place said"), here.filter((device) => !device.label));
  const labels = Labels.of(visit);
  put("unlabelled", t("no label"), here.filter((device) => !device.removed_on && !labels.ofDevice(device.id).length));
  return found;
}

function filterLinks(filters, key, words, link) {
  return [...filters].map(([name, one]) => {
    if (!one.devices.length && !["waiting", "all"].includes(name)) return "";
    const isNow = name === key && !words;
    return html`<a href="${link({ show: name })}" ${isNow ? html`aria-current="true"` : ""}>${one.words}${name === "all" ? " " : ", "}${one.devices.length}</a>`;
  });
}

const fold = (text) => text.toLowerCase();

// By words of its address, place and serial, or by its label: scanned, typed, or the last characters.
export function search(visit, words) {
  const asked = fold(words).split(/\s+/).filter(Boolean);
  const labelled = new Set(Labels.of(visit).findTyped(words).flatMap((one) => one.devices ?? one.device ?? []));
  return visit.devices.filter((device) => {
    device.said ??= fold(`${device.address} ${device.label} ${device.serial}`);
    return labelled.has(device.id) || asked.every((word) => device.said.includes(word));
  });
}

function rowsOf(ctx, rows, words) {
  const { visit } = ctx;
  if (rows.length) {
    return html`<ul class="entries" id="list">${rows.slice(0, ctx.memory.many).map((device) => row(visit, device))}</ul><p id="more" ${rows.length > ctx.memory.many ? "" : html`hidden`} class="band"><span class="margin"></span><span class="body second">${t("{n} more below", { n: rows.length - ctx.memory.many })}</span></p>`;
  }
  let said = t("No device here is of that kind.");
  if (words) said = t("No device of this visit has “{words}” in its address, place, serial or label.", { words });
  else if (ctx.memory.here.every((device) => visit.isDone(device.id))) said = t("Every device here has a result or a reason.");
  return html`<div class="band"><div class="margin"></div><div class="body empty"><p class="said"><b>${said}</b></p></div></div>`;
}

export function row(visit, device) {
  const state = visit.state(device.id);
  const isDone = state.missing.length === 0;
  const waits = state.missing.filter((task) => task !== "sensitivity").map((task) => packed(visit.rules.tasks[task]));
  const toRead = state.missing.includes("sensitivity");
  const kind = packed(new Map(visit.rules.kinds).get(device.kind) ?? device.kind);
  const about = [
    kind,
    device.removed_on ? t("taken down") : "",
    toRead && (waits.length ? t("needs a reading and a test") : t("needs a reading")),
    !toRead && waits.length && state.isMine && t("{tasks} not yet", { tasks: waits.join(", ") }),
    device.failed && !isDone ? t("failed last time") : "",
  ].filter(Boolean);
  const undo = isDone && !state.isReplaced ? state.standing.filter((one) => one.isMine && one.kind === "result").map((one) => one.id) : [];
  const attention = state.said.some((one) => one.row?.answer === "review");
  return html`<li class="entry" data-row="${device.id}"><div class="margin"><a class="address" href="#v/${visit.id}/d/${device.id}">${device.address}</a></div><div class="entry-body"><div class="what"><p><b>${device.label || t("no place said")}</b></p><p class="second">${about.join(", ")}</p>${isDone ? html`<p>${shownState(state)} ${state.reason ? html`<span class="second">${packed(state.reason)}</span>` : ""}</p>` : ""}${attention ? html`<p>${stateWord("needs_attention", t("for review by the office"))}</p>` : ""}</div><div class="actions">${isDone ? html`${undo.length ? html`<button class="button" data-do="undo" data-device="${device.id}" data-ids="${undo.join(" ")}" aria-label="${t("Undo {address}", device)}">${t("Undo")}</button>` : ""}<a class="button" href="#v/${visit.id}/d/${device.id}" aria-label="${t("Open {address}", device)}">${t("Open")}</a>` : html`<a class="button" href="#v/${visit.id}/d/${device.id}/other" aria-label="${t("Other result of {address}", device)}">${t("Other")}</a>${toRead ? html`<a class="button strong" href="#v/${visit.id}/d/${device.id}" aria-label="${t("Read {address}", device)}">${t("Read")}</a>` : html`<button class="button strong" data-do="pass" data-device="${device.id}" data-what="${t("{address} pass", device)}" aria-label="${t("Pass {address}", device)}">${glyph("pass")} ${t("Pass")}</button>`}`}</div></div></li>`;
}

export function shownState(state) {
  if (state.isReplaced) return stateWord("not_tested", t("replaced"));
  const head = state.standing.filter((one) => one.kind === "reading").at(-1);
  const verdict = head?.judged?.state;
  if (state.outcome === "pass" && verdict && verdict !== "not_judged") return stateWord(verdict);
  const twice = [...state.tasks.values()].some((task) => ["pass", "fail"].includes(task.outcome) && task.shown.length > 1);
  return html`${stateWord(state.outcome)}${twice ? html` <span class="second">${t("confirmed twice")}</span>` : ""}`;
}

// After a save only what has changed is written anew: the row, the counts, the order.
function refresh(ctx, id) {
  const { visit } = ctx;
  const element = document.querySelector(`[data-row="${id}"]`);
  if (element) element.outerHTML = String(row(visit, visit.byId.get(id)));
  const { here } = ctx.memory;
  document.getElementById("counts").outerHTML = String(lede(visit, here, ctx.memory.area));
  document.getElementById("order").innerHTML = String(order(ctx, here));
}

function onInput(ctx, event) {
  if (event.target.id !== "q") return;
  ctx.memory.words = event.target.value.trim();
  ctx.memory.many = PAGE;
  const rows = ctx.memory.words ? search(ctx.visit, ctx.memory.words) : ctx.memory.rows;
  ctx.memory.list = rows;
  document.getElementById("rows").innerHTML = String(rowsOf(ctx, rows, ctx.memory.words));
  watchEnd(ctx, document.getElementById("main"));
}

let watcher = null;
function watchEnd(ctx, root) {
  watcher?.disconnect();
  const end = root.querySelector("#more");
  if (!end || end.hidden) return;
  watcher = new IntersectionObserver((seen) => {
    if (!seen.some((one) => one.isIntersecting)) return;
    const from = ctx.memory.many;
    ctx.memory.many += PAGE;
    const added = ctx.memory.list.slice(from, ctx.memory.many).map((device) => String(row(ctx.visit, device)));
    root.querySelector("#list").insertAdjacentHTML("beforeend", added.join(""));
    end.hidden = ctx.memory.list.length <= ctx.memory.many;
    end.querySelector(".second").textContent = t("{n} more below", { n: ctx.memory.list.length - ctx.memory.many });
  }, { rootMargin: "600px" });
  watcher.observe(end);
}

const actions = {
  async pass(ctx, element) {
    if (!ctx.visit.hasBegun) return ctx.go(`v/${ctx.visit.id}/begin`);
    const id = element.dataset.device;
    await pass(ctx, id);
    refresh(ctx, id);
    return ctx.say(t("{address} pass, on this tablet.", ctx.visit.byId.get(id)));
  },
  async undo(ctx, element) {
    const id = element.dataset.device;
    await takeBack(ctx, id, element.dataset.ids.split(" "));
    refresh(ctx, id);
    ctx.say(t("{address} taken back.", ctx.visit.byId.get(id)));
  },
  find(ctx) {
    ctx.memory.isFinding = true;
    const finder = document.getElementById("finder");
    finder.hidden = false;
    finder.querySelector("input").focus();
    finder.scrollIntoView({ block: "start" });
  },
  closeFind(ctx) {
    ctx.memory.words = "";
    ctx.memory.isFinding = false;
    return ctx.redraw();
  },
  // A scanner that types ends with Enter: one hit is opened; of another label it is said what it is.
  nothing(ctx) {
    const { list: found, words } = ctx.memory;
    if (!words) return;
    const hits = Labels.of(ctx.visit).findTyped(words);
    const isLabel = hits.length > 0 && hits[0].is !== "unknown";
    if (found.length === 1) {
      const how = isLabel && found[0].id === hits[0].device ? `?how=${isScanned(words) ? "scanned" : "typed"}` : "";
      ctx.go(`v/${ctx.visit.id}/d/${found[0].id}${how}`);
    } else if (isLabel || isScanned(words)) ctx.go(`v/${ctx.visit.id}/scan?typed=${encodeURIComponent(words)}`);
  },
};

