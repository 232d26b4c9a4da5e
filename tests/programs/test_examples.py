"""Every example of the API's description, of requests and of answers, against the real rows.

The answers stand in contractor/programs/answers.json. After a change that is meant, write them anew
with RECORD_ANSWERS=1 in the environment, and read each change.
"""

import json
import os
import re
from datetime import datetime
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from contractor.programs import schema
from contractor.programs.examples import KEYS
from tests.programs import world

pytestmark = pytest.mark.django_db
ANSWERS = Path(schema.__file__).with_name("answers.json")
RECORDS = os.environ.get("RECORD_ANSWERS") == "1"


def operations(described):
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            yield method, path, operation


def address_of(path, operation):
    """Fill an address in with the examples of its parameters."""
    asked = []
    for one in operation["parameters"]:
        if one["in"] == "path":
            path = path.replace("{" + one["name"] + "}", str(one["example"]))
        elif "example" in one:
            asked.append(f"{one['name']}={one['example']}")
    return path + ("?" + "&".join(asked) if asked else "")


def call(program, method, path, operation):
    """Call an operation as its example says."""
    content = operation.get("requestBody", {}).get("content", {})
    if "multipart/form-data" in content:
        file = SimpleUploadedFile("list.csv", world.CSV.replace("2.50", "2.70").encode())
        return program.client.post(
            address_of(path, operation),
            {"file": file},
            headers={"Authorization": f"Bearer {program.token}"},
        )
    example = content.get("application/json", {}).get("example")
    return program.call(method, address_of(path, operation), example)


def cut(answer, operation):
    """Keep of an answer what an example needs, with keys and hashes that are the same each time."""
    if "items" in answer:
        answer = {"items": answer["items"][:1], "next": None}
    text, new = json.dumps(answer), {}
    known = {str(one) for one in KEYS.values()}

    def invented(found):
        if found[0] in known:
            return found[0]
        return new.setdefault(found[0], f"019ab5c0-7000-7000-8001-{len(new):012x}")

    def on_the_hour(found):
        at = datetime.fromisoformat(found[0])
        hour = at.replace(minute=0, second=0, microsecond=0).isoformat()
        return hour if at.microsecond else found[0]  # read off the clock, not written in the world

    instant = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?[+-]\d\d:\d\d"
    text = re.sub(instant, on_the_hour, text)
    text = re.sub(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}", invented, text)
    text = re.sub(r"\b[0-9a-f]{64}\b", "5" * 64, text)
    text = re.sub(r'"[0-9a-f]{12}"', '"' + "5" * 12 + '"', text)  # the digests of a record's parts
    text = re.sub(r"\bperson\d+@", "person1@", text)  # counted up over the whole run
    text = re.sub(r"(/c/\w+/)[\w-]+(\.ics)", r"\1SECRET\2", text)
    return json.loads(text)


def test_every_operation_has_an_example_that_holds(program, described):
    wrong, called, made = [], 0, {}
    recorded = json.loads(ANSWERS.read_text())
    registry = Registry().with_resource(
        "api", Resource.from_contents(described, default_specification=DRAFT202012)
    )
    for method, path, operation in operations(described):
        called += 1
        with transaction.atomic():
            answer = call(program, method, path, operation)
            transaction.set_rollback(True)
        wanted = next(iter(operation["responses"]))
        if str(answer.status_code) != wanted:
            wrong.append(f"{method} {path}: {answer.status_code} {answer.content.decode()[:300]}")
            continue
        said = operation["responses"][wanted].get("content", {}).get("application/json")
        if said is None:
            continue
        pointer = f"{path.replace('~', '~0').replace('/', '~1')}/{method}/responses/{wanted}"
        reference = f"api#/paths/{pointer}/content/application~1json/schema"
        check = Draft202012Validator({"$ref": reference}, registry=registry)
        for error in check.iter_errors(answer.json()):
            wrong.append(f"{method} {path}: {error.message} at {list(error.path)}")
        said = cut(answer.json(), operation)
        made[operation["operationId"]] = said
        if not RECORDS and said != recorded.get(operation["operationId"]):
            wrong.append(f"{method} {path}: the answer is not the one in the description: {said}")
        if "items" in answer.json() and "clean" not in path and not answer.json()["items"]:
            wrong.append(f"{method} {path}: an empty list shows nothing")
    assert not wrong, "\n".join(wrong)
    assert called >= 180
    if RECORDS:
        ANSWERS.write_text(json.dumps(made, indent=1, sort_keys=True, ensure_ascii=False) + "\n")
    else:
        assert recorded.keys() == made.keys()
