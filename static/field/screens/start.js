// The first screen: sign in, enrol this tablet, and the visits that are on it or could be.
import * as store from "../store.js";
import * as sync from "../sync.js";
import { hasPin, lock, setPin } from "../lock.js";
import { packed } from "../packed.js";
import { saveSealed } from "../sealed.js";
import { clock, day, dayAndClock, glyph, html, rich, stateWord } from "../draw.js";
import { many, said as say, sayError, t } from "../words.js";

const ROOM = 3e6; // three times what a photo takes at most, commonly
let known = { visits: null, at: null, problem: "" };

export async function show(ctx) {
  const tablet = await store.get("tablet");
  const me = await store.get("me");
  if (!tablet || sync.state.signIn || ctx.memory.isSigningIn) return signIn(ctx, tablet);
  const packs = await store.listPacks();
  if (known.visits === null && sync.state.isOnline && !ctx.memory.asked) {
    ctx.memory.asked = true;
    loadVisits(ctx);
  }
  const held = new Set(packs.map((pack) => pack.visit));
  const rest = (known.visits ?? []).filter((visit) => !held.has(visit.id));
  const restored = await store.get("restored");
  return {
    back: t("Tablet"),
    backTo: "",
    place: `${tablet.name}, ${me?.name ?? ""}`,
    title: t("Visits"),
    main: html`
      ${sync.state.over ? html`<div class="band"><div class="margin"></div><p class="body answer">${sync.state.over === "revoked" ? t("The office has revoked this tablet.") : t("You have no access to this firm any more.")} ${t("What is still on it goes to the office for review.")}</p></div>` : ""}
      ${head(t("Visits"), t("on this tablet"))}
      ${packs.length ? html`<ul class="entries">${await Promise.all(packs.map(held_))}</ul>` : band(html`<p>${t("No visit is on this tablet. Take one along while there is signal.")}</p>`)}
      ${restored ? band(html`<p class="note">${t("On {time} the server was found to have been restored from a backup. Everything on this tablet was offered again.", { time: dayAndClock(restored) })}</p>`) : ""}
      ${band(html`<h2 class="section-head">${known.at ? t("To take along, as known at {time}", { time: clock(known.at) }) : t("To take along")}</h2>`)}
      ${rest.length ? html`<ul class="entries headed">${rest.map(offered)}</ul>` : band(html`<p>${known.problem || (known.visits === null ? (sync.state.isOnline ? t("Asking the server.") : t("There is no signal. What is on this tablet works without it.")) : t("No other visit is planned."))}</p>`)}
      ${ctx.memory.isAsking ? signOutChoices(ctx) : ""}
      ${ctx.memory.isSettingPin ? pinForm() : ""}
      ${band(html`<div class="row-form"><button class="button" data-do="lock">${t("Lock")}</button><button class="button" data-do="theme">${document.documentElement.dataset.theme === "dark" ? t("Light") : t("Dark")}</button><button class="button" data-do="hand">${document.documentElement.dataset.hand === "left" ? t("Right hand") : t("Left hand")}</button><button class="button" data-do="rescue">${t("Save rescue file")}</button>${sync.state.isOnline ? html`<a class="button" href="/language/">${t("Language")}</a>` : ""}<button class="button" data-do="signOut">${t("Sign out")}</button></div>`)}`,
    deeds: html`<button class="button" data-do="refresh">${t("Ask the server")}</button>${packs.length ? html`<a class="button filled" href="#v/${packs[0].visit}">${t("Go to {building}", { building: JSON.parse(packs[0].parts.visit).building.name })}</a>` : ""}`,
    actions,
  };
}

const band = (inner, margin = "") => html`<div class="band"><div class="margin">${margin}</div><div class="body">${inner}</div></div>`;
const head = (title, margin) => html`<div class="band page-head"><div class="margin"><p>${margin}</p></div><div class="body"><h1>${title}</h1></div></div>`;

async function held_(pack) {
  const facts = JSON.parse(pack.parts.visit);
  const rows = await store.listEntries(pack.visit);
  const unsent = rows.filter((row) => row.state === "on_tablet").length;
  const attention = rows.filter((row) => row.state !== "on_tablet" && row.answer === "review").length;
  return html`<li class="entry"><div class="margin"><b>${day(facts.planned_on)}</b></div><div class="entry-body"><div class="what"><p><b>${facts.building.name}</b></p><p class="second">${facts.building.address}</p><p>${badge(pack)}</p><p>${unsent ? stateWord("on_tablet", t("{n} on this tablet", { n: unsent })) : stateWord("sent", many("{n} sent", "{n} sent", rows.length))} ${attention ? stateWord("needs_attention", t("{n} for review by the office", { n: attention })) : ""}</p></div><div class="actions"><button class="button" data-do="renew" data-visit="${pack.visit}" aria-label="${t("Renew the pack of {building}", { building: facts.building.name })}">${t("Renew")}</button><a class="button strong" href="#v/${pack.visit}">${t("Open")}</a></div></div></li>`;
}

