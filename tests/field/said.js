// Templates of every sort, said as the app says its own; test_words.py reads them both ways.
import { count, html, say, stateWord } from "../../static/field/draw.js";
import { t } from "../../static/field/words.js";

export const said = (who, n) => [
  html`<p class="note">One sentence of ${who}.</p>`,
  html`<p>${who}, <b>${n} of ${n + 1} done</b> by
    anyone.<br>Then this.</p>`,
  html`<button class="button" aria-label="Undo ${who}">Undo</button>`,
  html`<input placeholder="Find it" ${n ? html`aria-current="true"` : ""}>`,
  html`<div>${n ? html`<h2>Inner ${n ? "heading with words" : "No"}</h2>` : ""}</div>`,
  say`${n} more below`,
  count(n, "device"),
  count(1, "entry is", "entries are"),
  stateWord("on_tablet"),
  stateWord("sent", say`${n} sent`),
  t("Told"),
];
