"""What must not stand in the program's own text, and must not come into its image."""

import ast
import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(__file__).resolve().parents[1]
TREES = {path: ast.parse(path.read_text()) for path in sorted(ROOT.glob("contractor/**/*.py"))}
SCRIPTS = [p for p in sorted(ROOT.glob("static/**/*.js")) if "vendor" not in p.parts]
#: Reads what a process that it started itself has written, and nothing of anybody else's.
OWN_PICKLE = {"contractor/reports/foreseen.py"}


def calls():
    """List every call in the program: file, the call, the name that is called."""
    for path, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                name = ast.unparse(node.func)
                yield f"{path.relative_to(ROOT)}:{node.lineno}", node, name


def importers(*modules):
    """List the files that import one of them."""
    found = set()
    for path, tree in TREES.items():
        for node in ast.walk(tree):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            if {name.partition(".")[0] for name in names} & set(modules):
                found.add(str(path.relative_to(ROOT)))
    return found


def test_there_is_text_to_look_at():
    assert len(TREES) > 200
    assert len(SCRIPTS) > 30
    assert sum(1 for _ in calls()) > 5000


def test_nothing_of_others_is_unpickled():
    assert importers("pickle", "marshal", "shelve", "yaml", "dill", "jsonpickle") == OWN_PICKLE


def test_chance_that_can_be_foretold_is_not_used():
    assert importers("random") == set()


def test_no_template_comes_from_a_value():
    wrong = [where for where, _, name in calls() if name.endswith(("from_string", "Template"))]
    assert wrong == []


def test_days_are_bounded():
    """A day of the year 207, once stored, would stop every sum over it: ours refuse it."""
    unbounded = {"forms.DateField", "forms.DateTimeField", "fields.DateField"}
    assert [where for where, _, name in calls() if name in unbounded] == []


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_writes_no_raw_markup(path):
    """What is set as markup comes out of `html`, which escapes every value, or is a constant."""
    text = path.read_text()
    assert not re.search(r"\beval\(|new Function|document\.write", text)
    for said in re.findall(r"(?:(?:inner|outer)HTML\s*=\s*|AdjacentHTML\(\S+,\s*)(\S.*)", text):
        # The last two are rows, each `String(html…)`, and what our own server drew by a template.
        fine = r'(said \? )?String\(|"";|added\.join\(|await answer\.text\(\);$'
        assert re.match(fine, said), said


def test_the_log_goes_to_standard_output_only():
    assert [one["class"] for one in settings.LOGGING["handlers"].values()] == [
        "logging.StreamHandler"
    ]


def test_the_image_holds_the_program_and_no_history():
    """Nothing is taken but what is named; of packages, those that run it."""
    ignored = (ROOT / ".dockerignore").read_text().split()
    assert ignored[0] == "*"
    taken = {one[1:] for one in ignored if one.startswith("!")}
    assert taken == {
        "LICENSE", "contractor", "locale", "manage.py", "requirements", "static", "templates",
    }  # fmt: skip
    packages = re.findall(r"-r (\S+)", (ROOT / "Dockerfile").read_text())
    assert packages == ["/requirements/runtime.txt"]
