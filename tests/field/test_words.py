"""Every word that the tablet's app shows is marked for translation, and reaches whoever holds it.

What is left of an html`…` template without its values is HTML that somebody reads; a plain text of
two words or one that begins like a sentence is shown too, unless it is named here.
"""

import json
import re
import shutil
import subprocess

import pytest
from django.utils import translation

from contractor.field import packs, shell
from contractor.register.models import Kind
from contractor.settings import BASE_DIR, LANGUAGES
from contractor.visits import cautions, queries, reasons, walk
from script import messages
from tests.web.test_marked import Words, words_of

SCRIPTS = BASE_DIR / "static" / "field"
FILES = sorted(SCRIPTS.rglob("*.js"))
PLACES = re.compile(r"\{\w+\}|</?b>")
MARKING = {"t", "mark", "rich", "many"}
#: Written into entries, which keep English; or never shown.
KEPT = {
    "Photo.", "Photo, kept smaller than usual: it did not fit.", "Photo not saved: ",
    "Photo not saved: the tablet's storage is full.", "Signed on the tablet by .",
    "No signature: ", " of ", "Test mode ended", "Test mode begun",
    "Bypassed or disconnected: ", "Restored: ", "Deficiency found on the spot",
    "Impairment: out of service", "in range", "out of range",
    # to developers
    "Another window wrote at the same time.",
    "An entry holds whole numbers; measures stay as typed.",
    "read back differently", "No worker.", "No words.", "No words in .", "Not saved.",
    "Sending stopped.", " did not come: ", " is of another version.",
    # to machines
    "(prefers-color-scheme: dark)", "take over", "in use", "let go", "counts all",
    # English months, which browsers shorten differently
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
}  # fmt: skip


class Scanner:
    """Read a script: which texts it says plainly, and what its templates hold besides values."""

    def __init__(self, text):
        self.text, self.at = text, 0
        self.plain, self.templates, self.open = [], [], []
        self.read_code()

    def read_code(self, is_value=False):
        deep = len(self.open)
        while self.at < len(self.text):
            here = self.text[self.at]
            if self.text.startswith("//", self.at):
                self.at = self.find("\n")
            elif self.text.startswith("/*", self.at):
                self.at = self.find("*/") + 2
            elif here == "/" and re.search(r"(^|[(,=:\[!&|?{};>]|return)\s*$", self.before()):
                self.at = (
                    re.compile(r"/(?:\\.|\[(?:\\.|[^\]])*\]|[^/\\\[])+/\w*")
                    .match(self.text, self.at)
                    .end()
                )
            elif here in "\"'":
                self.read_plain(here)
            elif here == "`":
                self.read_template()
            elif here in "([{":
                name = re.search(r"([\w.]*)\s*$", self.before()).group(1)
                self.open.append(name.split(".")[-1] if here == "(" else "")
                self.at += 1
            elif here in ")]}":
                if is_value and len(self.open) == deep:
                    self.at += 1
                    return
                self.open.pop()
                self.at += 1
            else:
                self.at += 1

    def before(self):
        return self.text[max(0, self.at - 40) : self.at]

    def find(self, text):
        found = self.text.find(text, self.at)
        return len(self.text) if found < 0 else found

    def read_plain(self, mark):
        found = re.compile(rf"{mark}((?:\\.|[^{mark}\\])*){mark}").match(self.text, self.at)
        is_key = re.match(r"\s*:", self.text[found.end() :]) and self.before().rstrip()[-1:] in "{,"
        if not is_key and not (self.open and self.open[-1] in MARKING):
            self.plain.append(found.group(1))
        self.at = found.end()

    def read_template(self):
        is_html = self.before().endswith("html")
        self.at += 1
        pieces = []
        while self.text[self.at] != "`":
            if self.text.startswith("${", self.at):
                self.at += 2
                self.read_code(is_value=True)
            else:
                pieces.append(self.text[self.at])
                self.at += 2 if self.text[self.at] == "\\" else 1
        self.at += 1
        said = "".join(pieces)
        if is_html or "<" in said:
            self.templates.append(said)
        else:
            self.plain.append(said)


