"""Make and run one random schedule of tablets, faults and a server that may be restored."""

import contextlib
from collections import defaultdict
from unittest import mock

from django.db import transaction

from contractor.field import queries, services
from contractor.field.models import Received
from contractor.field.services import entering
from contractor.readings.models import Reading
from contractor.register.models import SENSITIVE_KINDS
from contractor.visits.models import Entry, EntryKind
from tests.field.paper import Lost, PaperTablet, folded, key, server_state, statement_of, stored_ids

STEPS = (3, 9)


def run_schedule(*, chance, rows, member, visit, devices, now) -> int:
    """Run one schedule to its end and check it; answer how many entries were made.

    In every third, nothing is entered at once: the background does it, whenever it comes to it.
    """
    at_once = chance.choice([0, 2, services.AT_ONCE])
    with mock.patch.object(entering, "AT_ONCE", at_once):
        return _run(chance, rows, member, visit, devices, now)


def _run(chance, rows, member, visit, devices, now) -> int:
    tablets = [PaperTablet(row, member, visit) for row in rows[: chance.randint(1, 3)]]
    start = transaction.savepoint_create()
    backup = None
    for _ in range(chance.randint(*STEPS)):
        step = chance.random()
        tablet = chance.choice(tablets)
        if step < 0.5:
            save_one(chance, tablet, devices)
        elif step < 0.82:
            try_to_sync(chance, tablet, now)
        elif step < 0.86:
            services.apply_stored(visit_id=visit.pk, now=now, most=chance.randint(1, 4))
        elif step < 0.93 and backup is None:
            backup = transaction.savepoint_create()
        elif backup is not None:
            transaction.savepoint_rollback(backup)  # the server is restored
    for tablet in chance.sample(tablets, len(tablets)):  # all come together at last
        tablet.sync(now)
    work_off(visit, now)
    for tablet in tablets:
        tablet.pull()
    made = [entry for tablet in tablets for entry in tablet.made]
    first = server_state(visit)
    check(made, tablets, visit, devices, first)
    transaction.savepoint_rollback(start)
    deliver_shuffled(chance, tablets, now)
    work_off(visit, now)
    assert server_state(visit) == first
    return len(made)


def work_off(visit, now):
    """Do what the background does until nothing is left; nothing stays behind unseen."""
    while queries.count_stored(visit=visit):
        services.apply_stored(visit_id=visit.pk, now=now)


def save_one(chance, tablet, devices):
    """Save what a technician might: a result, a reading, a reason, a cleaning, a correction."""
    device = chance.choice(devices)
    kind = chance.random()
    sensitive = device.kind in SENSITIVE_KINDS
    if sensitive and kind < 0.35:
        stage = chance.choice(["as_found", "as_found", "as_left"])
        tablet.save(
            "reading",
            device.pk,
            body={
                "task": "sensitivity",
                "stage": stage,
                "method": "control_unit",
                "said": {"measured": chance.choice(["2.0", "2.6", "4.4"]), "unit": "%/ft"},
            },
            supersedes=tablet.standing(device.pk, "sensitivity", stage),
        )
    elif sensitive and kind < 0.42:
        tablet.save("cleaned", device.pk)
    elif kind < 0.7:
        result = chance.choice(["pass", "pass", "fail"])
        tablet.save(
            "result",
            device.pk,
            body={
                "task": "functional",
                "result": result,
                "reason": "Damaged" if result == "fail" else "",
            },
            supersedes=tablet.standing(device.pk, "functional"),
        )
    elif kind < 0.82:
        tablet.save(
            "not_tested",
            device.pk,
            body={"task": "functional", "reason": "Room locked"},
            supersedes=tablet.standing(device.pk, "functional"),
        )
    elif kind < 0.9 and (standing := tablet.standing(device.pk, "functional")):
        tablet.save("taken_back", device.pk, body={"task": "functional"}, supersedes=standing[:1])
    else:
        tablet.save("note", device.pk, body={"text": "Ladder needed."})


def try_to_sync(chance, tablet, now):
    """Sync over a line that may break anywhere, in whatever order, in batches of any size."""
    breaks_at = chance.choice(
        [None, None, "hello", "hello answer", "request", "answer", "pull", "pull answer"]
    )
    left = chance.randint(0, 1)

    def lose(step):
        nonlocal left
        if step == breaks_at:
            if left == 0:
                raise Lost
            left -= 1

    with contextlib.suppress(Lost):
        tablet.sync(
            now,
            most=chance.randint(1, 5),
            order=chance.shuffle if chance.random() < 0.3 else None,
            lose=lose,
        )


def check(made, tablets, visit, devices, state):
    """Nothing is lost, nothing doubled, and the state is the fold of what was said."""
    assert sorted(key(one) for one in made) == stored_ids(visit)
    assert Received.objects.filter(visit=visit).count() == len(made)
    asked = {
        str(device.pk): (
            ("functional", "sensitivity") if device.kind in SENSITIVE_KINDS else ("functional",)
        )
        for device in devices
    }
    assert state == folded(made, asked)
    for tablet in tablets:
        assert len(tablet.acknowledged) == len(tablet.made)
        known = {statement_of(one) for one in (*tablet.made, *tablet.others.values())}
        assert known == {statement_of(one) for one in made}
    check_readings(visit, devices)


def check_readings(visit, devices):
    """A reading counts as long as its entry stands, and no longer."""
    said, gone, counted = defaultdict(dict), defaultdict(set), defaultdict(set)
    for one in Entry.objects.filter(visit=visit):
        gone[one.device_id].update(one.supersedes)
        if one.kind == EntryKind.READING:
            said[one.device_id][str(one.pk)] = one.reading_id
    for reading in Reading.objects.filter(visit_id=visit.pk, withdrawal=None):
        counted[reading.device_id].add(reading.pk)
    for device in devices:
        stands = {of for key, of in said[device.pk].items() if key not in gone[device.pk]}
        assert counted[device.pk] == stands


def deliver_shuffled(chance, tablets, now):
    """Deliver everything once more to a server that knows nothing, in another order."""
    queue = [(tablet, entry) for tablet in tablets for entry in tablet.made]
    chance.shuffle(queue)
    while queue:
        tablet = queue[0][0]
        batch = [entry for owner, entry in queue[: chance.choice([2, 20])] if owner is tablet]
        queue = [one for one in queue if one[1] not in batch]
        services.take_in(tablet=tablet.row, sender=tablet.member, entries=batch, now=now)
