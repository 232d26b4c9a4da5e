"""The tablet's app says every text of its templates from the catalogue of its language."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from script import messages, tablet_words

HERE = Path(__file__).parent
NODE = pytest.mark.skipif(shutil.which("node") is None, reason="node is missing")


def say(words):
    found = subprocess.run(
        ["node", str(HERE / "check_words.mjs")],
        input=json.dumps({"language": "de", "words": words}),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert found.returncode == 0, found.stderr
    return json.loads(found.stdout)


@NODE
def test_what_is_collected_is_what_is_looked_up():
    keys = {*tablet_words.texts_of((HERE / "said.js").read_text())}
    keys |= {("Told", ""), ("on this tablet", "")}
    words = {one: [f"«{one}»", f"«{many}»"] if many else f"«{one}»" for one, many in keys}
    words["{1}, <b>{2} of {3} done</b> by anyone."] = "«von {3} <b>{2}</b>, {1}»"  # another order

    found = say(words)

    assert [*found["spoken"][:8], found["spoken"][10]] == [
        '<p class="note">«One sentence of Lund.»</p>',
        "<p>«von 4 <b>3</b>, Lund»<br>«Then this.»</p>",
        '<button class="button" aria-label="«Undo Lund»">«Undo»</button>',
        '<input placeholder="«Find it»" aria-current="true">',
        "<div><h2>«Inner «heading with words»»</h2></div>",
        "«3 more below»",
        "«3 devices»",
        "«1 entry is»",
        "«Told»",
    ]
    assert ">«on this tablet»<" in found["spoken"][8]
    assert ">«3 sent»<" in found["spoken"][9]
    assert "«" not in "".join(found["english"])
    assert "One sentence of Lund." in found["english"][0]


@NODE
def test_what_the_catalogue_lacks_is_said_in_english():
    found = say({})
    assert found["spoken"] == found["english"]
    assert found["chosen"] == ["de", "fr-ca", "en", "en-gb", "en"]


def test_the_catalogues_hold_what_the_app_says():
    """Where this fails, a text of the app has changed: type script/messages."""
    asked = {one for one, _ in tablet_words.collect(messages.ROOT)}
    kept = (messages.ROOT / "locale" / "de" / "LC_MESSAGES" / "field.po").read_text()
    held = {json.loads(said) for said in re.findall(r'^msgid (".+")$', kept, re.MULTILINE)}
    assert asked - held == set()
    assert len(asked) > 450
