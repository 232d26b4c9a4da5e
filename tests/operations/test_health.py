"""How the server is: the page, the numbers, the command."""

import io
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import DatabaseError

from contractor.notices.models import Notice
from contractor.operations import services
from contractor.operations.models import Kind
from contractor.tenancy.models import Job
from contractor.tenancy.scope import scope
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def well(now):
    """A server that is well: a young backup, a proved return, beat and worker at work."""
    for kind in (Kind.BACKUP, Kind.DRILL):
        services.note(
            kind=kind, generation="2026-11-25T01-30-00Z", began_at=now - timedelta(hours=10),
            ended_at=now, is_good=True, words="2 firms",
        )  # fmt: skip
    services.give_sign(now=now - timedelta(seconds=30))
    yield
    cache.delete("operations:sign")


def looked(now, firm):
    return {item.name: item for item in services.look(now=now, firm_ids=[firm.pk]).items}


class TestLook:
    def test_a_server_that_is_well_asks_for_nobody(self, well, firm, now):
        found = looked(now, firm)
        assert {name: item.words for name, item in found.items() if item.advice} == {}
        assert found["Last backup"].words == "10 hours ago: 2 firms"

    def test_each_trouble_is_named_with_what_to_do(self, well, firm, now):
        services.note(
            kind=Kind.BACKUP, generation="", began_at=now, ended_at=now, is_good=False,
            words="The folder of backups cannot be written: No space left on device.",
        )  # fmt: skip
        with scope(firm.pk):
            Job.objects.create(
                firm=firm, key="x", task="x", title="x", state="failed", queued_at=now,
                seen_at=now, ended_at=now,
            )  # fmt: skip
            Notice.objects.create(
                firm=firm, kind="week", object_id=firm.pk, occurrence="1", subject="x", body="x",
                recipient="a@b.example", not_before=now - timedelta(hours=3), owed_at=now,
                message_id="x",
            )  # fmt: skip
        found = looked(now + timedelta(minutes=7), firm)
        for name, words in {
            "Last backup": "No space left",
            "Beat and worker": "7 minutes ago",
            "Mails": "1 waiting, the oldest since 3 hours ago",
            "Failed jobs": "1 within a week",
        }.items():
            assert words in found[name].words
            assert found[name].advice
        found = looked(now + timedelta(days=9), firm)
        assert found["Last proved return"].advice

    def test_another_firms_mails_and_jobs_are_not_counted(self, well, firm, other_firm, now):
        with scope(other_firm.pk):
            Job.objects.create(
                firm=other_firm, key="x", task="x", title="x", state="failed", queued_at=now,
                seen_at=now, ended_at=now,
            )  # fmt: skip
        assert looked(now, firm)["Failed jobs"].words == "none within a week"
        assert services.look_at_all(now=now).gauges["jobs_failed"][1] == 1


class TestPage:
    def test_the_principal_sees_it_and_the_office_does_not(self, client, firm, well):
        for role, status in (("principal", 200), ("office", 403)):
            with scope(firm.pk):
                member = factories.MemberFactory(firm=firm, role=role)
            client.force_login(member.user)
            answer = client.get("/f/tarnbeck/health/")
            assert answer.status_code == status
        assert b"Last proved return" not in answer.content

    def test_the_command_ends_with_an_error_if_anything_asks(self, firm):
        said = io.StringIO()
        with pytest.raises(CommandError, match="ask for somebody"):
            call_command("health", stdout=said)
        assert "! Last backup: none yet" in said.getvalue()


class TestMachines:
    def test_numbers_only_for_who_names_the_token(self, client, firm, settings, well):
        assert client.get("/metrics").status_code == 404
        settings.METRICS_TOKEN = "a token of the bench"
        assert client.get("/metrics").status_code == 404
        wrong = client.get("/metrics", headers={"Authorization": "Bearer a token"})
        assert wrong.status_code == 404
        client.get("/accounts/login/")
        answer = client.get("/metrics", headers={"Authorization": "Bearer a token of the bench"})
        text = answer.content.decode()
        assert 'driftbook_requests_total{method="GET",status="200",view="account_login"}' in text
        for name in (
            "backup_age_seconds",
            "queue_length",
            "night_queue_length",
            "disk_used_ratio",
            "sign_age_seconds",
        ):
            assert f"\ndriftbook_{name} " in text
        assert firm.slug not in text

    def test_ready_says_what_is_not(self, client, monkeypatch):
        from contractor.web import views

        assert client.get("/readyz").json() == dict.fromkeys(
            ("database", "tables", "broker", "files"), True
        )

        def away():
            raise DatabaseError

        monkeypatch.setattr(views, "_database_answers", away)
        answer = client.get("/readyz")
        assert answer.status_code == 503
        assert answer.json()["database"] is False
