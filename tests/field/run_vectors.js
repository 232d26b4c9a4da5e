// Compare the tablet's scripts with the cases; answer {checked, wrong}. Runs anywhere.
const ASKED = { d: ["functional", "sensitivity"], e: ["functional"] };

const near = (a, b) =>
  a === b || (typeof a === "number" && typeof b === "number" && Math.abs(a - b) <= 1e-12 * Math.max(1, Math.abs(a)));

function same(a, b) {
  if (a && b && typeof a === "object") {
    const keys = Object.keys(a);
    return keys.length === Object.keys(b).length && keys.every((key) => same(a[key], b[key]));
  }
  return near(a, b);
}

export async function run({ fold, judge, canonical, labels, trade }, cases) {
  const wrong = [];
  let checked = 0;
  const compare = (kind, case_, got, wanted) => {
    checked += 1;
    if (!same(got, wanted)) wrong.push({ kind, case: case_, got, wanted });
  };
  for (const one of cases.folding) {
    const got = {};
    for (const [device, state] of fold.fold(one.statements, ASKED)) {
      got[device] = { outcome: state.outcome, missing: fold.missing(state), tasks: {} };
      for (const [name, task] of state.tasks) {
        got[device].tasks[name] = {
          outcome: task.outcome,
          heads: task.heads.map((head) => head.id),
          shown: task.shown.map((head) => head.id),
          as_left: task.asLeft.map((head) => head.id),
          reason: task.reason,
        };
      }
    }
    compare("folding", one.statements, got, one.folded);
  }
  for (const one of cases.judging) {
    const found = judge.understand(one.device, one.said);
    const got = Object.fromEntries(Object.keys(one.judged).map((key) => [key, found[key]]));
    compare("judging", { device: one.device, said: one.said }, got, one.judged);
  }
  const measured = {
    sound: ({ said }) => trade.judgeSound(said),
    range: ({ said }) => trade.judgeRange(said),
    battery: ({ said, rule }) => trade.judgeBattery(said, rule),
  };
  for (const one of cases.measuring) {
    compare("measuring", { said: one.said, rule: one.rule }, measured[one.what](one).state, one.state);
  }
  for (const one of cases.hashing) {
    compare("canonical", one.entry, canonical.canonical(one.entry), one.canonical);
    compare("hash", one.entry, await canonical.hashEntry(one.entry), one.hash);
  }
  for (const one of cases.labels) {
    if (!("text" in one)) continue;
    const scanned = labels.readScanned(one.text);
    compare("code", one.text, { scanned, typed: labels.readCode(one.text), said: labels.sayCode(scanned) }, { scanned: one.scanned, typed: one.typed, said: one.said });
  }
  for (const one of cases.labels) {
    if (!("bindings" in one)) continue;
    const stands = labels.standing(one.bindings);
    compare("binding", one.bindings, { heads: stands.heads.map((head) => head.id), device: stands.device, disputed: stands.isDisputed }, { heads: one.heads, device: one.device, disputed: one.disputed });
  }
  return { checked, wrong };
}
