// Understand what was typed for a reading and judge it, as the server will: the rules of
// contractor/engine/{typed,obscuration,sensitivity}.py, held to them by tests/field/data/judging.json.
// Its sentences are made in English and kept apart beside it (`told`), to be shown in any language.
import { inEnglish, mark, Problem } from "./words.js";

const TOLERANCE = 1e-9;
const UNMARKED_HIGH = 4.0; // where nothing is marked above [%/ft]
const PLAUSIBLE_HIGH = 10.0; // a check on what was typed, never a range to judge by [%/ft]

// Numbers as people write them. JavaScript and Python round an exact half differently.

function fixed(number, decimals) {
  const exact = Math.abs(number).toFixed(Math.min(100, decimals + 60));
  const point = exact.indexOf(".");
  const rest = exact.slice(point + 1 + decimals);
  if (!/^50*$/.test(rest)) return number.toFixed(decimals);
  const kept = decimals ? exact.slice(0, point + 1 + decimals) : exact.slice(0, point);
  const even = Number(kept.at(-1)) % 2 === 0;
  const value = even ? Number(kept) : Number(kept) + 10 ** -decimals;
  return `${number < 0 ? "-" : ""}${value.toFixed(decimals)}`;
}

function general(number) {
  const short = Number(number.toPrecision(6));
  const size = Math.abs(short);
  if (short !== 0 && (size >= 1e6 || size < 1e-4)) {
    const [digits, power] = short.toExponential().split("e");
    const padded = String(Math.abs(Number(power))).padStart(2, "0");
    return `${digits}e${Number(power) < 0 ? "-" : "+"}${padded}`;
  }
  return String(short);
}

// Write a number, but never round it onto a limit that it does not meet.
function say(number, ...limits) {
  const apart = limits.filter((x) => x !== null && x !== undefined && Math.abs(number - x) > TOLERANCE);
  let decimals = 2;
  while (decimals < 9 && apart.some((x) => Number(fixed(number, decimals)) === Number(fixed(x, decimals)))) {
    decimals += 1;
  }
  if (Math.abs(number) >= 1e6) return general(number);
  const [whole, fraction] = fixed(number, decimals).split(".");
  return `${whole}.${fraction.replace(/0+$/, "") || "0"}`;
}

const percent = (share, ...limits) =>
  `${say(100 * share, ...limits.map((x) => 100 * x)).replace(/\.0$/, "")} %`;

// Units of smoke obscuration

const METRES_PER_FOOT = 0.3048;
const LN10 = Math.log(10);
const UNITS = {
  "%/ft": [true, METRES_PER_FOOT],
  "%/m": [true, 1],
  "OD/ft": [false, METRES_PER_FOOT / LN10],
  "OD/m": [false, 1 / LN10],
  "dB/m": [false, 10 / LN10],
  "1/m": [false, 1],
};

export class Unclear extends Problem {}

export function convert(value, from, to) {
  const [isPercent, per] = UNITS[from];
  if (value < 0) throw new Unclear(mark("Obscuration of {value} {unit} is below zero. Check the sign and the unit."), { value: general(value), unit: from });
  if (isPercent && value > 100) throw new Unclear(mark("Obscuration of {value} {unit} is more than all the light. Check the unit."), { value: general(value), unit: from });
  if (from === to) return value;
  const extinction = isPercent ? -Math.log1p(-value / 100) / per : value / per;
  const [toPercent, toPer] = UNITS[to];
  return toPercent ? -100 * Math.expm1(-extinction * toPer) : extinction * toPer;
}

// What was typed

export function parse(typed) {
  const text = String(typed ?? "").trim().replace(/%$/, "").trim();
  if (["", "-", "–", "—"].includes(text)) return null;
  if (!/^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/.test(text) || text.length > 15) {
    throw new Unclear(mark("{typed} is not a number. Type it like 2.5."), { typed: String(typed).trim().slice(0, 40) });
  }
  return Number(text.replace(",", "."));
}

// The slips that a typed alarm point looks like: a lost point, another unit. Sentences kept apart.
export function slips(value, unit, low, high) {
  if (value < 0) return [];
  const most = high ?? UNMARKED_HIGH;
  const least = low ?? 0;
  const fits = (number, as) => {
    try {
      const here = convert(number, as, "%/ft");
      return least <= here && here <= most;
    } catch {
      return false;
    }
  };
  if (fits(value, unit)) return [];
  const said = `${general(value)} ${unit}`;
  if (unit === "%/ft" && value > PLAUSIBLE_HIGH && fits(value / 10, unit)) {
    return [[mark("{value} cannot be. Was it {other}?"), { value: said, other: general(value / 10) }]];
  }
  const found = [];
  const other = ["%/m", "dB/m", "%/ft"].find((one) => fits(value, one));
  if (other) {
    const here = fixed(convert(value, other, "%/ft"), 2);
    found.push([mark("{value} lies outside the marks; as {unit} it would be {other} %/ft."), { value: said, unit: other, other: here }]);
  }
  if (fits(value / 10, unit)) {
    found.push([mark("{value} lies outside the marks. Was it {other}?"), { value: said, other: general(value / 10) }]);
  }
  return found;
}