function badge(pack) {
  const { ready } = pack;
  const devices = JSON.parse(pack.parts.devices).length;
  const bytes = ready?.size ?? 0;
  const size = bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
  const { most = 60 } = JSON.parse(pack.parts.rules).photos ?? {};
  if (!ready) return html`${stateWord("needs_attention", t("being checked"))}`;
  if (ready.wrong.length) return html`${stateWord("needs_attention", t("Not ready for no signal"))} <span class="second">${t("Could not be read back: {what}. Renew it.", { what: ready.wrong.map((one) => say([one].flat())).join(", ") })}</span>`;
  const over = Date.parse(pack.manifest.ends_at) < Date.now();
  return html`${over ? stateWord("needs_attention", t("Pack is old")) : stateWord("pass", t("Ready for no signal"))} <span class="second">${many("{n} device, {size}, until {time}.", "{n} devices, {size}, until {time}.", devices, { size, time: dayAndClock(Date.parse(pack.manifest.ends_at)) })} ${ready.isProtected ? t("Storage: protected.") : t("Storage: not protected by this browser; send often.")}${ready.free < ROOM * most ? html` <b>${t("Only {n} MB are free: photos may not fit.", { n: Math.floor(ready.free / 1e6) })}</b>` : ""}</span>`;
}

const offered = (visit) => html`<li class="entry"><div class="margin"><b>${day(visit.planned_on)}</b></div><div class="entry-body"><div class="what"><p><b>${visit.building}</b></p><p class="second">${many("{tasks}, {n} device.", "{tasks}, {n} devices.", visit.devices, { tasks: visit.tasks.split(", ").map(packed).join(", ") })} ${visit.mine ? html`<b>${t("Yours.")}</b>` : ""} ${visit.people.join(", ")}</p></div><div class="actions"><button class="button strong" data-do="take" data-visit="${visit.id}" aria-label="${t("Take {building} along", { building: visit.building })}">${t("Take along")}</button></div></div></li>`;

async function loadVisits(ctx) {
  try {
    known = { visits: await sync.listVisits(), at: Date.now(), problem: "" };
  } catch (error) {
    known = { ...known, problem: error instanceof sync.Refused ? sayError(error) : "" };
  }
  ctx.news();
}

function signIn(ctx, tablet) {
  const { who, said, unsent = sync.state.unsent } = ctx.memory;
  if (who === undefined) {
    ctx.memory.who = null;
    sync
      .refreshToken()
      .then((found) => {
        ctx.memory.who = found;
        ctx.news();
      })
      .catch(() => {
        ctx.memory.said = t("The server does not answer. Sign in once there is signal.");
        ctx.news();
      });
  }
  const wrong = said ? html`<p class="wrong-text" role="alert">${glyph("fail")} ${said}</p>` : "";
  const isIn = who?.signed_in;
  const form = isIn
    ? html`<form class="form" data-do="enrol"><p>${rich("You are signed in as <b>{name}</b>. The office makes a code for this tablet under <b>Tablets</b>.", { name: who.name })}</p>${wrong}${who.firms.length > 1 ? html`<div class="field words"><label for="firm">${t("firm")}</label><select id="firm" name="firm">${who.firms.map((firm) => html`<option>${firm}</option>`)}</select></div>` : html`<input type="hidden" name="firm" value="${who.firms[0] ?? ""}">`}<div class="field"><label for="code">${t("code of eight digits")}</label><input id="code" name="code" inputmode="numeric" autocomplete="one-time-code" maxlength="12" required></div><button class="button filled">${t("Enrol this tablet")}</button></form>`
    : html`<form class="form" data-do="signIn">${tablet ? html`<p><b>${many("Sign in to send {n} entry.", "Sign in to send {n} entries.", unsent)}</b> ${t("They stay on this tablet until then; you can carry on without.")}</p>` : html`<p>${t("Sign in, then enrol this tablet with the office's code.")}</p>`}${wrong}<div class="field words"><label for="login">${t("mail address")}</label><input id="login" name="login" type="email" autocomplete="username" required></div><div class="field words"><label for="password">${t("password")}</label><input id="password" name="password" type="password" autocomplete="current-password" required></div><button class="button filled">${t("Sign in")}</button></form>`;
  return {
    back: tablet ? t("Visits") : "Driftbook",
    backTo: "",
    place: tablet?.name ?? t("This tablet is not enrolled"),
    title: t("Sign in"),
    main: html`${head(isIn && !tablet ? t("Enrol this tablet") : t("Sign in"), "")}${band(form)}`,
    deeds: tablet ? html`<button class="button" data-do="later">${t("Carry on without")}</button>` : "",
    actions,
  };
}

