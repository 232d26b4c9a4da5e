"""Every address of the API is described; no field of a body or query reaches another firm."""

import pytest
from django.core.cache import cache
from django.db import transaction

from contractor.programs.examples import KEYS
from contractor.register.models import System
from contractor.tenancy.keys import uuid7
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON
from tests.programs import world
from tests.programs.conftest import make_program
from tests.programs.test_examples import address_of, operations
from tests.test_wall import CANARY, ROUTES, theirs  # noqa: F401  a fixture


def test_every_address_of_the_api_is_described(described):
    found = set()
    for path, _, view in ROUTES:
        if not path.startswith("/api/v1/f/"):
            continue
        for method in ("get", "post", "put", "patch", "delete"):
            act = getattr(view.cls, method, None)
            if act is None:
                continue
            assert hasattr(act, "operation"), f"{method} {path} is no @operation"
            plain = "/".join(
                "{" + part.partition(":")[2][:-1] + "}" if part.startswith("<") else part
                for part in path.split("/")
            )
            found.add((method, plain))
    assert found == {(method, path) for method, path, _ in operations(described)}


def ids_in(operation):
    """Name the fields of a body that hold a key, and whether they hold several."""
    content = operation.get("requestBody", {}).get("content", {})
    schema = content.get("application/json", {}).get("schema", {})
    for name, one in schema.get("properties", {}).items():
        if one.get("format") == "uuid" and name not in ("visit_id", "entry_id"):
            yield name, False, True  # those two are the program's own new keys
        elif one.get("type") == "array" and "enum" not in one["items"]:
            yield name, True, True
        elif one.get("type") == "string" and not {"enum", "maxLength", "format"} & set(one):
            yield name, False, False  # a choice of this firm's, or plain words


@pytest.mark.django_db(databases=["default", "owner"])
def test_no_field_takes_another_firms_key(firm, other_firm, theirs, described, time_machine):  # noqa: F811
    time_machine.move_to(NOON)
    cache.clear()
    with scope(firm.pk):
        program = make_program(world.build(firm))
    keys, tried = theirs[1], 0
    with scope(other_firm.pk):
        before = rows_of(other_firm)
    for method, path, operation in operations(described):
        address = address_of(path, operation)
        for one in operation["parameters"]:
            if one["in"] == "query" and one["schema"].get("format") == "uuid":
                theirs_key = keys.get(f"{one['name']}_id", keys["building_id"])
                answer = program.call(method, f"{address.split('?')[0]}?{one['name']}={theirs_key}")
                assert CANARY.encode() not in answer.content
                tried += 1
        content = operation.get("requestBody", {}).get("content", {})
        example = content.get("application/json", {}).get("example")
        for name, is_list, is_key in ids_in(operation):
            kind = name.removesuffix("s") if is_list else name
            key = str(keys.get(kind, keys.get(f"{kind}_id", keys["device_id"])))
            body = example | {name: [key] if is_list else key}
            with transaction.atomic():
                answer = program.call(method, address, body)
                transaction.set_rollback(True)
            tried += 1
            assert CANARY.encode() not in answer.content, (method, path, name)
            if is_key:
                assert 400 <= answer.status_code < 500, (method, path, name, answer.content)
    with scope(other_firm.pk):
        assert rows_of(other_firm) == before
    assert tried > 40
    assert KEYS["device_id"] not in keys.values()


def rows_of(firm):
    """Sum up a firm's rows as the firm itself sees them, in the open transaction."""
    from django.db import connection

    from contractor.tenancy import wall

    found = []
    with connection.cursor() as cursor:
        cursor.execute(wall.TABLES)
        for table in [row[0] for row in cursor.fetchall() if row[1]]:
            cursor.execute(
                "select count(*), coalesce(md5(string_agg(t::text, '' order by t::text)), '')"
                f' from "{table}" t where firm_id = %s',
                [firm.pk],
            )
            found.append((table, *cursor.fetchone()))
    return found


def called(program, method, address, body=None):
    """Call, and leave nothing behind."""
    with transaction.atomic():
        answer = program.call(method, address, body)
        transaction.set_rollback(True)
    return answer


def json_of(operation):
    """Give the schema and the example of a body; None where it takes none."""
    content = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
    return content.get("schema", {}), content.get("example")


@pytest.mark.django_db
def test_every_body_is_read_to_the_letter(program, described):
    """A name that is not known, or a value of another kind, is refused and named everywhere."""
    tried, wrong = 0, []
    for method, path, operation in operations(described):
        schema, example = json_of(operation)
        if not isinstance(example, dict):
            continue
        typed = [name for name, one in schema["properties"].items() if one.get("type")]
        for name, value in [("no_such_name", "x"), *((name, {"x": 1}) for name in typed[:1])]:
            answer = called(program, method, address_of(path, operation), example | {name: value})
            tried += 1
            if answer.status_code != 400 or name not in answer.json()["fields"]:
                wrong.append(
                    f"{method} {path} {name}: {answer.status_code} {answer.content!r:.200}"
                )
    assert not wrong, "\n".join(wrong)
    assert tried > 120


@pytest.mark.django_db
def test_every_key_of_an_address_is_looked_for(program, described, firm):
    """One that is nobody's is answered 404; so is a device that is not on the visit."""
    with scope(firm.pk):
        system = System.objects.get(pk=KEYS["system_id"])
        elsewhere = factories.DeviceFactory(system=system).pk
    tried, wrong = 0, []
    for method, path, operation in operations(described):
        keys = {
            one["name"]: one["example"]
            for one in operation["parameters"]
            if one["in"] == "path" and one["schema"].get("format") == "uuid"
        }
        others = [(name, uuid7()) for name in keys]
        if {"visit_id", "device_id"} <= keys.keys():
            others.append(("device_id", elsewhere))
        for name, other in others:
            address = path.replace("{" + name + "}", str(other))
            answer = called(program, method, address_of(address, operation), json_of(operation)[1])
            tried += 1
            if answer.status_code != 404:
                wrong.append(
                    f"{method} {path} {name}: {answer.status_code} {answer.content!r:.200}"
                )
    assert not wrong, "\n".join(wrong)
    assert tried > 100