// device: {setting, marked_low, marked_high, compensation_limit, limit_share, nearing_share}
// said: {measured, setting, drift, unit, used, control_unit_says}, as typed
export function understand(device, said) {
  const unit = said.unit || "%/ft";
  const found = { measured: null, setting: null, drift: null };
  let problem = "";
  let toldProblem = null;
  let looksLike = [];
  for (const name of Object.keys(found)) {
    try {
      const value = parse(said[name] ?? "");
      if (value === null) continue;
      found[name] = unit === "%/ft" ? value : convert(value, unit, "%/ft");
      if (name === "measured") {
        looksLike = looksLike.concat(slips(value, unit, device.marked_low, device.marked_high));
      }
    } catch (error) {
      if (!(error instanceof Unclear)) throw error;
      problem ||= error.message;
      toldProblem ??= error.sentence;
    }
  }
  let used = null;
  try {
    used = parse(said.used ?? "");
  } catch (error) {
    problem ||= error.message;
    toldProblem ??= error.sentence;
  }
  const setting = found.setting ?? device.setting ?? null;
  const verdict = judge({
    measured: found.measured,
    setting,
    drift: found.drift,
    allowance_used: used === null ? null : used / 100,
    control_unit_says: { "in range": true, "out of range": false }[said.control_unit_says ?? ""] ?? null,
    marked_low: device.marked_low ?? null,
    marked_high: device.marked_high ?? null,
    compensation_limit: device.compensation_limit ?? null,
    limit_share_of_setting: device.limit_share ?? 0.5,
    nearing_share: device.nearing_share ?? 0.75,
  });
  let limit = device.compensation_limit ?? null;
  if (limit === null && setting !== null && setting > 0 && setting < 100) limit = (device.limit_share ?? 0.5) * setting;
  const isEmpty =
    found.measured === null && found.drift === null && used === null && !said.control_unit_says;
  return { ...verdict, ...found, setting, limit, slips: looksLike.map(inEnglish), toldSlips: looksLike, problem, toldProblem, isEmpty };
}

// The verdict: two kinds of evidence, each judged by itself; the worst decides.

const BOUNDS = {
  measured: [mark("A reading"), 100, " %/ft", true],
  setting: [mark("A setting"), PLAUSIBLE_HIGH, " %/ft", false],
  drift: [mark("A drift"), 100, " %/ft", true],
  allowance_used: [mark("An allowance used"), 10, " of 1", true],
  marked_low: [mark("A marked low end"), 100, " %/ft", true],
  marked_high: [mark("A marked high end"), 100, " %/ft", false],
  compensation_limit: [mark("A compensation limit"), PLAUSIBLE_HIGH, " %/ft", false],
  limit_share_of_setting: [mark("A share of the setting"), 1, " of 1", false],
  nearing_share: [mark("A warning share"), 1, " of 1", false],
};

export function judge(typed) {
  const { read, stuck } = readTyped(typed);
  const findings = [
    judgeMeasured(read, stuck),
    judgeDrift(read, stuck),
    read.allowance_used === null
      ? null
      : spent([mark("Compensation as printed: {verdict}"), {}], "allowance_used", read.allowance_used, read.nearing_share),
    judgeControlUnit(typed.control_unit_says ?? null),
    ...[...stuck.values()].map((said) => ({ state: "not_judged", said, rule: "entry" })),
  ].filter(Boolean);
  return combine(findings);
}

function readTyped(typed) {
  const read = {};
  const stuck = new Map();
  for (const [key, [name, most, unit, zero]] of Object.entries(BOUNDS)) {
    const number = typed[key] ?? null;
    read[key] = null;
    if (number === null) continue;
    const below = zero ? number < 0 : number < TOLERANCE;
    if (below || number > most) stuck.set(key, [mark("{name} of {value}{unit} cannot be. Check the entry."), { name: [name], value: say(number), unit }]);
    else read[key] = number;
  }
  const low = read.marked_low;
  const high = read.marked_high ?? UNMARKED_HIGH;
  if (low !== null && !stuck.has("marked_high") && low > high + TOLERANCE) {
    stuck.set("marked_low", [mark("A range from {low} up to {high} %/ft cannot be. Check the marked range."), { low: say(low), high: say(high) }]);
  } else if (read.setting !== null && !stuck.has("marked_low") && !stuck.has("marked_high")) {
    const marked = read.marked_high !== null || low !== null;
    if (marked && !((low ?? 0) - TOLERANCE <= read.setting && read.setting <= high + TOLERANCE)) {
      stuck.set("setting", [mark("Set to {value} %/ft; {marks}. Check the setting."), { value: say(read.setting), marks: marks(read) }]);
      read.setting = null;
    }
  }
  return { read, stuck };
}