def unmarked(text):
    """List what somebody would read that is not marked."""
    scanned = Scanner(text)
    found = [
        one
        for one in scanned.plain
        if one not in KEPT
        and words_of(one)
        and re.search(r"[^\W\d_]{2,}[,;:.]? [^\W\d_]{2,}|^[A-Z][a-z]+\.?$", one)
    ]
    for template in scanned.templates:
        if re.fullmatch(r'[a-z-]+(="\w*")?', template):  # an attribute alone
            continue
        parser = Words()
        parser.feed(template)
        parser.close()
        found += parser.found
    return found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('x = html`<p class="a b">Words ${t("Said")}</p>`', ["Words"]),
        ('x = html`<p title="${a ? `Go on` : ""}">${a}</p>`', ["Go on"]),
        ('x = html`<i title="Go">${a ? html`<b>Here</b>` : "to be"}</i>`', ["to be", "Here", "Go"]),
        ('t("One {a}", { a: "of two" }); many("a b", "c d", 2); say("aa bb")', ["of two", "aa bb"]),
        ('x = /["`]/.test(a) ? "Visits" : "visits"; // no words', ["Visits"]),
    ],
)  # fmt: skip
def test_finds_what_is_not_marked(text, found):
    assert unmarked(text) == found


def marked(text):
    """List what a script marks: each first text of t, mark, rich and many."""
    code = re.sub(r"^ *//.*", "", text, flags=re.MULTILINE)
    found = re.findall(r'\b(?:t|mark|rich|many)\(\s*"((?:[^"\\]|\\.)*)"', code)
    return [one.replace('\\"', '"') for one in found]


@pytest.mark.parametrize("locale", messages.LOCALES)
def test_the_catalogues_hold_what_the_app_says(locale):
    """Where this fails, a text of the app has changed: type script/messages."""
    text = (BASE_DIR / "locale" / locale / "LC_MESSAGES" / "field.po").read_text()
    held = {json.loads(said) for said in re.findall(r'^msgid (".+")$', text, re.MULTILINE)}
    asked = {said for path in FILES for said in marked(path.read_text())}
    assert asked ^ held == set()
    assert len(asked) > 350
    assert "#, fuzzy" not in text  # what is so marked is said in English


@pytest.mark.parametrize("locale", messages.LOCALES)
def test_translations_keep_the_places_and_the_bold_words(locale):
    text = (BASE_DIR / "locale" / locale / "LC_MESSAGES" / "field.po").read_text()
    wrong = []
    for key, said in messages.read_po(text).items():
        wanted = {place for one in key.split("\0") for place in PLACES.findall(one)}
        if key and any(set(PLACES.findall(one)) != wanted for one in said.split("\0")):
            wrong.append((key, said))
    assert wrong == []


def test_every_word_of_the_app_is_marked():
    wrong = {path.name: found for path in FILES if (found := unmarked(path.read_text()))}
    assert wrong == {}, "Mark them: docs/languages.md says how."
    assert len(FILES) > 25


class TestPackedWords:
    """What packs say in English has a catalogue's entry, or it would be English for all."""

    def test_are_all_named_to_the_app(self):
        named = set(re.findall(r'mark\("((?:[^"\\]|\\.)*)"\)', (SCRIPTS / "packed.js").read_text()))
        with translation.override("en"):
            said = [
                *(walk.say_kind(kind) for kind in Kind.values),
                *(str(name) for _, name in (*queries.TASKS, *queries.METHODS)),
                *(reason for some in reasons.FAILED.values() for reason in some),
                *reasons.NOT_TESTED,
                *reasons.REPLACED,
                *cautions.CAUTIONS,
            ]
        assert [str(one) for one in said if str(one) not in named] == []
        assert len(said) > 40

    def test_stay_english_whoever_asks(self, visit, technician, now):
        with translation.override("de"):
            pack = packs.make(visit=visit, member=technician, now=now)
        told = json.loads(pack["parts"]["rules"])
        assert told["tasks"]["functional"] == "functional test"
        assert told["not_tested"] == list(reasons.NOT_TESTED)


