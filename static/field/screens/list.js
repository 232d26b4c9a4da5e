// The devices in walking order: one area at a time, filters with counts, search as one types.
import { clock, day, glyph, html, say, stateWord, strokes } from "../draw.js";
import { isScanned, Labels } from "../labels.js";
import { pass, takeBack } from "../saving.js";

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
    back: "Visits",
    backTo: "",
    place: `${visit.facts.building.name}, ${day(visit.facts.planned_on)}`,
    main: html`
      <div class="band page-head"><div class="margin"><p class="zone-name">${area.name}</p></div><div class="body"><div class="head-line"><h1>${area.about || (area.id === "all" ? "Every zone" : area.name)}</h1>${areas.length > 1 ? html`<details class="choose"><summary class="other">Other zone</summary><nav aria-label="Zones"><ul class="lines">${[all(visit), ...areas].map((one) => html`<li><a href="${link({ area: one.id, show: "waiting" })}" ${one.id === wanted ? html`aria-current="true"` : ""}>${one.name}${one.about ? `, ${one.about}` : ""}</a> <span class="second">${one.waiting ? `${one.waiting} of ${one.devices} not yet` : `all ${one.devices} done`}</span></li>`)}</ul></nav></details>` : ""}</div>${lede(visit, here, wanted)}</div></div>
      <div class="band measure" id="order">${order(ctx, here)}</div>
      <div class="band"><div class="margin"></div><div class="body"><nav class="posts filter" id="filters" aria-label="Devices">${filterLinks(filters, key, words, link)}</nav></div></div>
      <form class="band find-form" role="search" data-do="nothing" ${ctx.memory.isFinding || words ? "" : html`hidden`} id="finder"><label class="margin count-margin" for="q">find</label><div class="body row-form"><div class="field words grow"><input id="q" type="search" value="${words}" autocomplete="off" autocapitalize="off" spellcheck="false" aria-label="Address, place, serial or label; its last characters will do"></div><button type="button" class="button" data-do="closeFind">Show all</button></div></form>
      <div id="rows">${rowsOf(ctx, rows, words)}</div>`,
    deeds: html`<button class="button" data-do="find">${glyph("find")} Find</button><a class="button" href="#v/${visit.id}/scan">Scan</a><a class="button" href="#v/${visit.id}/add?area=${wanted}">Add device</a><a class="button" href="#v/${visit.id}/records">Records</a>${visit.isHandedIn ? "" : visit.hasBegun ? html`<a class="button filled" href="#v/${visit.id}/finish">Finish</a>` : html`<a class="button filled" href="#v/${visit.id}/begin">Begin</a>`}`,
    actions,
    onInput,
    after: (root) => watchEnd(ctx, root),
  };
}

function lede(visit, here, area) {
  const counts = visit.once(`counts ${area}`, () => visit.counts(here));
  const known = visit.cursor.at ? say` as known at ${clock(visit.cursor.at, visit.facts.building.time_zone)}` : "";
  const others = visit.others.length > 0;
  const rest = [
    say`${counts.pass} pass`,
    say`${counts.fail} fail`,
    counts.two_results ? say`${counts.two_results} with two results` : "",
    say`${counts.explained} not tested with a reason`,
  ].filter(Boolean);
  const line = others
    ? html`<p><b>${counts.waiting} of ${counts.devices} not tested yet</b> by anyone${known}; <b>${counts.here} here.</b> <span class="second">${rest.join(", ")}.</span></p>`
    : html`<p><b>${counts.waiting} of ${counts.devices} not tested yet.</b> <span class="second">${rest.join(", ")}.</span></p>`;
  return html`<div id="counts">${visit.facts.sent_back ? html`<p class="answer small">Sent back: ${visit.facts.sent_back}</p>` : ""}${visit.isHandedIn ? html`<p class="answer small">This visit is handed in. What is entered now is shown to the office as late.</p>` : ""}${visit.hasBegun ? "" : html`<p>This visit has not begun. <a href="#v/${visit.id}/begin">Read the cautions and begin</a>.</p>`}${visit.bypassed.length ? html`<p class="tone-ochre"><b>${visit.bypassed.length} bypassed or disconnected:</b> ${visit.bypassed.map((one) => one.body.where).join("; ")}. <a href="#v/${visit.id}/records">Restore</a></p>` : ""}${line}</div>`;
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
  return html`<div class="margin measure-margin">walking order</div><div class="body">${drawn}</div>`;
}

