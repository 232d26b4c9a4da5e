// Fold statements into one state per device: the rules of contractor/engine/folding.py, held to it
// by tests/field/data/folding.json. The outcome hangs on the set of statements, not on their order.

// Two readings of one detector nearer than this are the same reading. [%/ft]
export const STEP = 0.01;
const ROUNDING = 1e-9;

// statements: {id, device, task, result, stage, reason, author, value, supersedes: [id]}
// asked: Map, pairs or object of device to its tasks. Answers a Map of device to {tasks, outcome}.
export function fold(statements, asked, step = STEP) {
  const standing = new Map();
  for (const one of heads(statements)) {
    if (!one.result) continue;
    const key = `${one.device} ${one.task}`;
    if (!standing.has(key)) standing.set(key, []);
    standing.get(key).push(one);
  }
  const folded = new Map();
  const pairs = Symbol.iterator in asked ? asked : Object.entries(asked);
  for (const [device, names] of pairs) {
    const tasks = new Map();
    for (const name of names) tasks.set(name, foldTask(standing.get(`${device} ${name}`) ?? [], step));
    const outcome = together(tasks);
    const reasons = [...tasks.values()].filter((task) => task.outcome === outcome).map((task) => task.reason);
    folded.set(device, { tasks, outcome, reason: [...new Set(reasons.filter(Boolean))].join("; ") });
  }
  return folded;
}

// The statements that nobody has superseded, in the order of their ids. Two that name each other,
// which no honest author can make, both stand.
export function heads(statements) {
  const known = new Map();
  for (const one of statements) known.set(one.id, one);
  const replaces = new Map();
  for (const one of known.values()) {
    replaces.set(
      one.id,
      new Set(
        (one.supersedes ?? []).filter(
          (old) => old !== one.id && known.has(old) && known.get(old).device === one.device,
        ),
      ),
    );
  }
  const gone = new Set();
  for (const [one, olds] of replaces) {
    for (const old of olds) if (!reaches(old, one, replaces)) gone.add(old);
  }
  return [...known.values()]
    .filter((one) => !gone.has(one.id))
    .sort((a, b) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
}

function reaches(start, goal, replaces) {
  const todo = [start];
  const seen = new Set(todo);
  while (todo.length) {
    for (const old of replaces.get(todo.pop())) {
      if (old === goal) return true;
      if (!seen.has(old)) {
        seen.add(old);
        todo.push(old);
      }
    }
  }
  return false;
}

function foldTask(heads, step) {
  const asLeft = heads.filter((one) => one.stage === "as_left");
  const found = heads.filter((one) => one.stage !== "as_left");
  // Work beats absence: a result stands before "not tested", and both are kept.
  const tested = found.filter((one) => one.result !== "not_tested");
  const absent = found.filter((one) => one.result === "not_tested");
  const state = (outcome, shown, reasons) => ({ outcome, heads, shown, asLeft, reason: say(reasons) });
  if (!tested.length) return state("not_tested", absent, absent);
  if (!agree(tested, step)) return state("two_results", tested, tested);
  if (!agree(asLeft, step)) return state("two_results", [...tested, ...asLeft], tested);
  return state(tested[0].result === "pass" ? "pass" : "fail", tested, tested);
}

function agree(said, step) {
  if (new Set(said.map((one) => one.result)).size > 1) return false;
  const values = said.map((one) => one.value ?? null).filter((value) => value !== null);
  if (values.length && values.length < said.length) return false;
  return !values.length || Math.max(...values) - Math.min(...values) <= step + ROUNDING;
}

const say = (said) => [...new Set(said.map((one) => one.reason).filter(Boolean))].join("; ");

function together(tasks) {
  const outcomes = new Set([...tasks.values()].map((task) => task.outcome));
  for (const gravest of ["two_results", "fail", "not_tested"]) if (outcomes.has(gravest)) return gravest;
  return outcomes.size ? "pass" : "not_tested";
}

// The tasks of which nothing is stated: neither a result nor why there is none.
export const missing = (state) =>
  [...state.tasks].filter(([, task]) => !task.heads.length).map(([name]) => name);
