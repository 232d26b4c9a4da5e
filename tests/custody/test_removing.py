"""What must be kept stays; what need not be kept goes by a named act, and the chain holds."""

from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from contractor.custody import keeping, services
from contractor.custody.models import Removal
from contractor.reports import queries as reports
from contractor.tenancy.models import AuditLine
from contractor.visits import verifier
from contractor.visits.models import SealedRecord
from contractor.visits.services import verify_chain
from tests.reports import flow

YEAR = timedelta(days=366)


@pytest.fixture
def records(building, office, technician, now):
    """Three visits, two years apart, signed off; what is asked of the first is done twice again."""
    return [
        flow.sign_visit(
            building=building, office=office, technician=technician, now=now + 2 * at * YEAR
        )
        for at in range(3)
    ]


def remove(record, member, now, *, reason="Kept long enough", after=timedelta()):
    at = now + after
    return services.remove(
        record_id=record.pk, reason=reason, member=member, now=at, today=at.date()
    )


class TestRemove:
    def test_removes_the_content_and_keeps_hash_chain_and_a_named_act(
        self, records, office, now, firm, signed_in
    ):
        first = records[0]

        remove(first, office, now, after=7 * YEAR)

        again = SealedRecord.objects.get(pk=first.pk)
        assert "Paint store" not in again.body
        assert verifier.is_removed(again.body)
        assert (again.record_hash, again.chain_hash) == (first.record_hash, first.chain_hash)
        assert verify_chain(firm_id=firm.pk) == []
        assert keeping.list_unexplained(firm_id=firm.pk) == []
        assert AuditLine.objects.get(action="record.removed").actor == office.name
        assert reports.read_body(record=again)["removed"]["by"] == office.name
        for path in (
            f"reports/records/{first.pk}/",
            f"visits/{first.visit_id}/record/",
            "kept/",
        ):
            assert signed_in(office).get(f"/f/{firm.slug}/{path}").status_code == 200, path

    def test_refuses_what_must_be_kept_and_says_why(self, records, office, now):
        with pytest.raises(services.UnableToRemove, match="that test is not done yet"):
            remove(records[2], office, now, after=20 * YEAR)
        with pytest.raises(services.UnableToRemove, match=r"It must be kept.*14\.4\.4\.3"):
            remove(records[0], office, now, after=4 * YEAR)
        assert not Removal.objects.exists()

    def test_a_hold_and_a_longer_rule_stop_it(self, records, office, building, now):
        made = services.hold(building=building, reason="Claim open", member=office, now=now)
        with pytest.raises(services.UnableToRemove, match="Claim open"):
            remove(records[0], office, now, after=7 * YEAR)
        services.end_hold(hold_id=made.pk, member=office, now=now)
        services.lengthen(kind="sensitivity", years=10, reason="Insurer", member=office, now=now)
        with pytest.raises(services.UnableToRemove, match="keeps it for 10 years"):
            remove(records[0], office, now, after=7 * YEAR)
        with pytest.raises(services.UnableToRemove, match="3 years at least"):
            services.lengthen(kind="sensitivity", years=2, reason="x", member=office, now=now)
        with pytest.raises(services.UnableToRemove, match="Say why"):
            remove(records[0], office, now, after=12 * YEAR, reason=" ")

    def test_the_application_can_change_no_record_in_any_other_way(self, records, building, office):
        stone = '{"format":"driftbook-removed/1"}'
        first = records[0].pk
        for said in (
            "update visits_sealedrecord set body = %(stone)s where id = %(id)s",
            "delete from visits_sealedrecord where id = %(id)s and %(stone)s <> ''",
            # Without a removal that is written down, the function refuses as well.
            "select custody_remove_content(%(id)s, %(stone)s)",
            "select set_config('app.removing', %(id)s::text, true);"
            " update visits_sealedrecord set body = %(stone)s where id = %(id)s",
        ):
            with (
                pytest.raises(DatabaseError),
                transaction.atomic(),
                connection.cursor() as cursor,
            ):
                cursor.execute(said, {"id": str(first), "stone": stone})
        assert SealedRecord.objects.get(pk=first).body == records[0].body

    def test_the_database_itself_heeds_a_hold(self, records, building, office, now):
        services.hold(building=building, reason="Claim open", member=office, now=now)
        record = records[0]
        Removal.objects.create(
            firm_id=record.firm_id,
            record=record,
            record_hash=record.record_hash,
            reason="x",
            basis="x",
            removed_by=office,
            removed_at=now,
        )

        with (
            pytest.raises(DatabaseError, match="A hold stands"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(
                "select custody_remove_content(%s, %s)",
                [record.pk, '{"format":"driftbook-removed/1"}'],
            )