const all = (visit) => ({
  id: "all",
  name: "All",
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
      found.set(id, { id, name: area?.name ?? "No zone", about: area?.about ?? "", devices: 0, waiting: 0 });
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
  put("waiting", "not yet", here.filter((device) => !visit.isDone(device.id)));
  put("all", "all", here);
  if (visit.others.length) put("here", "not yet here", here.filter((device) => !visit.state(device.id).isMine));
  const present = [...new Set(here.map((device) => device.kind))];
  if (present.length > 1) {
    for (const kind of present) put(kind, kinds.get(kind) ?? kind, here.filter((device) => device.kind === kind));
  }
  put("two", "two results", here.filter((device) => visit.state(device.id).outcome === "two_results"));
  put("failed", "fail", here.filter((device) => visit.state(device.id).outcome === "fail"));
  put("finding", "failed last time", here.filter((device) => device.failed));
  put("new", "new or moved", here.filter((device) => device.new || device.isNewHere));
  put("nowhere", "no place said", here.filter((device) => !device.label));
  const labels = Labels.of(visit);
  put("unlabelled", "no label", here.filter((device) => !device.removed_on && !labels.ofDevice(device.id).length));
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
    return html`<ul class="entries" id="list">${rows.slice(0, ctx.memory.many).map((device) => row(visit, device))}</ul><p id="more" ${rows.length > ctx.memory.many ? "" : html`hidden`} class="band"><span class="margin"></span><span class="body second">${rows.length - ctx.memory.many} more below</span></p>`;
  }
  let said = "No device here is of that kind.";
  if (words) said = say`No device of this visit has “${words}” in its address, place, serial or label.`;
  else if (ctx.memory.here.every((device) => visit.isDone(device.id))) said = "Every device here has a result or a reason.";
  return html`<div class="band"><div class="margin"></div><div class="body empty"><p class="said"><b>${said}</b></p></div></div>`;
}

export function row(visit, device) {
  const state = visit.state(device.id);
  const isDone = state.missing.length === 0;
  const waits = state.missing.filter((task) => task !== "sensitivity").map((task) => visit.rules.tasks[task]);
  const toRead = state.missing.includes("sensitivity");
  const kind = new Map(visit.rules.kinds).get(device.kind) ?? device.kind;
  const about = [
    kind,
    device.removed_on ? "taken down" : "",
    toRead ? say`needs a reading${waits.length ? " and a test" : ""}` : waits.length && state.isMine ? say`${waits.join(", ")} not yet` : "",
    device.failed && !isDone ? "failed last time" : "",
  ].filter(Boolean);
  const undo = isDone && !state.isReplaced ? state.standing.filter((one) => one.isMine && one.kind === "result").map((one) => one.id) : [];
  const attention = state.said.some((one) => one.row?.answer === "review");
  return html`<li class="entry" data-row="${device.id}"><div class="margin"><a class="address" href="#v/${visit.id}/d/${device.id}">${device.address}</a></div><div class="entry-body"><div class="what"><p><b>${device.label || "no place said"}</b></p><p class="second">${about.join(", ")}</p>${isDone ? html`<p>${shownState(state)} ${state.reason ? html`<span class="second">${state.reason}</span>` : ""}</p>` : ""}${attention ? html`<p>${stateWord("needs_attention", "for review by the office")}</p>` : ""}</div><div class="actions">${isDone ? html`${undo.length ? html`<button class="button" data-do="undo" data-device="${device.id}" data-ids="${undo.join(" ")}" aria-label="Undo ${device.address}">Undo</button>` : ""}<a class="button" href="#v/${visit.id}/d/${device.id}" aria-label="Open ${device.address}">Open</a>` : html`<a class="button" href="#v/${visit.id}/d/${device.id}/other" aria-label="Other result of ${device.address}">Other</a>${toRead ? html`<a class="button strong" href="#v/${visit.id}/d/${device.id}" aria-label="Read ${device.address}">Read</a>` : html`<button class="button strong" data-do="pass" data-device="${device.id}" data-what="${device.address} pass" aria-label="Pass ${device.address}">${glyph("pass")} Pass</button>`}`}</div></div></li>`;
}

export function shownState(state) {
  if (state.isReplaced) return stateWord("not_tested", "replaced");
  const head = state.standing.filter((one) => one.kind === "reading").at(-1);
  const verdict = head?.judged?.state;
  if (state.outcome === "pass" && verdict && verdict !== "not_judged") return stateWord(verdict);
  const twice = [...state.tasks.values()].some((task) => ["pass", "fail"].includes(task.outcome) && task.shown.length > 1);
  return html`${stateWord(state.outcome)}${twice ? html` <span class="second">confirmed twice</span>` : ""}`;
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
    end.querySelector(".second").textContent = say`${ctx.memory.list.length - ctx.memory.many} more below`;
  }, { rootMargin: "600px" });
  watcher.observe(end);
}

const actions = {
  async pass(ctx, element) {
    if (!ctx.visit.hasBegun) return ctx.go(`v/${ctx.visit.id}/begin`);
    const id = element.dataset.device;
    await pass(ctx, id);
    refresh(ctx, id);
    return ctx.say(say`${ctx.visit.byId.get(id).address} pass, on this tablet.`);
  },
  async undo(ctx, element) {
    const id = element.dataset.device;
    await takeBack(ctx, id, element.dataset.ids.split(" "));
    refresh(ctx, id);
    ctx.say(say`${ctx.visit.byId.get(id).address} taken back.`);
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

