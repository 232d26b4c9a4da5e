// Write HTML that is always escaped, and draw shapes, the range bar and the strokes.
import { date, decimal, isEnglish, many, mark, t } from "./words.js";

export class Raw {
  constructor(text) {
    this.text = text;
  }
  toString() {
    return this.text;
  }
}

const ESCAPES = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" };
const escape = (value) => String(value).replace(/[&<>"']/g, (letter) => ESCAPES[letter]);

function written(value) {
  if (value instanceof Raw) return value.text;
  if (Array.isArray(value)) return value.map(written).join("");
  return value === null || value === undefined || value === false ? "" : escape(value);
}

export const html = (strings, ...values) =>
  new Raw(strings.reduce((text, part, at) => text + written(values[at - 1]) + part));

// A sentence with bold words and with parts that are HTML: rich("<b>{n} here.</b> {link}", { n, link }).
// Of the sentence itself only <b> is taken as HTML.
export const rich = (text, values = {}) =>
  new Raw(
    t(text)
      .split(/(<\/?b>|\{\w+\})/)
      .map((part) => {
        if (part === "<b>" || part === "</b>") return part;
        return part.startsWith("{") ? written(values[part.slice(1, -1)]) : escape(part);
      })
      .join(""),
  );

// Shapes: drawn once by the server in the shell, used here.
export const glyph = (name, size = 24) =>
  new Raw(
    `<svg class="glyph" width="${size}" height="${size}" viewBox="0 0 18 18" fill="none" stroke="currentColor" stroke-width="1.6" aria-hidden="true"><use href="#g-${name}"/></svg>`,
  );

const WORDS = {
  in_range: [mark("in range"), "ink"],
  nearing_limit: [mark("nearing its limit"), "ochre"],
  out_of_range: [mark("out of range"), "carmine"],
  not_judged: [mark("not judged"), "ink2"],
  not_tested: [mark("not tested"), "ink2"],
  pass: [mark("pass"), "ink"],
  fail: [mark("fail"), "carmine"],
  two_results: [mark("two results"), "carmine"],
  not_saved: [mark("not saved"), "carmine"],
  on_tablet: [mark("on this tablet"), "ochre"],
  sent: [mark("sent"), "ink"],
  needs_attention: [mark("needs attention"), "ochre"],
  no_signal: [mark("no signal"), "ochre"],
};

export const toneOf = (key) => WORDS[key]?.[1] ?? "ink";

export function stateWord(key, word, size = 24) {
  const [usual, tone] = WORDS[key];
  const shape = key === "two_results" ? "problem" : key;
  return html`<span class="state tone-${tone}">${glyph(shape, size)}<span>${word ?? t(usual)}</span></span>`;
}

// Numbers and times as people write them

export const wordOf = (key) => t(WORDS[key][0]);

export function quantity(value) {
  let said = value.toFixed(2);
  while (said.endsWith("0") && said.split(".")[1].length > 1) said = said.slice(0, -1);
  return decimal(said);
}

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

// English has its own months: browsers differ in how they shorten September.
export function day(iso) {
  const [year, month, number] = iso.slice(0, 10).split("-").map(Number);
  if (isEnglish()) return `${number} ${MONTHS[month - 1]} ${year}`;
  return date(Date.UTC(year, month - 1, number), { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });
}

const TIME = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
export const clock = (ms, zone) => date(ms, { ...TIME, timeZone: zone });
export const dayAndClock = (ms, zone) =>
  date(ms, { weekday: "short", day: "numeric", month: "short", ...TIME, timeZone: zone });

// The range bar: one detector between its marks, 112 px high. Places are percent of its column.

const LINE = 48;
const BASE = 86;
const isNumber = (value) => typeof value === "number" && Number.isFinite(value);

export function rangeBar({ state, value, low, high, drift, limit, warningShare = 0.75, held, room = 640 }) {
  const known = isNumber(high);
  const upper = known ? high : 4;
  const side = isNumber(drift) && drift < 0 ? -1 : 1;
  const bare = isNumber(value) && isNumber(drift) ? value - drift : null;
  const limitAt = isNumber(value) && isNumber(limit) && held ? value - side * limit : null;
  const warningAt = limitAt === null ? null : value - side * limit * warningShare;
  const largest = Math.max(upper, value ?? 0, bare ?? 0);
  const end = largest <= 4.4 ? 4.5 : Math.min(10, Math.ceil(largest) + 0.5);
  const at = (x) => `${(Math.min(1, Math.max(0, x / end)) * 100).toFixed(2)}%`;
  const holds = (x) => x !== null && x >= 0 && x <= end;
  const upright = (x, top, foot, cls, width, dash) =>
    `<line x1="${at(x)}" x2="${at(x)}" y1="${top}" y2="${foot}" class="${cls}" stroke-width="${width}"${dash ? ` stroke-dasharray="${dash}"` : ""}/>`;
  const put = (x, inner) => `<svg x="${at(x)}" y="${LINE}" overflow="visible" width="1" height="1">${inner}</svg>`;
  const diamond = (r) => `<path d="M0 -${r}L${r * 0.78} 0L0 ${r}L-${r * 0.78} 0z" class="f-carmine"/>`;
  const parts = [
    `<rect x="${at(low ?? 0)}" width="${(((upper - (low ?? 0)) / end) * 100).toFixed(2)}%" y="33" height="${BASE - 33}" class="f-sheet"/>`,
    `<line x1="0" x2="100%" y1="${BASE}" y2="${BASE}" class="s-ink" stroke-width="1.5"/>`,
  ];
  const small = end <= 5 ? 0.1 : 0.5;
  for (let step = 0; step <= Math.round(end / small); step += 1) {
    const x = step * small;
    const whole = Math.abs(x - Math.round(x)) < 1e-6;
    const half = Math.abs(x * 2 - Math.round(x * 2)) < 1e-6;
    parts.push(upright(x, BASE, BASE + (whole ? 10 : half ? 6 : 4), "s-post", whole ? 1.2 : 1));
    if (whole && x < end - 0.3) parts.push(words(at(x), BASE + 26, String(Math.round(x)), "ink2", "middle", 15));
  }
  parts.push(words("100%", BASE + 26, "%/ft", "ink2", "end", 15));
  if (isNumber(low)) parts.push(upright(low, 27, BASE, "s-ink", 4));
  parts.push(upright(upper, 27, BASE, "s-ink", known ? 4 : 2.4));
  const tone = state === "nearing_limit" ? "ochre" : state === "out_of_range" ? "carmine" : "ink";
  if (holds(warningAt)) parts.push(upright(warningAt, LINE - 12, LINE + 12, "s-ochre", 1.5, "3 2.4"));
  if (holds(limitAt)) parts.push(upright(limitAt, LINE - 16, LINE + 14, "s-carmine", 2));
  if (bare !== null) {
    parts.push(`<line x1="${at(bare)}" x2="${at(value)}" y1="${LINE}" y2="${LINE}" class="s-${tone}" stroke-width="4"/>`);
    const isOut = isNumber(limit) && Math.abs(drift) >= limit;
    parts.push(isOut ? put(bare, diamond(9)) : `<circle cx="${at(bare)}" cy="${LINE}" r="6" class="s-${tone} f-sheet" stroke-width="2.5"/>`);
  }
  if (isNumber(value)) {
    const isOut = value > upper || (isNumber(low) && value < low);
    if (value > end) parts.push(put(end, '<path d="M-10 -9L4 0L-10 9z" class="f-carmine"/>'));
    else if (state === "not_judged") parts.push(`<circle cx="${at(value)}" cy="${LINE}" r="8" class="s-ink2 f-sheet" stroke-width="2"/>`);
    else if (isOut) parts.push(put(value, diamond(12)));
    else parts.push(`<circle cx="${at(value)}" cy="${LINE}" r="9" class="f-ink"/>`);
  }
  parts.push(labels({ low, high: known ? high : null, upper, value, bare, drift, limitAt, warningAt, tone, end, room }));
  const said = [isNumber(value) ? t("Alarm point {value} %/ft.", { value: quantity(value) }) : t("No reading yet.")];
  if (known && isNumber(low)) said.push(t("Marked {low} to {high} %/ft.", { low: quantity(low), high: quantity(high) }));
  else said.push(t("At most {high} %/ft.", { high: quantity(upper) }));
  if (isNumber(drift)) said.push(t("{drift} corrected.", { drift: quantity(drift) }));
  return new Raw(
    `<div class="chart range"><svg class="drawing" role="img" width="100%" height="118" overflow="visible"><title>${escape(said.join(" "))}</title>${parts.join("")}</svg></div>`,
  );
}

function words(x, y, text, tone, anchor = "middle", size = 17, dx = 0) {
  return `<text x="${x}" y="${y}" class="f-${tone} t-text" font-size="${size}" font-weight="650" text-anchor="${anchor}"${dx ? ` dx="${dx}"` : ""}>${escape(text)}</text>`;
}

// Words over the bar and under the line, each left out where it would touch one that matters more.
function labels({ low, high, upper, value, bare, drift, limitAt, warningAt, tone, end, room }) {
  const taken = { above: [], below: [] };
  const place = (row, x, text, cls, lean = 0) => {
    const at = Math.min(1, Math.max(0, x / end)) * room;
    const wide = text.length * 9.6;
    let start = lean === 0 ? at - wide / 2 : lean > 0 ? at + 6 : at - 6 - wide;
    if (start + wide > room) start = room - wide;
    if (start < 0) start = 0;
    if (taken[row].some(([from, to]) => start < to + 8 && from < start + wide + 8)) return "";
    taken[row].push([start, start + wide]);
    const share = `${((start / room) * 100).toFixed(2)}%`;
    return words(share, row === "above" ? 18 : LINE + 32, text, cls, "start");
  };
  const parts = [];
  if (isNumber(value)) parts.push(place("above", value, quantity(value), "ink"));
  if (isNumber(low)) parts.push(place("above", low, quantity(low), "ink"));
  parts.push(place("above", upper, high === null ? t("at most 4") : quantity(high), "ink"));
  if (bare !== null) parts.push(place("above", bare, t("{drift} corrected", { drift: quantity(drift) }), tone));
  for (const post of [low, upper]) {
    const at = isNumber(post) ? (post / end) * room : -99;
    taken.below.push([at - 6, at + 2]);
  }
  if (limitAt !== null && limitAt >= 0) {
    const text = t("limit");
    parts.push(place("below", limitAt, text, "carmine", -1) || place("below", limitAt, text, "carmine", 1));
  }
  if (warningAt !== null && warningAt >= 0) parts.push(place("below", warningAt, t("warning"), "ochre", 1));
  return parts.join("");
}

// Strokes: many things in order, one stroke each; what asks for something bears its shape.
export function strokes(states, { here = null, room = 640, title = "", tall = 26 } = {}) {
  if (!states.length) return "";
  const pitch = room / states.length;
  const base = 52;
  const x = (place) => `${(((place + 0.5) / states.length) * 100).toFixed(3)}%`;
  const parts = [`<line x1="0" x2="100%" y1="${base}" y2="${base}" class="s-ink" stroke-width="2"/>`];
  const wide = Math.max(0.6, Math.min(5, pitch * 0.45));
  const plain = { pass: [tall, "ink", wide], later: [8, "post", Math.min(2, wide)], sent: [tall, "ink", wide] };
  const lines = { ink: [], post: [] };
  states.forEach((state, place) => {
    if (plain[state]) {
      const [height, tone] = plain[state];
      lines[tone].push(`M${(((place + 0.5) / states.length) * 1000).toFixed(2)} ${base}v-${height}`);
      return;
    }
    if (state === "on_tablet") {
      parts.push(`<line x1="${x(place)}" x2="${x(place)}" y1="${base - tall}" y2="${base}" class="s-ochre" stroke-width="${wide}" stroke-dasharray="3 2"/>`);
      return;
    }
    const tone = toneOf(state);
    parts.push(`<line x1="${x(place)}" x2="${x(place)}" y1="${base - tall + 14}" y2="${base}" class="s-${tone}" stroke-width="${Math.max(1.4, Math.min(2.4, wide))}"/>`);
    const shape = state === "two_results" ? "problem" : state;
    const size = Math.max(10, Math.min(18, pitch * 1.6));
    parts.push(
      `<svg x="${x(place)}" y="${base - tall}" overflow="visible" width="1" height="1" class="c-${tone}"><g transform="translate(${-size / 2} ${-size / 2}) scale(${size / 18})" fill="none" stroke="currentColor" stroke-width="1.6"><use href="#g-${shape}" width="18" height="18"/></g></svg>`,
    );
  });
  for (const [tone, pieces] of Object.entries(lines)) {
    if (!pieces.length) continue;
    const weight = tone === "ink" ? wide : Math.min(2, wide);
    parts.push(
      `<svg width="100%" height="${base}" viewBox="0 0 1000 ${base}" preserveAspectRatio="none" overflow="visible"><path d="${pieces.join("")}" class="s-${tone}" stroke-width="${weight}" vector-effect="non-scaling-stroke"/></svg>`,
    );
  }
  const step = [10, 50, 100, 500].find((one) => states.length / one <= Math.max(4, room / 90)) ?? 1000;
  for (let number = step; number <= states.length; number += step) {
    parts.push(`<line x1="${x(number - 1)}" x2="${x(number - 1)}" y1="${base}" y2="${base + 5}" class="s-post" stroke-width="1.2"/>`);
    parts.push(words(x(number - 1), base + 22, String(number), "ink2", number === states.length ? "end" : "middle", 15));
  }
  if (here !== null && here >= 0) {
    parts.push(
      `<line x1="${x(here)}" x2="${x(here)}" y1="12" y2="${base}" class="s-deed" stroke-width="2.4"/><svg x="${x(here)}" y="4" overflow="visible" width="1" height="1"><path d="M-7 0h14l-7 10z" class="f-deed"/></svg>`,
    );
  }
  return new Raw(
    `<div class="chart strokes"><svg class="drawing" role="img" width="100%" height="80" overflow="visible"><title>${escape(title || many("{n} device in order", "{n} devices in order", states.length))}</title>${parts.join("")}</svg></div>`,
  );
}
