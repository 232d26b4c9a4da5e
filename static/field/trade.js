// Pass rules of other records. Batteries come from the adopted edition in the pack; sound levels:
// public and sleeping mode of NFPA 72's notification chapter (most clauses from memory); the rest
// by the maker's range. What is not known is not judged.
import { parse } from "./judge.js";
import { inEnglish, mark, said as sayIt } from "./words.js";

export const VOLTAGES = [
  ["6", "6 V"],
  ["12", "12 V"],
  ["24", "24 V"],
];
const CELLS = { vrla: 2, vented: 2, nicad: 1.2 }; // nominal volts of a cell

const number = (text) => {
  try {
    return parse(text ?? "");
  } catch {
    return null;
  }
};
const two = (value) => String(Math.round(value * 100) / 100);

// said: {chemistry, volts, float_v, load_v, capacity}; rule: the edition's, from the pack; set: what
// is known of a set on the device list, whose maker's figures go before the rule's
export function judgeBattery(said, rule, set = null) {
  const chemistry = set?.chemistry ?? said.chemistry;
  const cells = set?.cells ?? Number(said.volts) / (CELLS[said.chemistry] ?? 2);
  const cell = rule?.cells?.[chemistry];
  const limits = set?.maker_float_v ?? (cell?.float && cell.tolerance ? [(cell.float - cell.tolerance) * cells, (cell.float + cell.tolerance) * cells] : null);
  const floor = set?.maker_load_v ?? (cell?.load ? cell.load * cells : null);
  const found = [];
  const floats = number(said.float_v);
  const load = number(said.load_v);
  const share = number(said.capacity);
  if (floats !== null) {
    if (!limits) found.push(["not_judged", [mark("{value} V on charge; the edition gives no figure, so the maker's holds"), { value: said.float_v }]]);
    else {
      const [low, high] = limits;
      const ok = floats >= low - 1e-9 && floats <= high + 1e-9;
      const verdict = [ok ? mark("within") : mark("outside, check the charger first")];
      found.push([ok ? "pass" : "fail", [mark("{value} V on charge; {low} to {high} V at 25 °C: {verdict}"), { value: said.float_v, low: two(low), high: two(high), verdict }]]);
    }
  }
  if (load !== null) {
    if (floor === null) found.push(["not_judged", [mark("{value} V under load; the edition gives no figure, so the maker's holds"), { value: said.load_v }]]);
    else {
      const least = floor;
      const ok = load >= least - 1e-9;
      const verdict = [ok ? mark("enough") : mark("too low")];
      found.push([ok ? "pass" : "fail", [mark("{value} V under load; {least} V at least: {verdict}"), { value: said.load_v, least: two(least), verdict }]]);
    }
  }
  if (share !== null) {
    const value = said.capacity;
    const [gone, soon] = [rule?.replace_at_or_below, rule?.replace_soon_below];
    if (!gone || !soon) found.push(["not_judged", [mark("{value} % of rated capacity; this edition judges no capacity"), { value }]]);
    else if (share <= gone * 100 + 1e-9) found.push(["fail", [mark("{value} % of rated capacity; at {limit} % or below it is replaced"), { value, limit: gone * 100 }]]);
    else if (share < soon * 100 - 1e-9) found.push(["fail", [mark("{value} % of rated capacity; below {limit} % it is replaced at the next scheduled test"), { value, limit: soon * 100 }]]);
    else found.push(["pass", [mark("{value} % of rated capacity; kept"), { value }]]);
  }
  return together(found);
}

// said: {mode, ambient, loudest, level}; dBA
export function judgeSound(said) {
  const [ambient, loudest, level] = [said.ambient, said.loudest, said.level].map(number);
  if (level === null) return together([]);
  const over = said.mode === "private" ? [10, 5, 45] : [15, 5, said.mode === "sleeping" ? 75 : 0];
  const wanted = [over[2]];
  if (ambient !== null) wanted.push(ambient + over[0]);
  if (loudest !== null) wanted.push(loudest + over[1]);
  const least = Math.max(...wanted);
  if (level > 110) return together([["fail", [mark("{value} dBA; above 110 dBA it is too loud"), { value: said.level }]]]);
  if (!least) return together([["not_judged", [mark("{value} dBA; type the ambient level to judge it"), { value: said.level }]]]);
  const ok = level >= least;
  const verdict = [ok ? mark("loud enough") : mark("too quiet")];
  return together([[ok ? "pass" : "fail", [mark("{value} dBA; {least} dBA at least here: {verdict}"), { value: said.level, least: two(least), verdict }]]]);
}

// said: {value, low, high, unit}
export function judgeRange(said) {
  const [value, low, high] = [said.value, said.low, said.high].map(number);
  if (value === null) return together([]);
  if (low === null && high === null) return together([["not_judged", [mark("{value} {unit}; type the maker's range to judge it"), said]]]);
  const ok = (low === null || value >= low) && (high === null || value <= high);
  const verdict = [ok ? mark("within") : mark("outside")];
  let sentence = mark("{value} {unit}; the maker's {high} at most: {verdict}");
  if (low !== null) sentence = high === null ? mark("{value} {unit}; the maker's {low} at least: {verdict}") : mark("{value} {unit}; the maker's {low} to {high}: {verdict}");
  return together([[ok ? "pass" : "fail", [sentence, { ...said, verdict }]]]);
}

function together(found) {
  const states = found.map(([state]) => state);
  const state = states.includes("fail") ? "fail" : states.includes("pass") ? "pass" : "not_judged";
  const write = (say) => found.map(([, sentence]) => `${say(sentence)}.`).join(" ");
  return { state, words: write(inEnglish), shown: write(sayIt), isEmpty: !found.length };
}
