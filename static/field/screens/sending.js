// Where the work is: every entry by its state, and what to do about it.
import * as store from "../store.js";
import * as sync from "../sync.js";
import { saveSealed } from "../sealed.js";
import { clock, dayAndClock, glyph, html, rich, strokes, wordOf } from "../draw.js";
import { many, t } from "../words.js";
import { headOf, textOf, whereIs } from "./device.js";

const MOST = 60;

export async function show(ctx) {
  const { visit } = ctx;
  const { state } = sync;
  const rows = visit.mine;
  const unsent = rows.filter((row) => row.state === "on_tablet").length;
  const review = rows.filter((row) => row.state !== "on_tablet" && row.answer === "review");
  const sent = rows.length - unsent - review.length;
  const named = new Set(rows.flatMap((row) => row.entry.photos.map((photo) => photo.sha256)));
  const blobs = (await store.listBlobs()).filter((blob) => named.has(blob.sha256));
  const zone = visit.facts.building.time_zone;
  const contact = state.at ?? (await store.get("contact"))?.at;
  const isProtected = await store.get("protected");
  const head = state.signIn
    ? [t("Sign in to send"), many("{n} entry waits on this tablet. Carry on: nothing is lost, and all goes once you have signed in.", "{n} entries wait on this tablet. Carry on: nothing is lost, and all goes once you have signed in.", unsent)]
    : !state.isOnline
      ? [t("All your work is on this tablet"), `${state.since ? t("No signal since {time}.", { time: clock(state.since, zone) }) : t("No signal.")} ${many("Carry on. {n} entry goes by itself when there is signal. Leave the app open until then.", "Carry on. {n} entries go by themselves when there is signal. Leave the app open until then.", unsent)}`]
      : unsent
        ? [t("Being sent"), many("{n} entry is on this tablet and on the way.", "{n} entries are on this tablet and on the way.", unsent)]
        : [t("Everything is sent"), contact ? t("Last contact {time}.", { time: clock(contact, zone) }) : t("Nothing was entered yet.")];
  const old = visit.unsentSince;
  const line = [...rows].map((row) => (row.state === "on_tablet" ? "on_tablet" : row.answer === "review" ? "needs_attention" : "sent"));
  const total = (key, number) => html`<div><dt>${wordOf(key)}</dt><dd class="${number && key !== "sent" ? `tone-${key === "not_saved" ? "carmine" : "ochre"}` : ""}">${glyph(key, 28)} ${number}</dd></div>`;
  return {
    back: t("List"),
    backTo: `v/${visit.id}`,
    place: visit.facts.building.name,
    title: t("Sending"),
    main: html`
      <div class="band page-head"><div class="margin"><p><b>${clock(Date.now(), zone)}</b></p></div><div class="body"><h1>${head[0]}</h1><p class="lede">${head[1]}</p>${old ? html`<p class="tone-ochre">${rich("<b>The oldest has been here since {time}.</b> Go where there is signal before you leave the building, or save the rescue file and give it to the office.", { time: clock(old, zone) })}</p>` : ""}${review.length ? html`<p class="tone-ochre"><b>${many("The office looks at {n} entry.", "The office looks at {n} entries.", review.length)}</b> ${t("Each says why below; you need do nothing, and nothing is lost.")}</p>` : ""}</div></div>
      ${rows.length ? html`<div class="band measure"><div class="margin measure-margin">${t("entries")}</div><div class="body">${strokes(line, { room: ctx.room(), title: many("{n} entry in order", "{n} entries in order", line.length) })}</div></div>` : ""}
      <div class="band"><div class="margin"></div><div class="body"><dl class="totals">${total("not_saved", 0)}${total("on_tablet", unsent)}${total("sent", sent)}${total("needs_attention", review.length)}</dl><p class="note">${t("Photos: {sent} of {all} sent.", { sent: blobs.filter((blob) => blob.isSent).length, all: named.size })} ${isProtected ? t("Storage is protected.") : t("Storage is not protected by this browser.")} ${t("Pack good until {time}.", { time: dayAndClock(Date.parse(visit.pack.manifest.ends_at), zone) })}</p></div></div>
      <div class="band"><div class="margin"></div><div class="body"><h2 class="section-head">${t("Latest entries")}</h2></div></div>
      <ul class="entries headed">${[...visit.said.values()].flat().filter((one) => one.row).sort((a, b) => b.row.seq - a.row.seq).slice(0, MOST).map((one) => {
        const device = visit.byId.get(one.device);
        return html`<li class="entry"><div class="margin">${clock(one.at, zone)}</div><div class="entry-body four"><span class="address">${device?.address ?? t("visit")}</span><span class="what">${device?.label ?? ""} ${["result", "reading"].includes(one.kind) ? "" : html`<span class="second">${textOf(one)}</span>`}</span><span>${headOf(one)}</span><span>${whereIs(one.row)}</span></div></li>`;
      })}</ul>
      ${rows.length > MOST ? html`<div class="band"><div class="margin"></div><p class="body second">${many("{n} earlier one is kept too.", "{n} earlier ones are kept too.", rows.length - MOST)}</p></div>` : ""}`,
    deeds: html`<button class="button" data-do="rescue">${t("Rescue file")}</button>${state.signIn ? html`<a class="button" href="#">${t("Sign in")}</a>` : html`<button class="button" data-do="send">${t("Try to send")}</button>`}<a class="button filled" href="#v/${visit.id}">${t("Carry on")}</a>`,
    actions: {
      rescue: () => saveSealed(),
      send: async () => {
        await sync.run();
        await visit.reload();
        await ctx.redraw();
      },
    },
  };
}
