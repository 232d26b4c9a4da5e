// Pass rules of other records. Batteries come from the adopted edition in the pack; sound levels:
// public and sleeping mode of NFPA 72's notification chapter (most clauses from memory); the rest
// by the maker's range. What is not known is not judged.
import { parse } from "./judge.js";

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
    if (!limits) found.push(["not_judged", `${said.float_v} V on charge; the edition gives no figure, so the maker's holds`]);
    else {
      const [low, high] = limits;
      const ok = floats >= low - 1e-9 && floats <= high + 1e-9;
      found.push([ok ? "pass" : "fail", `${said.float_v} V on charge; ${two(low)} to ${two(high)} V at 25 °C: ${ok ? "within" : "outside, check the charger first"}`]);
    }
  }
  if (load !== null) {
    if (floor === null) found.push(["not_judged", `${said.load_v} V under load; the edition gives no figure, so the maker's holds`]);
    else {
      const least = floor;
      const ok = load >= least - 1e-9;
      found.push([ok ? "pass" : "fail", `${said.load_v} V under load; ${two(least)} V at least: ${ok ? "enough" : "too low"}`]);
    }
  }
  if (share !== null) {
    const [gone, soon] = [rule?.replace_at_or_below, rule?.replace_soon_below];
    if (!gone || !soon) found.push(["not_judged", `${said.capacity} % of rated capacity; this edition judges no capacity`]);
    else if (share <= gone * 100 + 1e-9) found.push(["fail", `${said.capacity} % of rated capacity; at ${gone * 100} % or below it is replaced`]);
    else if (share < soon * 100 - 1e-9) found.push(["fail", `${said.capacity} % of rated capacity; below ${soon * 100} % it is replaced at the next scheduled test`]);
    else found.push(["pass", `${said.capacity} % of rated capacity; kept`]);
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
  if (level > 110) return together([["fail", `${said.level} dBA; above 110 dBA it is too loud`]]);
  if (!least) return together([["not_judged", `${said.level} dBA; type the ambient level to judge it`]]);
  const ok = level >= least;
  return together([[ok ? "pass" : "fail", `${said.level} dBA; ${two(least)} dBA at least here: ${ok ? "loud enough" : "too quiet"}`]]);
}

// said: {value, low, high, unit}
export function judgeRange(said) {
  const [value, low, high] = [said.value, said.low, said.high].map(number);
  if (value === null) return together([]);
  if (low === null && high === null) return together([["not_judged", `${said.value} ${said.unit}; type the maker's range to judge it`]]);
  const ok = (low === null || value >= low) && (high === null || value <= high);
  const range = low !== null && high !== null ? `${said.low} to ${said.high}` : low !== null ? `${said.low} at least` : `${said.high} at most`;
  return together([[ok ? "pass" : "fail", `${said.value} ${said.unit}; the maker's ${range}: ${ok ? "within" : "outside"}`]]);
}

function together(found) {
  const states = found.map(([state]) => state);
  const state = states.includes("fail") ? "fail" : states.includes("pass") ? "pass" : "not_judged";
  return { state, words: found.map(([, words]) => `${words}.`).join(" "), isEmpty: !found.length };
}
