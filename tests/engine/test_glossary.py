"""One word per thing: every parameter of the engine's front doors is in the glossary."""

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import contractor.engine

GLOSSARY = Path(__file__).parents[2] / "docs" / "glossary.md"


def front_doors():
    """List the public functions of the modules and packages right under the engine."""
    for found in pkgutil.iter_modules(contractor.engine.__path__):
        module = importlib.import_module(f"contractor.engine.{found.name}")
        for name, function in vars(module).items():
            if name.startswith("_") or not inspect.isfunction(function):
                continue
            home = function.__module__
            if home == module.__name__ or home.startswith(f"{module.__name__}."):
                yield f"{found.name}.{name}", function


@pytest.mark.parametrize(("name", "function"), list(front_doors()))
def test_every_parameter_is_explained(name, function):
    explained = set(re.findall(r"`(\w+)`", GLOSSARY.read_text()))
    parameters = {p for p in inspect.signature(function).parameters if not p.startswith("_")}

    assert parameters <= explained, f"{name}: add {parameters - explained} to docs/glossary.md"


def test_no_word_is_explained_twice():
    first_words = re.findall(r"^\| `(\w+)`", GLOSSARY.read_text(), flags=re.MULTILINE)

    assert len(first_words) == len(set(first_words))