class TestTheShell:
    """The app comes as one version for all, with the words of each language."""

    def test_is_the_same_in_each_language(self):
        made = set()
        for language, _ in LANGUAGES:
            with translation.override(language):
                made.add(shell._make().page)
        assert len(made) == 1

    def test_holds_each_catalogue(self):
        listed = json.loads(re.search(r"SHELL = (\{.*\});\n", shell._make().worker).group(1))
        kept = {file["url"].rpartition("/static/")[2] for file in listed["files"]}
        wanted = {f"field/words/{language}.json" for language, _ in LANGUAGES if language != "en"}
        assert wanted <= kept
        told = re.search(r"LANGUAGES = (\[.*\]);", (SCRIPTS / "words.js").read_text()).group(1)
        assert json.loads(told) == [language for language, _ in LANGUAGES]


SAY = """
const words = await import(process.argv[1]);
const { readFileSync } = await import("node:fs");
words.speak("fr-ca", JSON.parse(readFileSync(process.argv[2])).words);
const judge = await import(process.argv[1].replace("words.js", "judge.js"));
const device = { marked_low: 1, marked_high: 3, setting: 2 };
const { packed } = await import(process.argv[1].replace("words.js", "packed.js"));
const judged = judge.understand(device, { measured: "2.5" });
console.log(JSON.stringify({
  none: words.many("{n} device", "{n} devices", 0),
  some: words.many("{n} device", "{n} devices", 2),
  unknown: words.t("not {in} the catalogue", { in: 3 }),
  reason: judged.reason,
  verdict: words.sayVerdict(judged),
  near: [["fr-FR"], ["en-GB"], ["tlh", "de-AT"], ["tlh"]].map(words.fromBrowser),
  packed: process.argv.slice(3).map(packed),
  problem: new words.Problem("{n} files of the app", { n: 2 }).message,
}));
"""
CATALOGUE = {
    "{n} device": ["{n} appareil", "{n} appareils"],
    "Alarms at {value} %/ft; {marks}: {verdict}": "Alarme à {value} %/pi; {marks} : {verdict}",
    "marked {low} to {high} %/ft": "plage de {low} à {high} %/pi",
    "in range.": "dans la plage.",
    "Damaged": "Endommagé",
    "Secure first, and count: {circuits}": "Sécuriser : {circuits}",
    cautions.CAUTIONS[2]: "Attendre; compter.",
}
#: What a pack says, what is shown of it; what somebody typed stays.
PACKED = {
    "Damaged": "Endommagé",
    "Damaged; Painted": "Endommagé; Painted",
    "Damaged by rain": "Damaged by rain",
    cautions.CAUTIONS[2]: "Attendre; compter.",
    "Secure first, and count: hood": "Sécuriser : hood",
}


@pytest.mark.skipif(shutil.which("node") is None, reason="node is missing; Chromium checks it too")
def test_says_it_in_another_language_and_keeps_english(tmp_path):
    kept = tmp_path / "fr-ca.json"
    kept.write_text(json.dumps({"words": CATALOGUE}))
    done = subprocess.run(
        ["node", "--input-type=module", "-e", SAY, str(SCRIPTS / "words.js"), str(kept), *PACKED],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)

    assert said["none"] == "0 appareil"  # French counts nothing as one
    assert said["some"] == "2 appareils"
    assert said["unknown"] == "not 3 the catalogue"
    assert said["reason"] == "Alarms at 2.5 %/ft; marked 1.0 to 3.0 %/ft: in range."
    assert said["verdict"] == "Alarme à 2,5 %/pi; plage de 1,0 à 3,0 %/pi : dans la plage."
    assert dict(zip(PACKED, said["packed"], strict=True)) == PACKED
    assert said["near"] == ["fr-ca", "en-gb", "de", "en"]
    assert said["problem"] == "2 files of the app"