const signOutChoices = () => html`<section class="band"><div class="margin count-margin">${glyph("needs_attention")}</div><div class="body"><h2 class="section-head">${many("{n} entry is only on this tablet", "{n} entries are only on this tablet", sync.state.unsent)}</h2><div class="row-form"><button class="button" data-do="sendNow">${t("Send now")}</button><button class="button" data-do="rescue">${t("Save sealed file")}</button><button class="button" data-do="reallySignOut">${t("Sign out, keep them here")}</button><button class="button" data-do="stay">${t("Stay signed in")}</button></div></div></section>`;

const pinForm = () => html`<form class="band" data-do="setPin"><div class="margin"></div><div class="body row-form"><div class="field"><label for="new-pin">${t("choose a number of 4 digits or more")}</label><input id="new-pin" name="pin" inputmode="numeric" pattern="[0-9]{4,12}" autocomplete="off" required></div><button class="button filled">${t("Lock with it")}</button></div></form>`;

function choose(key, value) {
  const root = document.documentElement;
  if (value) root.dataset[key] = value;
  else delete root.dataset[key];
  document.cookie = `${key}=${value}; path=/; max-age=${value ? 31536000 : 0}; samesite=lax`;
}

export const actions = {
  async refresh(ctx) {
    await sync.run();
    if (!sync.state.signIn) await loadVisits(ctx);
  },
  async take(ctx, element) {
    ctx.say(t("Taking the visit along."));
    await sync.takeAlong(element.dataset.visit);
    sync.trySoon(0);
    await ctx.redraw();
  },
  async renew(ctx, element) {
    await sync.takeAlong(element.dataset.visit);
    sync.trySoon(0);
    await ctx.redraw();
  },
  async signIn(ctx, form) {
    const body = new FormData(form);
    if (!sync.token()) await sync.refreshToken(); // pressed before the server's first word came
    const answer = await fetch("/accounts/login/", {
      method: "POST",
      body,
      headers: { "X-Requested-With": "XMLHttpRequest", "X-CSRFToken": sync.token(), Accept: "application/json" },
    });
    if (answer.ok) {
      sync.state.signIn = false;
      ctx.memory.isSigningIn = false;
      ctx.memory.said = "";
      ctx.memory.who = undefined;
      if (await store.get("tablet")) await sync.run();
    } else {
      const said = await answer.json().catch(() => null);
      const fields = said?.form?.fields ?? {};
      const texts = [...(said?.form?.errors ?? []), ...Object.values(fields).flatMap((field) => field.errors ?? [])];
      ctx.memory.said = texts[0] ?? t("The sign-in was not taken. Try again.");
      ctx.memory.who = undefined;
    }
    await (answer.ok ? ctx.redraw() : ctx.news());
  },
  async enrol(ctx, form) {
    const body = new FormData(form);
    try {
      const said = await sync.enrol(body.get("firm"), body.get("code"));
      await store.set("tablet", { id: said.tablet, key: said.key, name: said.name, firm: body.get("firm") });
      await store.set("me", { id: said.member, name: said.member_name });
      ctx.memory.said = "";
      await sync.run();
    } catch (error) {
      ctx.memory.said = sayError(error);
      return ctx.news();
    }
    return ctx.redraw();
  },
  async later(ctx) {
    sync.state.signIn = false;
    ctx.memory.isSigningIn = false;
    await ctx.redraw();
  },
  async lock(ctx) {
    if (await hasPin()) return lock();
    ctx.memory.isSettingPin = true;
    return ctx.redraw();
  },
  async setPin(ctx, form) {
    await setPin(new FormData(form).get("pin"));
    ctx.memory.isSettingPin = false;
    await ctx.redraw();
    await lock();
  },
  async theme(ctx) {
    choose("theme", document.documentElement.dataset.theme === "dark" ? "light" : "dark");
    await ctx.redraw();
  },
  async hand(ctx) {
    choose("hand", document.documentElement.dataset.hand === "left" ? "" : "left");
    await ctx.redraw();
  },
  rescue: () => saveSealed(),
  async signOut(ctx) {
    sync.state.unsent = await store.countUnsent();
    if (!sync.state.unsent) return actions.reallySignOut(ctx);
    ctx.memory.isAsking = true;
    return ctx.redraw();
  },
  async sendNow(ctx) {
    await sync.run();
    if (!(await store.countUnsent())) await actions.reallySignOut(ctx);
    else await ctx.redraw();
  },
  async stay(ctx) {
    ctx.memory.isAsking = false;
    await ctx.redraw();
  },
  async reallySignOut(ctx) {
    await sync.refreshToken();
    await fetch("/accounts/logout/", { method: "POST", headers: { "X-CSRFToken": sync.token() }, redirect: "manual" });
    ctx.memory.isAsking = false;
    ctx.memory.isSigningIn = true;
    ctx.memory.who = undefined;
    await ctx.redraw();
  },
};
