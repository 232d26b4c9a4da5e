"""Which door each address has, written down: a door is not weakened by accident.

A page that is not in the list yet is no fault: `PYTHONPATH=. python tests/test_doors_list.py`
writes the list anew, and the change of each line is there to be read.
"""

from pathlib import Path

from contractor.tenancy import checks

LIST = Path(__file__).with_name("doors.txt")


def doors() -> dict[str, str]:
    from tests.test_wall import ROUTES, door

    return {name: f"{path}  {door(view)}" for path, name, view in ROUTES}


def test_every_door_is_the_one_that_was_written_down():
    written = dict(line.split("  ", 1) for line in LIST.read_text().splitlines())
    there = doors()
    changed = {
        name: (is_, there.get(name, "gone"))
        for name, is_ in written.items()
        if there.get(name) != is_
    }
    assert changed == {}, "Read each change; then write the list anew."
    assert len(written) > 190


def test_every_firm_model_is_as_the_wall_needs_it():
    assert list(checks._problems()) == []


if __name__ == "__main__":
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    lines = sorted(f"{name}  {said}" for name, said in doors().items())
    LIST.write_text("\n".join(lines) + "\n")
