"""What the environment may hold is written down, and what is written down is read."""

import ast
import re
from pathlib import Path

import pytest

from contractor import env

HERE = Path(__file__).resolve().parent.parent
DOCS = (HERE / "docs/configuration.md").read_text()


def variables_read() -> set[str]:
    """Find the names that contractor/ hands to env.py's readers."""
    found = set()
    for file in (HERE / "contractor").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            match node:
                case ast.Call(
                    func=ast.Attribute(value=ast.Name(id="env")),
                    args=[ast.Constant(value=str(name)), *_],
                ):
                    found.add(name)
    return found


def variables_in(heading: str) -> set[str]:
    section = DOCS.split(heading)[1].split("\n## ")[0]
    return set(re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE))


class TestConfigurationPage:
    def test_lists_every_variable_that_is_read_and_no_other(self) -> None:
        assert "DATABASE_URL" in variables_read()
        assert variables_in("# Configuration") == variables_read()

    def test_lists_what_only_compose_reads(self) -> None:
        compose = (HERE / "docker-compose.yml").read_text()
        asked = set(re.findall(r"\$\{(\w+)", compose))

        assert asked - variables_read() == variables_in("## Read by docker-compose.yml only")

    def test_example_names_no_variable_of_its_own(self) -> None:
        example = (HERE / ".env.example").read_text()
        named = set(re.findall(r"^#? ?([A-Z_]+)=", example, re.MULTILINE))

        assert named
        assert named <= set(re.findall(r"`(\w+)`", DOCS))


class TestAddress:
    @pytest.mark.parametrize("given", ["https://d.example", "http://10.1.2.3:8000", "http://[::1]"])
    def test_is_taken_without_its_slash(self, given, monkeypatch) -> None:
        monkeypatch.setenv("BASE_URL", given + "/")

        assert env.address("BASE_URL", "") == given
        assert env.host_of(given) == given.partition("//")[2].removesuffix(":8000")

    @pytest.mark.parametrize(
        "given", ["d.example", "ftp://d.example", "https://d.example/driftbook", "https://a@d.example",
                  "https://d.example?x=1", "https://[::1", "http://d.example:99999"],
    )  # fmt: skip
    def test_refuses_what_no_link_could_begin_with(self, given, monkeypatch) -> None:
        monkeypatch.setenv("BASE_URL", given)

        with pytest.raises(env.BadEnvironment, match=r"BASE_URL is .* Use https://"):
            env.address("BASE_URL", "")
