"""Collect the words that Python keeps in English and a page says in its language.

Names of choices, labels of forms, words of states, names of pages, sentences said after a deed or
raised against it: they stand in the code in plain English, go into records and the trail as they
are, and are translated where they are shown (`{{ words|spoken }}`). What is put together of pieces
(an f-string) is not collected: say it with `gettext("… %(name)s …") % {…}`.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

#: Calls of which every text is said to people: names of pages, shelves, help.
SAYING = {
    "Help",
    "Book",
    "Shelf",
    "Step",
    "_form",
    "form_page",
    "ask",
    "Tick",
    "field",
    "Component",
}
#: Calls whose last text is said.
AFTER_A_DEED = {"success", "error", "warning", "info", "add_error", "ValidationError"}
NAMED = {"label", "help_text", "word", "words", "means", "title", "about", "button", "heading"}
NAMED |= {"name", "deed", "empty", "said", "verbose_name", "required", "invalid"}


def _text(node: ast.AST | None) -> str:
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return node.value if is_text else ""  # type: ignore[union-attr,return-value]


def _texts(node: ast.AST) -> Iterator[str]:
    """List the texts of a nest of tuples, lists and dicts."""
    if isinstance(node, ast.Tuple | ast.List | ast.Set):
        for inner in node.elts:
            yield from _texts(inner)
    elif isinstance(node, ast.Dict):
        for inner in node.values:
            yield from _texts(inner)
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)
    elif isinstance(node, ast.BoolOp):
        for inner in node.values:
            yield from _texts(inner)
    elif _text(node):
        yield _text(node)


def _is_said(text: str) -> bool:
    """Whether a text is words, and no key, path, name of a field or pattern."""
    if not any(letter.isalpha() for letter in text) or len(text) < 2 or len(text) > 600:
        return False
    if " " not in text and any(sign in text for sign in "-./0123456789"):
        return False
    if (
        any(sign in text for sign in "_{}<>=\\@")
        or "::" in text
        or text.startswith(("/", "%", "#"))
    ):
        return False
    is_key = ":" in text and " " not in text
    return not is_key and not (text.isupper() and " " not in text)


def _called(node: ast.Call) -> str:
    return getattr(node.func, "attr", getattr(node.func, "id", ""))


def _of_class(node: ast.ClassDef) -> Iterator[str]:
    if not any("Choices" in ast.unparse(base) for base in node.bases):
        return
    for line in node.body:
        if isinstance(line, ast.Assign) and isinstance(line.value, ast.Tuple):
            yield _text(line.value.elts[-1])


def _unlabelled(node: ast.ClassDef) -> Iterator[str]:
    """List the labels that Django makes of the names of a form's fields."""
    for line in node.body:
        if not (isinstance(line, ast.Assign) and isinstance(line.value, ast.Call)):
            continue
        is_field = ast.unparse(line.value.func).startswith("forms.")
        if is_field and not any(one.arg == "label" for one in line.value.keywords):
            yield getattr(line.targets[0], "id", "").replace("_", " ").capitalize()


def _of_call(node: ast.Call) -> Iterator[str]:
    name = _called(node)
    for keyword in node.keywords:
        if keyword.arg in NAMED or keyword.arg == "choices" or name in SAYING:
            yield from _texts(keyword.value)
    if name in SAYING:
        for given in node.args:
            yield from _texts(given)
    elif name in AFTER_A_DEED and node.args:
        yield from _texts(node.args[-1])


def words_of(path: Path) -> Iterator[str]:
    """List what one module says to people."""
    tree = ast.parse(path.read_text())
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef):
            yield from _of_class(node)
            yield from _unlabelled(node)
        elif isinstance(node, ast.Assign) and "choices" in ast.unparse(node.targets[0]):
            yield from _texts(node.value)
        elif isinstance(node, ast.Call):
            yield from _of_call(node)
        elif isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.exc.args:
            yield from _texts(node.exc.args[0])
    for line in tree.body:
        if isinstance(line, ast.Assign | ast.AnnAssign) and line.value is not None:
            target = line.targets[0] if isinstance(line, ast.Assign) else line.target
            is_constant = getattr(target, "id", "a").isupper()
            if is_constant and isinstance(line.value, ast.Dict | ast.Tuple | ast.List):
                yield from _texts(line.value)


def collect(root: Path) -> dict[str, list[str]]:
    """List the texts of every area, and of the engine's tables, by module."""
    left_out = {
        "migrations",
        "management",
        "demo",
        "editions",
        "layouts",
        "charts",
        "api",
        "api.py",
    }
    left_out |= {"env.py", "settings.py", "urls.py", "tasks.py", "wall.py", "scope.py", "apps.py"}
    left_out |= {"shell.py", "pdf.py", "printing.py", "tables.py", "drawings.py", "custody"}
    found: dict[str, list[str]] = {}
    for path in sorted(root.glob("contractor/**/*.py")):
        is_table = path.name == "model.py" and path.parent.name == "editions"
        if left_out & set(path.relative_to(root).parts) and not is_table:
            continue
        texts = list(dict.fromkeys(filter(_is_said, words_of(path))))
        if texts:
            found[str(path.relative_to(root))] = texts
    return found
