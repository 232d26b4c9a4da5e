// The app in the language of whoever works with it. Every text of an html`…` template, every
// say`…` and every word shown through them is looked up in the catalogue of that language; what it
// does not hold is said in English. What is kept and sent stays in English, as the office reads it.
export const LANGUAGES = ["en", "en-gb", "fr-ca", "es", "de"];
let words = {};
let language = "en";

export const spokenLanguage = () => language;
export const isEnglish = () => language.startsWith("en");

// The language told by the office; without one, the first of the browser's that there is.
export function choose(told, asked = navigator.languages ?? []) {
  if (LANGUAGES.includes(told)) return told;
  for (const one of asked) {
    const low = one.toLowerCase();
    const found = LANGUAGES.find((each) => each === low) ?? LANGUAGES.find((each) => each.split("-")[0] === low.split("-")[0]);
    if (found) return found;
  }
  return "en";
}

export function speak(catalogue) {
  ({ words, language } = catalogue);
}

export async function load(wanted) {
  if (wanted === language) return;
  if (wanted === "en") return speak({ language: "en", words: {} });
  const answer = await fetch(new URL(`./words/${wanted}.json`, import.meta.url));
  if (answer.ok) speak(await answer.json());
}

export const known = (value) => (typeof value === "string" && typeof words[value] === "string" ? words[value] : value);

export const t = (text, values = {}) => (known(text)).replace(/\{(\w+)\}/g, (all, name) => (name in values ? String(values[name]) : all));

// "{n} device", "{n} devices": French counts none as one.
export function many(n, one, other) {
  const forms = words[one] ?? [one, other];
  const first = language === "fr-ca" ? n < 2 : n === 1;
  return String(forms[first ? 0 : 1]).replace("{n}", String(n));
}

export function say(strings, ...values) {
  const text = strings.reduce((all, part, at) => `${all}{${at}}${part}`);
  return known(text).replace(/\{(\d+)\}/g, (all, at) => String(known(values[at - 1])));
}

// A template's texts, once for each template: pieces of HTML, and the numbers of the values between.
const PARTS = /<(?!\/?b>)[^>]*>/g;
const SPOKEN = /(\s(?:aria-label|placeholder|title|alt)=")([^"]*)(")/g;
const VALUE = /\uE000(\d+)\uE001/g;
const parted = new WeakMap();

function lookUp(text) {
  const order = [];
  const [, lead, core, tail] = text.match(/^(\s*)([\s\S]*?)(\s*)$/);
  const key = core.replace(/\s+/g, " ").replace(VALUE, (all, at) => `{${order.push(at)}}`);
  const found = words[key];
  if (typeof found !== "string") return text;
  return lead + found.replace(/\{(\d+)\}/g, (all, at) => `\uE000${order[at - 1]}\uE001`) + tail;
}

function part(strings) {
  const whole = strings.reduce((all, piece, at) => `${all}\uE000${at - 1}\uE001${piece}`);
  let text = "";
  let from = 0;
  for (const tag of whole.matchAll(PARTS)) {
    text += lookUp(whole.slice(from, tag.index));
    text += tag[0].replace(SPOKEN, (all, before, inner, after) => before + lookUp(inner) + after);
    from = tag.index + tag[0].length;
  }
  text += lookUp(whole.slice(from));
  return text.split(/\uE000(\d+)\uE001/);
}

// The pieces of a template in the language spoken: text, number of a value, text, …
export function pieces(strings) {
  let found = parted.get(strings);
  if (!found || found.language !== language) {
    found = { language, pieces: part(strings) };
    parted.set(strings, found);
  }
  return found.pieces;
}
