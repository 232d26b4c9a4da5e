// Run the tablet's own scripts over the cases; print what differs. Arguments: static/field, data.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
const [scripts, data] = process.argv.slice(2);
const load = (name) => JSON.parse(readFileSync(`${data}/${name}.json`, "utf8"));
const url = (name) => pathToFileURL(`${scripts}/${name}`).href;
const { run } = await import(url("../../tests/field/run_vectors.js"));
const modules = {
  fold: await import(url("fold.js")),
  judge: await import(url("judge.js")),
  canonical: await import(url("canonical.js")),
  labels: await import(url("labels.js")),
  trade: await import(url("trade.js")),
};
const names = ["folding", "judging", "hashing", "labels", "measuring"];
const cases = Object.fromEntries(names.map((name) => [name, load(name)]));
console.log(JSON.stringify(await run(modules, cases)));
