"""Which door each address has, written down: a door is not weakened by accident.

Every address of the resolver stands in `doors.txt`, and every operation of the API with the
permission it asks for; one that does not is not classified yet, and fails here. A new one is
written into the list by `script/embedded.py --throwaway -- env PYTHONPATH=. python
tests/test_doors_list.py`; the change of each line is there to be read.
"""

from pathlib import Path
from typing import Any

from contractor.tenancy import checks

LIST = Path(__file__).with_name("doors.txt")


def operations_of(view: Any) -> dict[str, str]:
    """Name what each method of an address of the API asks for."""
    methods = {name: getattr(view.cls, name, None) for name in ("get", "post", "patch", "delete")}
    return {
        name: f"api:{act.operation.permission}"
        for name, act in methods.items()
        if hasattr(act, "operation")
    }


def doors() -> dict[str, str]:
    """Name every address, and what opens it."""
    from tests.test_wall import FOREIGN, door, every_route

    found = {}
    for path, name, view in every_route():
        assert name not in found, f"Two addresses are called {name}."
        if path.startswith("/api/v1/f/"):
            for method, opens in operations_of(view).items():
                found[f"{method}:{path.removeprefix('/api/v1/f/<slug:firm>')}"] = opens
        elif name.startswith(tuple(FOREIGN)):
            found[name] = f"{path}  sign-in: allauth's own"
        else:
            found[name] = f"{path}  {door(view)}"
    return found


def written() -> dict[str, str]:
    """Read the list."""
    return dict(line.split("  ", 1) for line in LIST.read_text().splitlines())


def test_every_door_is_the_one_that_was_written_down():
    listed, there = written(), doors()
    changed = {
        name: (listed.get(name, "not in the list"), there.get(name, "gone"))
        for name in listed.keys() | there.keys()
        if there.get(name) != listed.get(name)
    }
    assert changed == {}, "Read each change; then write the list anew (see above)."
    assert len(listed) > 400


def test_every_operation_of_the_description_is_in_the_list():
    from contractor.programs import schema

    described = {
        f"{method}:{path.removeprefix('/api/v1/f/{firm}')}"
        for path, methods in schema.describe()["paths"].items()
        for method in methods
    }
    listed = {_as_described(name) for name in written() if ":/" in name}
    assert described == listed


def _as_described(name: str) -> str:
    parts = name.split("/")
    return "/".join("{" + p.partition(":")[2][:-1] + "}" if p[:1] == "<" else p for p in parts)


def test_every_firm_model_is_as_the_wall_needs_it():
    assert list(checks._problems()) == []


if __name__ == "__main__":
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    lines = sorted(f"{name}  {said}" for name, said in doors().items())
    LIST.write_text("\n".join(lines) + "\n")
