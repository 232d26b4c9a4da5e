// Say the templates of said.js with a catalogue: node check_words.mjs < catalogue
import { readFileSync } from "node:fs";
import { said } from "./said.js";
import { choose, speak } from "../../static/field/words.js";

const english = said("Lund", 3).map(String);
speak(JSON.parse(readFileSync(0, "utf8")));
const spoken = said("Lund", 3).map(String);
const asked = [["de", ["fr"]], ["", ["tlh", "fr-FR", "de"]], ["", ["en-US"]], ["xx", ["EN-gb"]], ["", []]];
console.log(JSON.stringify({ english, spoken, chosen: asked.map((one) => choose(...one)) }));