function marks(read) {
  const { marked_low: low, marked_high: high } = read;
  if (low !== null && high !== null) return [mark("marked {low} to {high} %/ft"), { low: say(low), high: say(high) }];
  if (low !== null) return [mark("marked {low} %/ft and above, and unmarked at most {high} %/ft"), { low: say(low), high: say(UNMARKED_HIGH) }];
  if (high !== null) return [mark("marked {high} %/ft at most"), { high: say(high) }];
  return [mark("nothing is marked, so at most {high} %/ft"), { high: say(UNMARKED_HIGH) }];
}

function judgeMeasured(read, stuck) {
  const { measured, marked_low: low } = read;
  if (measured === null || stuck.has("marked_low") || stuck.has("marked_high")) return null;
  const high = read.marked_high ?? UNMARKED_HIGH;
  const rule = low === null && read.marked_high === null ? "upper_bound_only" : "marked_range";
  const places = { value: say(measured, low, high), marks: marks(read) };
  const said = (verdict) => [mark("Alarms at {value} %/ft; {marks}: {verdict}"), { ...places, verdict: [verdict] }];
  if (measured > high + TOLERANCE) {
    return { state: "out_of_range", said: said(mark("not sensitive enough.")), rule, side: "not_sensitive_enough" };
  }
  if (low !== null && measured < low - TOLERANCE) {
    return { state: "out_of_range", said: said(mark("too sensitive.")), rule, side: "too_sensitive" };
  }
  if (low === null && measured < TOLERANCE) {
    return { state: "not_judged", said: said(mark("it would alarm in clean air, so this is no reading.")), rule };
  }
  if (low === null) {
    return { state: "in_range", said: said(mark("in range, as far as the upper bound tells; no lower one is known.")), rule };
  }
  return { state: "in_range", said: said(mark("in range.")), rule };
}

function judgeDrift(read, stuck) {
  const { drift, setting, limit_share_of_setting: share } = read;
  if (drift === null || stuck.has("compensation_limit")) return null;
  let limit = read.compensation_limit;
  let rule = "compensation_limit";
  let origin = null;
  if (limit === null) {
    if (stuck.has("setting") || stuck.has("limit_share_of_setting")) return null;
    if (setting === null || share === null) {
      return { state: null, said: [mark("Drift {value} %/ft; how much may be corrected is not known."), { value: say(drift) }], rule: "no_evidence" };
    }
    limit = share * setting;
    rule = "share_of_setting";
    origin = { share: percent(share), setting: say(setting) };
  }
  const places = { value: say(drift, limit), limit: say(limit), ...origin };
  const said = origin
    ? [mark("Drift {value} %/ft; at most {limit} %/ft may be corrected, {share} of its setting {setting} %/ft: {verdict}"), places]
    : [mark("Drift {value} %/ft; at most {limit} %/ft may be corrected: {verdict}"), places];
  return spent(said, rule, drift / limit, read.nearing_share);
}

function spent(begun, rule, used, nearing) {
  const from = nearing ?? 1;
  const share = percent(used, from, 1);
  const [text, places] = begun;
  const said = (verdict) => [text, { ...places, verdict: [verdict, { share }] }];
  if (used >= 1 - TOLERANCE) return { state: "out_of_range", said: said(mark("{share} used, nothing is left to correct with.")), rule, used };
  if (used >= from - TOLERANCE) return { state: "nearing_limit", said: said(mark("{share} used, nearing its limit.")), rule, used };
  return { state: "in_range", said: said(mark("{share} used, in range.")), rule, used };
}

function judgeControlUnit(says) {
  if (says === true) return { state: "in_range", said: [mark("The control unit reports it in range.")], rule: "control_unit" };
  if (says === false) return { state: "out_of_range", said: [mark("The control unit reports it out of range.")], rule: "control_unit" };
  return null;
}

const ORDER = new Map([["out_of_range", 0], ["nearing_limit", 1], ["not_judged", 2], ["in_range", 3], [null, 4]]);

function combine(findings) {
  findings.sort((a, b) => ORDER.get(a.state) - ORDER.get(b.state));
  const shares = findings.map((one) => one.used).filter((one) => one !== undefined);
  const told = findings.map((one) => one.said);
  const reason = told.map(inEnglish).join(" ");
  const worst = findings[0];
  if (!worst || worst.state === null) {
    if (!told.length) told.push([mark("No reading to judge.")]);
    return { state: "not_judged", reason: told.map(inEnglish).join(" "), told, rule: "no_evidence", used: null, side: null };
  }
  return {
    state: worst.state,
    reason,
    told,
    rule: worst.rule,
    used: shares.length ? Math.max(...shares) : null,
    side: worst.side ?? null,
  };
}

// The result that a verdict gives: nothing where it cannot be judged.
export const resultOf = (state) =>
  ({ in_range: "pass", nearing_limit: "pass", out_of_range: "fail" })[state] ?? "";
