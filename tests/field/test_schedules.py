"""Random schedules against PostgreSQL: nothing lost, nothing doubled, whatever goes wrong.

One to three tablets save, crash, lose requests and answers, send again, send in another order,
take in what others said; the server is restored from a backup. `script/soak/run field` runs more.
"""

import os
import random
from uuid import UUID

import pytest
from django.db import transaction

from contractor.field import services
from contractor.field.models import Received, Review
from tests.field.paper import Lost, PaperTablet, folded, server_state, stored_ids
from tests.field.schedules import run_schedule

SCHEDULES = int(os.environ.get("FIELD_SCHEDULES", "500"))
FIRST = int(os.environ.get("FIELD_FIRST", "0"))  # a soak goes on where an earlier one ended
SHARES = 10


@pytest.mark.parametrize("share", range(SHARES))
def test_random_schedules_lose_and_double_nothing(share, visit, devices, enrol, technician, now):
    rows = [enrol(technician, name=f"Tablet {number}")[0] for number in (1, 2, 3)]
    services.get_ledger(firm_id=visit.firm_id)
    made = 0
    for number in range(FIRST + share, FIRST + SCHEDULES, SHARES):
        point = transaction.savepoint_create()
        made += run_schedule(
            chance=random.Random(number),
            rows=rows,
            member=technician,
            visit=visit,
            devices=devices,
            now=now,
        )
        transaction.savepoint_rollback(point)
    assert made > SCHEDULES // SHARES


def test_the_schedule_would_notice_a_lost_entry(visit, devices, enrol, technician, now):
    """The test can fail: a tablet that drops what was acknowledged loses it in a restore."""
    tablet = PaperTablet(enrol(technician)[0], technician, visit)
    backup = transaction.savepoint_create()
    tablet.save("result", devices[0].pk, body={"task": "functional", "result": "pass"})
    tablet.sync(now)
    tablet.made.clear()
    transaction.savepoint_rollback(backup)
    tablet.sync(now)

    assert stored_ids(visit) == []


def test_a_lost_answer_is_sent_again_and_stored_once(tablet, visit, devices, now):
    tablet.save("result", devices[0].pk, body={"task": "functional", "result": "pass"})

    def lose(step):
        if step == "answer":
            raise Lost

    with pytest.raises(Lost):
        tablet.sync(now, lose=lose)
    tablet.sync(now)

    assert tablet.acknowledged == {tablet.made[0]["id"]: "already"}
    assert len(stored_ids(visit)) == Received.objects.count() == 1
    assert not Review.objects.exists()


def test_what_was_acknowledged_beyond_a_gap_outlives_a_restore(tablet, visit, devices, now):
    """The server holds the second of two, and is restored to where it held neither."""
    services.get_ledger(firm_id=visit.firm_id)  # an epoch of its own would tell of the restore
    for device in devices[:2]:
        tablet.save("result", device.pk, body={"task": "functional", "result": "pass"})
    backup = transaction.savepoint_create()
    answers = []

    def lose(step):
        answers.append(step)
        if answers.count("answer") == 2:
            raise Lost

    with pytest.raises(Lost):
        tablet.sync(now, most=1, order=list.reverse, lose=lose)
    assert list(tablet.acknowledged) == [tablet.made[1]["id"]]
    transaction.savepoint_rollback(backup)
    tablet.sync(now)

    assert stored_ids(visit) == sorted(UUID(one["id"]) for one in tablet.made)


def test_two_tablets_that_do_not_know_of_each_other_are_both_shown(
    tablet, enrol, technician, office, visit, devices, now
):
    other = PaperTablet(enrol(office, name="Tablet 2")[0], office, visit)
    tablet.save("result", devices[0].pk, body={"task": "functional", "result": "pass"})
    other.save(
        "result",
        devices[0].pk,
        body={"task": "functional", "result": "fail", "reason": "No sound or light"},
    )
    tablet.sync(now)
    other.sync(now)

    state = server_state(visit)[str(devices[0].pk)]["functional"]
    assert state[0] == "two_results"
    assert len(state[1]) == 2
    asked = {str(device.pk): ("functional",) for device in devices}
    other.pull()
    assert folded([*other.made, *other.others.values()], asked)[str(devices[0].pk)] == {
        "functional": state
    }
