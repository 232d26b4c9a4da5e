// Words in the language of whoever holds the tablet; docs/languages.md says how they are marked. What
// a catalogue does not hold is said in English. Nothing here is written into an entry.
export const LANGUAGES = ["en", "en-gb", "fr-ca", "es", "de"];
const ORDER = ["zero", "one", "two", "few", "many", "other"]; // as catalogues number their forms
let known = {};
let plurals = null;
let comma = ".";
let locale = "en-GB"; // days and times; those of English are written as ever

export const now = { language: "en" };

// Name a string that is said elsewhere.
export const mark = (text) => text;

export const fill = (text, values = {}) =>
  text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name] ?? "") : whole));

const find = (text) => (Object.hasOwn(known, text) ? known[text] : text);

// Say a whole sentence, with named places: t("{n} sent", { n }).
export const t = (text, values) => fill(find(text), values);

// Say a sentence with a count: many("{n} device", "{n} devices", n).
export function many(one, more, n, values) {
  const forms = find(one);
  const places = { n, ...values };
  if (!Array.isArray(forms)) return fill(n === 1 ? one : more, places);
  const kinds = ORDER.filter((kind) => plurals.resolvedOptions().pluralCategories.includes(kind));
  return fill(forms[Math.min(kinds.indexOf(plurals.select(n)), forms.length - 1)], places);
}

// A sentence that is kept apart from its language, to be written down in one and shown in another:
// [text, places], where a place may be such a sentence itself.
const plain = (say, number) => ([text, values = {}]) => {
  const write = (one) => (Array.isArray(one) ? plain(say, number)(one) : number(one));
  return say(text, Object.fromEntries(Object.entries(values).map(([key, one]) => [key, write(one)])));
};
export const inEnglish = plain(fill, (one) => one);
export const said = plain(t, (one) => decimal(one));
// A verdict in the language of the tablet; one that came from elsewhere, as it was written.
export const sayVerdict = (judged) => judged?.told?.map(said).join(" ") ?? judged?.reason ?? "";

// What went wrong: its message is English, as entries and logs keep it; people see `shown`.
export class Problem extends Error {
  constructor(text, values) {
    super(fill(text, values));
    this.sentence = [text, values];
  }
  get shown() {
    return said(this.sentence);
  }
}
export const sayError = (error) => error?.shown ?? error?.message ?? String(error);

export const date = (ms, options) => new Intl.DateTimeFormat(locale, options).format(ms);
// A number with the sign that the language has between units and tenths.
export const decimal = (text) => (comma === "." || typeof text !== "string" ? text : text.replace(/(?<=\d)\.(?=\d)/, comma));
export const isEnglish = () => locale === "en-GB";

// The nearest language that the app has to what the browser asks for.
export function fromBrowser(asked = navigator.languages) {
  for (const one of asked.map((tag) => tag.toLowerCase())) {
    const found = LANGUAGES.find((tag) => tag === one) ?? LANGUAGES.find((tag) => tag.split("-")[0] === one.split("-")[0]);
    if (found) return found;
  }
  return "en";
}

export function speak(language, words) {
  const [tongue, country = ""] = language.split("-");
  known = words;
  now.language = language;
  locale = tongue === "en" ? "en-GB" : [tongue, country.toUpperCase()].filter(Boolean).join("-");
  plurals = new Intl.PluralRules(locale);
  comma = new Intl.NumberFormat(locale).formatToParts(0.5).find((part) => part.type === "decimal").value;
}

// Take the words of a language from where the worker keeps them; English where they do not come.
export async function learn(language) {
  const wanted = LANGUAGES.includes(language) ? language : "en";
  if (wanted === "en") return speak("en", {});
  try {
    const answer = await fetch(new URL(`words/${wanted}.json`, import.meta.url));
    if (!answer.ok) throw new Error(`${answer.status}`);
    speak(wanted, (await answer.json()).words);
  } catch (error) {
    console.warn(`No words in ${wanted}.`, error);
    if (now.language !== wanted) speak("en", {});
  }
}
