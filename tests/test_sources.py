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


def test_no_pattern_is_made_of_what_people_type():
    """ASVS 1.2.9: a pattern is a constant, put together of constants, or escaped."""

    def is_ours(node, inside):
        match node:
            case ast.Constant():
                return True
            case ast.Name(id=name):
                return name.isupper() or name in inside
            case ast.BinOp(left=left, right=right):
                return is_ours(left, inside) and is_ours(right, inside)
            case ast.JoinedStr(values=values):
                return all(is_ours(one, inside) for one in values)
            case ast.FormattedValue(value=value):
                return is_ours(value, inside)
            case (
                ast.Call(args=[ast.Constant("|"), ast.Call(args=[escape, _])])
                | ast.Call(args=[ast.Call(args=[escape, _])])
            ):
                return ast.unparse(escape) == "re.escape"
        return False

    #: Names of constants that stand in a list or table of our own text.
    listed = {"pattern", "words_", "mark"}
    wrong = [
        f"{where}: {ast.unparse(node)}"
        for where, node, name in calls()
        if re.fullmatch(r"re\.(compile|match|fullmatch|search|sub|subn|split|find\w+)", name)
        if not is_ours(node.args[0], listed)
    ]
    assert wrong == []
    text = "\n".join(path.read_text() for path in TREES)
    assert not re.search(r"__i?regex\b|SIMILAR TO", text)


def test_what_is_filled_in_is_our_own_text():
    """ASVS 1.3.10: `.format` reaches into what it is given, so its left side is never typed."""
    ours = {
        "_NOW if until is None else _THEN",
        "dateformat",  # Django's module
        # Shapes of addresses made by `reverse`, of numbers, of names in the demo and of constraints
        "address", "form", "href", "p", "self.premises.address",
    }  # fmt: skip
    found = {
        ast.unparse(node.func.value)
        for _, node, name in calls()
        if name.endswith(".format") and not isinstance(node.func.value, ast.Constant)
    }
    found = {one for one in found if not re.fullmatch(r"[A-Z_]+", one)}  # constants of a file
    assert found <= ours
    assert [where for where, _, name in calls() if name.endswith("format_map")] == []


def test_values_in_addresses_are_escaped():
    """ASVS 1.2.2: what stands behind a question mark is a key, a day, a number, or escaped."""
    plain = r"[\w.]*\.(pk|key|number|task|\w+_id)|[\w.]+\|date:'Y-m-d'|(.*\|urlencode(:'')?)"
    #: Words of a list of ours.
    words = {"key", "name", "show", "span"}
    found = {
        (path.name, said)
        for path in sorted(ROOT.glob("templates/**/*.html"))
        for said in re.findall(r"[?&;]\w+=\{\{\s*(.*?)\s*\}\}", path.read_text())
    }
    assert len(found) > 30
    wrong = {one for one in found if not re.fullmatch(plain, one[1]) and one[1] not in words}
    assert wrong == set()


def test_ciphers_and_hashes_are_those_of_libraries():
    """ASVS 11: nothing of our own making, nothing weak; blake2b names kept answers only."""
    assert importers("Crypto", "nacl", "rsa", "M2Crypto", "crypt") == set()
    named = {name for _, _, name in calls() if re.fullmatch(r"hashlib\.\w+", name)}
    assert named == {"hashlib.sha256"}
    text = "\n".join(path.read_text() for path in TREES)
    assert set(re.findall(r"from hashlib import (.*)", text)) == {"sha256", "blake2b"}
    ciphers = set(re.findall(r"ciphers[\w.]* import (.*)|\b(MD5|SHA1|ECB|CBC|ARC4)\b", text))
    assert ciphers == {("AESGCM", "")}


def test_where_query_and_body_are_read_alike():
    """ASVS 15.3.7: what is done is read from the body; these only ask, or say where one stood."""
    both = set()
    for path, tree in TREES.items():
        for node in ast.walk(tree):
            said = ast.unparse(node) if isinstance(node, ast.BoolOp | ast.Set) else ""
            if "request.GET" in said and "request.POST" in said:
                both.add(f"{path.relative_to(ROOT)}: {said}")
    assert both == {
        "contractor/readings/views/intakes.py:"
        " request.POST.get('back') or request.GET.get('back', '')",
        "contractor/reports/views.py: request.POST or request.GET or None",  # the code of a paper
        "contractor/visits/views/log.py:"
        " request.GET.get('show') or request.POST.get('show', 'alarm')",
    }


def test_every_test_that_a_page_names_is_there():
    for page in ("docs/asvs.md", "docs/threat-model.md"):
        text = (ROOT / page).read_text()
        named = set(re.findall(r"`(tests/[\w/.]+|script/\w+)", text))
        assert named
        assert [one for one in named if not (ROOT / one).exists()] == [], page


def test_scripts_write_under_no_name_that_others_gave():
    """ASVS 15.3.6: where a name is not a word of the script itself, it is one of its own lists.

    An attribute that a tablet changed is written only where the device has it with the value said.
    """
    found = {
        f"{path.name}: {said}"
        for path in SCRIPTS
        for said in re.findall(r"[\w.]+\[[a-zA-Z_.]+\] = (?!=).*", path.read_text())
    }
    assert {one.partition(" = ")[0] for one in found} == {
        "choices.js: root.dataset[key]", "start.js: root.dataset[key]",
        "theme.js: document.documentElement.dataset[key]",
        "judge.js: found[name]", "judge.js: read[key]", "device.js: ctx.memory[kept]",
        "device.js: ctx.memory.said[reading]", "device.js: memory.said[name]",
        "finish.js: memory[id]", "entries.js: bytes[place]",
        "visit.js: device[one.body.field]",
    }  # fmt: skip
    text = "\n".join(path.read_text() for path in SCRIPTS)
    assert not re.search(r"__proto__|\.constructor\[|structuredMerge|deepMerge", text)
