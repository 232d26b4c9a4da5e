"""What must be kept stays; what need not be kept goes by a named act, and the chain holds."""

import io
import json
import zipfile
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from contractor.custody import keeping, services
from contractor.custody.models import Removal
from contractor.field import queries as field
from contractor.field.models import Blob, Photo, Received, Tablet
from contractor.reports import queries as reports
from contractor.reports import services as handing
from contractor.tenancy import files
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import AuditLine
from contractor.visits import verifier
from contractor.visits.models import SealedRecord
from contractor.visits.services import verify_chain
from tests import factories
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


def photo(visit, sha256, member, now):
    """Make a photo of a visit as a tablet would have sent it, its bytes here in whole."""
    tablet, _ = Tablet.objects.get_or_create(
        firm_id=visit.firm_id,
        name="Tablet 3",
        defaults={"key_hash": "0" * 64, "enrolled_at": now, "enrolled_by": member},
    )
    received = Received.objects.create(
        firm_id=visit.firm_id,
        entry_id=uuid7(),
        hash="0" * 64,
        tablet=tablet,
        sequence=Received.objects.count() + 1,
        visit=visit,
        sent_by=member,
        kind="note",
        payload="{}",
        made_at=now,
        received_at=now,
    )
    Blob.objects.get_or_create(
        firm_id=visit.firm_id,
        sha256=sha256,
        defaults={"length": 1, "arrived": 1, "tablet": tablet, "completed_at": now},
    )
    return Photo.objects.create(
        firm_id=visit.firm_id, received=received, visit=visit, sha256=sha256, length=1
    )


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
        shown = signed_in(office).get(f"/f/{firm.slug}/reports/records/{first.pk}/")
        assert "The content of this record was removed" in shown.content.decode()
        assert "Every device passed" not in shown.content.decode()
        told = signed_in(office).get(f"/f/{firm.slug}/visits/{first.visit_id}/record/")
        assert "0 devices" not in told.content.decode()

    def test_what_could_go_soon_is_foretold_unless_it_is_held(
        self, records, office, building, now, firm
    ):
        last = keeping.list_kept(firm_id=firm.pk, today=now.date())[0].until.day
        assert last is not None

        def soon(today):
            found = keeping.list_kept(firm_id=firm.pk, today=today)
            return [(one.may_go, one.may_go_soon) for one in found if one.until.day == last]

        assert set(soon(last - timedelta(days=30))) == {(False, False)}
        assert set(soon(last - timedelta(days=29))) == {(False, True)}
        assert set(soon(last + timedelta(days=1))) == {(True, False)}
        services.hold(building=building, reason="Claim open", member=office, now=now)
        assert set(soon(last)) == {(False, False)}

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


class TestPhotos:
    def test_they_go_with_the_last_record_of_their_visit(
        self, records, office, now, firm, building, django_capture_on_commit_callbacks
    ):
        kept, gone, shared = (files.keep(firm_id=firm.pk, data=one) for one in (b"a", b"b", b"c"))
        for visit, sha256 in (
            (records[0].visit, gone),
            (records[0].visit, shared),
            (records[1].visit, shared),
            (records[1].visit, kept),
        ):
            photo(visit, sha256, office, now)

        with django_capture_on_commit_callbacks(execute=True):
            remove(records[0], office, now, after=7 * YEAR)

        with pytest.raises(FileNotFoundError):
            files.fetch(firm_id=firm.pk, sha256=gone)
        assert files.fetch(firm_id=firm.pk, sha256=shared) == b"c"
        assert files.fetch(firm_id=firm.pk, sha256=kept) == b"a"
        assert not field.list_photos(visit=records[0].visit)
        assert len(field.list_photos(visit=records[1].visit)) == 2
        assert "1 photo of its visit" in AuditLine.objects.get(action="record.removed").summary
        bundle = handing.make_bundle(building=building, now=now)
        with zipfile.ZipFile(
            io.BytesIO(files.fetch(firm_id=firm.pk, sha256=bundle.sha256))
        ) as all_:
            shown = [name for name in all_.namelist() if name.startswith("photos/")]
            page = all_.read("index.html").decode()
            listed = json.loads(all_.read("manifest.json"))["files"]
        assert sorted(all_.NameToInfo[name].file_size for name in shown) == [1, 1]
        assert all(f'href="{name}"' in page and name in listed for name in shown)
        assert "Its content was removed after its time" in page


class TestPage:
    def test_a_refused_form_says_why_and_loses_nothing_typed(
        self, records, firm, signed_in, building
    ):
        client = signed_in(factories.MemberFactory(firm=firm, role="principal"))
        short = client.post(
            f"/f/{firm.slug}/kept/longer", {"kind": "test", "years": "1", "reason": "Insurer asks"}
        )
        assert short.status_code == 422
        assert "kept for 3 years at least" in short.content.decode()
        assert 'value="Insurer asks"' in short.content.decode()
        held = client.post(
            f"/f/{firm.slug}/kept/holds", {"building": str(building.pk), "reason": ""}
        )
        assert held.status_code == 422
        assert "Say why, in a few words." in held.content.decode()
        early = client.post(
            f"/f/{firm.slug}/kept/records/{records[2].pk}/remove", {"reason": "Tidy up"}
        )
        assert early.status_code == 422
        assert not Removal.objects.exists()

    def test_a_few_and_many_records_take_the_same_queries(
        self, building, office, technician, now, firm, signed_in
    ):
        client = signed_in(factories.MemberFactory(firm=firm, role="principal"))

        def ask(many):
            for at in range(many):
                flow.sign_visit(
                    building=building,
                    office=office,
                    technician=technician,
                    now=now + timedelta(hours=at + 5 * many),
                    devices=2,
                )
            client.get(f"/f/{firm.slug}/kept/")
            with CaptureQueriesContext(connection) as queries:
                assert client.get(f"/f/{firm.slug}/kept/").status_code == 200
            return len(queries)

        assert ask(1) == ask(5)
