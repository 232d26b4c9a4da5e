"""Made-up input, right and wrong: the server never fails, and never shows another firm's rows."""

import json

import pytest
from django.core.cache import cache
from django.db import transaction

from contractor.tenancy.scope import scope
from tests.conftest import NOON
from tests.programs import fuzz, world
from tests.programs.conftest import make_program
from tests.test_wall import CANARY, theirs  # noqa: F401  a fixture


@pytest.mark.django_db
def test_made_up_calls_never_fail_the_server(firm, theirs, settings, time_machine):  # noqa: F811
    time_machine.move_to(NOON)
    cache.clear()
    settings.API_PER_MINUTE = 1_000_000
    with scope(firm.pk):
        program = make_program(world.build(firm))
    program.client.raise_request_exception = False
    wrong, done = [], 0

    def act(operation, call):
        nonlocal done
        method, address, data, media, headers = call
        more = {} if data is None else {"data": data, "content_type": media}
        headers = {"Authorization": f"Bearer {program.token}"} | headers
        with transaction.atomic():
            answer = program.client.generic(method, address, headers=headers, **more)
            transaction.set_rollback(True)
        done += answer.status_code < 300
        if answer.status_code >= 500:
            wrong.append(f"{method} {address} {data!r}: {answer.status_code}")
        elif str(answer.status_code) not in operation.definition.raw["responses"]:
            wrong.append(f"{method} {address} {data!r}: {answer.status_code} is not described")
        elif CANARY.encode() in answer.content:
            wrong.append(f"{method} {address} {data!r}: shows another firm's rows")
        elif answer.status_code >= 400:
            assert set(json.loads(answer.content)) >= {"status", "detail", "code", "fields"}

    made = fuzz.run(each=2, seed_number=9, foreign=list(theirs[1].values()), act=act)
    assert not wrong, "\n".join(wrong[:40])
    assert made > 200
    assert done > 40, "hardly a call came through: this proves little"
