"""The weekly mail of the chain's end and the notice of an amendment, as the outbox owes them."""

from datetime import timedelta

import pytest

from contractor.notices.models import Notice
from contractor.reports import queries, services
from contractor.tenancy.models import AuditLine
from contractor.visits.services import sealing
from tests import factories


@pytest.fixture
def principal(inside, firm):
    return factories.MemberFactory(firm=firm, role="principal", name="P. Orla")


class TestHead:
    def test_the_principals_get_the_end_of_the_chain(self, record, principal, firm, now):
        assert services.mail_head(firm_id=firm.pk, now=now) == 1
        said = Notice.objects.get(kind="chain_head")
        assert said.recipient == principal.user.email
        assert record.chain_hash in said.body
        assert "Tarnbeck Alarm Service" in said.subject
        assert "the authority having jurisdiction decides" in said.body

    def test_within_the_week_it_is_sent_once_and_then_again(self, record, principal, firm, now):
        services.mail_head(firm_id=firm.pk, now=now)
        assert services.mail_head(firm_id=firm.pk, now=now + timedelta(days=6)) == 0
        assert services.mail_head(firm_id=firm.pk, now=now + timedelta(days=7)) == 1
        assert Notice.objects.filter(kind="chain_head").count() == 2

    def test_a_chain_without_records_or_readers_is_not_mailed(self, firm, inside, now, office):
        assert services.mail_head(firm_id=firm.pk, now=now) == 0
        assert not Notice.objects.exists()

    def test_what_was_mailed_is_what_is_checked(self, record, principal, firm, now):
        services.mail_head(firm_id=firm.pk, now=now)
        line = AuditLine.objects.get(action="chain.head_mailed")
        computed = sealing.link(
            previous_hash=record.previous_hash,
            record_hash=record.record_hash,
            chain_number=record.chain_number,
            revision=record.revision,
        )
        assert computed in line.summary
        assert computed in Notice.objects.get(kind="chain_head").body


class TestSuperseded:
    @pytest.fixture
    def second(self, record, report, office, now):
        from uuid import UUID

        from contractor.visits import services as visits

        device = queries.read_body(record=record)["devices"][0]
        services.note_opened(report=report, name="M. Lund-Avery", address="m@example.org", now=now)
        return visits.amend(
            visit=record.visit,
            reason="The wrong detector was noted",
            changes=[
                visits.Amendment(
                    device_id=UUID(device["id"]),
                    task="functional",
                    result="fail",
                    reason="Did not report",
                )
            ],
            member=office,
            now=now,
        )

    def test_whoever_has_the_old_one_is_told_once(self, second, now):
        assert services.tell_superseded(record=second, now=now) == 1
        assert services.tell_superseded(record=second, now=now) == 0
        said = Notice.objects.get(kind="superseded")
        assert said.recipient == "m@example.org"
        assert "is superseded. Revision 2 stands in its place." in said.body
        assert "Why: The wrong detector was noted" in said.body
        for part in ("functional test", "NFPA 72, 2013", "T. Varsk", "1 failed", "authority"):
            assert part in said.body

    def test_a_name_with_a_line_in_it_begins_no_header(self, second, now, firm):
        text = second.body.replace("Quillmarsh House", "Quillmarsh\\nBcc: x@example.org")
        second.body = text
        assert services.tell_superseded(record=second, now=now) == 1
        said = Notice.objects.get(kind="superseded")
        assert said.subject.startswith("Quillmarsh Bcc:")

    def test_the_task_tells_them_as_a_worker_does(self, second, firm):
        from contractor.celery import app

        app.tasks["reports.tell_superseded"].apply(
            kwargs={"firm_id": str(firm.pk), "record_id": str(second.pk)}
        ).get()
        assert Notice.objects.get(kind="superseded").recipient == "m@example.org"

    def test_opening_it_again_within_the_hour_is_written_down_once(self, report, now):
        how = {"report": report, "name": "M. Lund-Avery", "address": "m@example.org"}
        assert services.note_opened(**how, now=now) is not None
        assert services.note_opened(**how, now=now + timedelta(minutes=20)) is None
        assert services.note_opened(**how, now=now + timedelta(hours=2)) is not None
        assert len(queries.list_handings(record=report.record)) == 2
