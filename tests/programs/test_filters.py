"""Each filter of each list narrows it, and a list cut into pages is the same list."""

from datetime import date
from uuid import UUID

import pytest

from contractor.programs.examples import KEYS
from contractor.register.models import System
from contractor.tenancy.scope import scope
from tests import factories
from tests.programs.test_examples import operations

pytestmark = pytest.mark.django_db

NOTHING = {"uuid": str(UUID(int=7)), "": "zz-no-such-word"}


def ids(answer):
    assert answer.status_code == 200, answer.content
    return [one.get("id") or str(one) for one in answer.json()["items"]]


def lists(described):
    """List (path, filters) of every operation that answers a list, paths filled in."""
    for method, path, operation in operations(described):
        asked = [one for one in operation["parameters"] if one["in"] == "query"]
        answer = operation["responses"].get("200", {}).get("content", {}).get("application/json")
        if method != "get" or answer is None or "cursor" not in {one["name"] for one in asked}:
            continue
        for one in operation["parameters"]:
            if one["in"] == "path":
                path = path.replace("{" + one["name"] + "}", str(one["example"]))
        yield path, [one for one in asked if one["name"] not in ("cursor", "limit")]


@pytest.fixture
def more(examples_firm):
    """Beside the examples' own: a device that was taken down, and batteries that may stay."""
    with scope(examples_firm.firm_id):
        system = System.objects.get(pk=KEYS["system_id"])
        factories.DeviceFactory(system=system, address="9-999", removed_on=date(2026, 3, 1))
        good = factories.DeviceFactory(
            system=system,
            kind="battery",
            product=None,
            address="B2",
            manufactured_on=date(2025, 3, 1),
            installed_on=date(2025, 4, 1),
        )
        factories.BatterySetFactory(device=good, rated_ah=40.0)
        factories.BatteryTestFactory(device=good)


def test_each_filter_narrows_and_refuses_what_it_does_not_know(program, described, more):
    wrong, tried = [], 0
    for path, filters in lists(described):
        for one in filters:
            tried += 1
            name, schema = one["name"], one["schema"]
            if values := schema.get("enum"):
                found = [ids(program.call("get", f"{path}?{name}={value}")) for value in values]
                if all(each == found[0] for each in found):
                    wrong.append(f"{path} {name}: each value shows the same")
                if program.call("get", f"{path}?{name}=zz").status_code != 400:
                    wrong.append(f"{path} {name}: takes what it does not know")
                continue
            nothing = NOTHING[schema.get("format", "")]
            if ids(program.call("get", f"{path}?{name}={nothing}")):
                wrong.append(f"{path} {name}: {nothing} narrows nothing")
            if "example" in one and not ids(program.call("get", f"{path}?{name}={one['example']}")):
                wrong.append(f"{path} {name}: the example finds nothing")
            if "format" in schema and program.call("get", f"{path}?{name}=x").status_code != 400:
                wrong.append(f"{path} {name}: takes what is no key")
    assert not wrong, "\n".join(wrong)
    assert tried > 15


def test_a_list_page_by_page_is_the_whole_list(program, described):
    several = 0
    for path, _ in lists(described):
        whole, found, cursor = ids(program.call("get", f"{path}?limit=200")), [], ""
        several += len(whole) > 1
        for _ in range(len(whole) + 2):
            answer = program.call("get", f"{path}?limit=1{cursor}").json()
            if answer["next"] is None and len(answer["items"]) > 1:
                found = whole  # short by nature: it comes whole
                break
            found += ids_of(answer)
            if answer["next"] is None:
                break
            cursor = f"&cursor={answer['next']}"
        assert found == whole, path
    assert several > 8


def ids_of(answer):
    assert len(answer["items"]) <= 1
    return [one.get("id") or str(one) for one in answer["items"]]


@pytest.mark.parametrize("limit", ["0", "201", "-1", "1.5", "x", "²", ""])
def test_what_is_no_limit_is_refused(program, limit):
    answer = program.call("get", f"customers/?limit={limit}")
    assert answer.status_code == 400
    assert "1 to 200" in answer.json()["fields"]["limit"][0]


@pytest.mark.django_db
@pytest.mark.parametrize("year", ["0207", "1899", "2200", "9999"])
def test_a_day_of_an_impossible_year_is_refused(program, year):
    """Stored once, it would stop every due date of its building from being counted."""
    building = {"of": f"building:{KEYS['building_id']}"}
    more = {"edition": "nfpa72-2019", "reason": "Adopted", "from_on": f"{year}-01-01"}
    alarm = {"happened_at": f"{year}-01-01T09:40", "cause": "unknown"}

    for path, sent in (
        ("edition-changes/", building | more),
        ("edition-changes/preview/", building | more),
        (f"buildings/{KEYS['building_id']}/alarms/", alarm),
    ):
        answer = program.call("post", path, sent)
        assert answer.status_code == 400, path
        assert "outside 1900 to 2199" in answer.content.decode()
