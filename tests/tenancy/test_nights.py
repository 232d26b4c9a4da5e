"""What the nights did, and the one that did not run."""

from datetime import UTC, datetime, timedelta

import pytest

from contractor.drift import tasks as drift
from contractor.due import tasks as due
from contractor.tenancy import nights
from contractor.tenancy.models import NightRun
from contractor.tenancy.scope import scope
from tests.conftest import NOON

NIGHT = datetime(2026, 11, 25, 2, 10, tzinfo=UTC)


def run(firm, *, at=NIGHT, task="due.night_of_firm", fails=False):
    with nights.kept(
        firm_id=firm.pk, task=task, clock=iter([at, at + timedelta(seconds=9)]).__next__
    ) as doing:
        doing.did = "12 dates looked at"
        if fails:
            raise OSError("disk")


def test_keeps_one_row_a_night_however_often_it_runs(firm):
    with pytest.raises(OSError, match="disk"):
        run(firm, fails=True)
    with scope(firm.pk):
        assert NightRun.objects.get().did == "OSError"
    run(firm)
    run(firm)

    with scope(firm.pk):
        row = NightRun.objects.get()
        assert (row.state, row.starts, row.seconds, row.did) == (
            "done",
            3,
            9.0,
            "12 dates looked at",
        )


def test_notices_the_night_that_did_not_run(firm):
    def missed(now):
        with scope(firm.pk):
            return nights.find_missed(firm_id=firm.pk, now=now)

    assert missed(NOON) is None  # no night yet: the firm is new
    for task in nights.TASKS:
        run(firm, task=task)
    assert missed(NOON) is None

    next_day = NOON + timedelta(days=1)
    assert missed(next_day.replace(hour=3)) is None  # it may still come
    found = missed(next_day)
    assert found is not None
    assert found.on == next_day.date()
    assert len(found.missing) == len(nights.TASKS)

    run(firm, at=NIGHT + timedelta(days=1))
    assert missed(next_day).missing == [nights.TASKS["drift.sweep_firm"]]


@pytest.mark.django_db
def test_the_tasks_themselves_tell_what_they_did(firm, building, detector):
    due.night_of_firm(firm_id=str(firm.pk))
    drift.sweep_firm(firm_id=str(firm.pk))

    rows = dict(NightRun.objects.values_list("task", "did"))
    assert set(rows) == set(nights.TASKS)
    assert "dates looked at" in rows["due.night_of_firm"]
    assert "detectors looked at" in rows["drift.sweep_firm"]
