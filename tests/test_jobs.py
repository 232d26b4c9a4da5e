"""Work is queued at commit, once, and not at all when the transaction is taken back."""

import os
import subprocess
import sys
import uuid

import pytest
from django.db import connection, transaction

from contractor import jobs
from contractor.drift import tasks as drift
from contractor.due import tasks as due
from contractor.tenancy import nights

pytestmark = pytest.mark.django_db
FIRM = uuid.UUID(int=7)


@pytest.fixture
def sent(monkeypatch):
    """What would have gone to the broker."""
    found = []
    monkeypatch.setattr(
        jobs.app,
        "send_task",
        lambda name, kwargs, queue: found.append((name, kwargs["building_id"])),
    )
    return found


class TestEnqueue:
    def test_sends_at_commit_and_once(self, sent, django_capture_on_commit_callbacks):
        with django_capture_on_commit_callbacks(execute=True):
            for building in ("a", "b", "a"):
                jobs.enqueue("due.refresh_building", firm_id=FIRM, building_id=building)
            assert sent == []

        assert sent == [("due.refresh_building", "a"), ("due.refresh_building", "b")]

    def test_asked_in_several_savepoints_it_is_sent_once(
        self, sent, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=True):
            for _ in range(3):
                with transaction.atomic():
                    jobs.enqueue("due.refresh_building", firm_id=FIRM, building_id="a")

        assert sent == [("due.refresh_building", "a")]

    def test_what_was_taken_back_is_not_sent(self, sent, django_capture_on_commit_callbacks):
        with django_capture_on_commit_callbacks(execute=True):
            try:
                with transaction.atomic():
                    jobs.enqueue("due.refresh_building", firm_id=FIRM, building_id="a")
                    raise ValueError
            except ValueError:
                pass

        assert sent == []

    def test_one_inside_a_savepoint_does_not_stand_for_one_outside(
        self, sent, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=True):
            try:
                with transaction.atomic():
                    jobs.enqueue("due.refresh_building", firm_id=FIRM, building_id="a")
                    with transaction.atomic():
                        jobs.enqueue("due.refresh_building", firm_id=FIRM, building_id="a")
                    raise ValueError
            except ValueError:
                jobs.enqueue("due.refresh_building", firm_id=FIRM, building_id="a")

        assert sent == [("due.refresh_building", "a")]


@pytest.mark.parametrize(
    ("task", "given", "queue"),
    [
        ("due.refresh_building", {"building_id": "a"}, "celery"),
        ("due.refresh_building", {"building_id": "a", "with_night": True}, "nights"),
        ("due.night_of_firm", {}, "nights"),
        ("drift.sweep_firm", {}, "nights"),
    ],
)
def test_what_a_night_does_waits_in_a_queue_of_its_own(
    django_capture_on_commit_callbacks, task, given, queue
):
    """Read what the server holds: a wrong routing key would put a task into both."""
    with jobs.app.connection_for_write() as broker:
        server = broker.default_channel.client
        before = {name: server.llen(name) for name in ("celery", "nights")}

        with django_capture_on_commit_callbacks(execute=True):
            jobs.enqueue(task, firm_id=FIRM, **given)

        after = {name: server.llen(name) for name in ("celery", "nights")}
        assert after == {**before, queue: before[queue] + 1}
        assert "with_night" not in str(server.lpop(queue))


def test_a_worker_steps_back_behind_web_processes():
    said = subprocess.run(
        [
            sys.executable,
            "-c",
            "import os, contractor.celery; from celery.signals import worker_init;"
            "before = os.nice(0); worker_init.send(sender=None); print(os.nice(0) - before)",
        ],
        env={**os.environ, "WORKER_NICE": "3"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.strip() == "3"


class TestUnhurried:
    @pytest.fixture
    def rested(self, monkeypatch):
        """What was rested, by a clock that is told how it goes on."""
        clock, found = iter([10.0, 12.5, 20.0, 60.0]), []
        monkeypatch.setattr(nights, "monotonic", lambda: next(clock))
        monkeypatch.setattr(nights, "sleep", found.append)
        return found

    def test_rests_so_many_times_as_long_as_it_worked(self, rested, settings):
        settings.NIGHT_REST = 9
        with nights.unhurried():
            assert rested == []
        with nights.unhurried():
            pass
        assert rested == [22.5, nights.LONGEST_REST_S]

    def test_what_fails_is_tried_again_without_a_rest(self, rested, settings):
        settings.NIGHT_REST = 9
        with pytest.raises(ValueError, match="it failed"), nights.unhurried():
            raise ValueError("it failed")
        assert rested == []

    @pytest.mark.django_db
    def test_holds_no_scope_while_it_rests(self, monkeypatch, firm, settings):
        settings.NIGHT_REST = 9
        held = []

        def rest(_seconds):
            with connection.cursor() as cursor:
                cursor.execute("select current_setting('app.firm_id', true)")
                held.append(cursor.fetchone()[0])

        monkeypatch.setattr(nights, "sleep", rest)
        due.night_of_firm(firm_id=str(firm.pk))
        drift.sweep_firm(firm_id=str(firm.pk))
        assert held == ["", ""]
