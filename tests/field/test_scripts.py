"""The tablet folds, judges and hashes as the server does: both are held to the same cases."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.field import vectors

ROOT = Path(__file__).resolve().parents[2]
SCRIPTS = ROOT / "static" / "field"


def rounded(value):
    return json.loads(json.dumps(value), parse_float=lambda text: round(float(text), 12))


@pytest.mark.parametrize("name", vectors.MADE)
def test_the_cases_are_what_the_engine_says(name):
    assert rounded(vectors.MADE[name]()) == rounded(vectors.load(name)), (
        "A rule has changed. Write the cases anew: python -m tests.field.vectors, and look at them."
    )


@pytest.mark.skipif(shutil.which("node") is None, reason="node is missing; Chromium checks it too")
def test_the_tablets_scripts_say_the_same():
    said = subprocess.run(
        ["node", str(ROOT / "tests/field/check_vectors.mjs"), str(SCRIPTS), str(vectors.DATA)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert said.returncode == 0, said.stderr
    found = json.loads(said.stdout)

    assert found["checked"] > 800
    assert not found["wrong"], json.dumps(found["wrong"][:3], indent=1, ensure_ascii=False)
