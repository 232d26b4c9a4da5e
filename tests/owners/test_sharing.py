"""Links to a building's proof, and an owner's decision about what is wrong."""

import json
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.core.exceptions import ObjectDoesNotExist
from django.db import connection
from django.test import Client
from django.urls import reverse

from contractor.owners import services, sharing
from contractor.owners.models import Decision, LinkUse, ShareLink
from contractor.reports import queries as reports
from contractor.reports import services as report_services
from contractor.reports import tasks
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import AuditLine
from tests import factories
from tests.reports import flow


@pytest.fixture(autouse=True)
def _nobody_has_asked():
    cache.clear()


@pytest.fixture
def record(building, office, technician, now):
    return flow.sign_visit(building=building, office=office, technician=technician, now=now)


@pytest.fixture
def report(record, firm):
    job = flow.job_of(record)
    tasks.render_visit(firm_id=str(firm.pk), record_id=str(record.pk), job_id=str(job.pk))
    return reports.find_report(record=record)


def give(building, seat, now, **more):
    today = now.date()
    said = {"purpose": "insurer", "name": "Ellory Mutual", "ends_on": today + timedelta(days=30)}
    return sharing.make_link(building=building, seat=seat, today=today, now=now, **said | more)


@pytest.fixture
def link(building, seat, now):
    """A link that is open by the clock of the wall, too: its last day lies a year ahead."""
    from django.utils import timezone

    return give(building, seat, timezone.now())


@pytest.fixture
def insurer(link):
    """Somebody without a seat, who has pressed the button."""
    client = Client()
    client.post(reverse("shared", kwargs={"secret": link[1]}))
    return client


def shared(link, name="shared", **keys):
    return reverse(name, kwargs={"secret": link[1], **keys})


class TestMaking:
    def test_the_secret_is_not_kept(self, link):
        kept, secret = link
        assert secret not in str(ShareLink.objects.values().get())
        assert kept.token == sharing.hash_token(secret)
        assert len(secret) >= 32

    @pytest.mark.parametrize(
        ("wrong", "said"),
        [
            ({"name": " "}, "for whom"),
            ({"purpose": "press"}, "who it is for"),
            ({"days": 0}, "after today"),
            ({"days": 400}, "within a year"),
        ],
    )
    def test_what_makes_no_sense_is_refused(self, building, seat, now, wrong, said):
        if "days" in wrong:
            wrong = {"ends_on": now.date() + timedelta(days=wrong["days"])}
        with pytest.raises(sharing.UnableToShare, match=said):
            give(building, seat, now, **wrong)

    def test_the_database_shows_a_link_to_whoever_names_it_only(self, link):
        with connection.cursor() as cursor:
            cursor.execute("select set_config('app.firm_id', '', true)")
            cursor.execute("select count(*) from owners_sharelink")
            assert cursor.fetchone() == (0,)
            cursor.execute("select set_config('app.token', %s, true)", [link[0].token])
            cursor.execute("select count(*) from owners_sharelink")
            assert cursor.fetchone() == (1,)
            cursor.execute("select set_config('app.token', '', true)")
            cursor.execute("select set_config('app.firm_id', %s, true)", [str(link[0].firm_id)])


class TestUsing:
    def test_looking_at_it_opens_nothing_and_leaves_no_trace(self, link, record):
        answer = Client().get(shared(link))
        page = answer.content.decode()
        assert "Open the records" in page
        assert "Quillmarsh" not in page
        assert not LinkUse.objects.exists()
        assert answer["Referrer-Policy"] == "same-origin"

    @pytest.mark.parametrize("name", ["shared_record", "shared_json", "shared_csv"])
    def test_data_wait_for_the_button_too(self, link, record, name):
        answer = Client().get(shared(link, name, record_id=record.pk))
        assert (answer.status_code, answer["Location"]) == (302, shared(link))

    def test_once_pressed_it_shows_the_building_its_records_and_what_was_not_reached(
        self, link, insurer, report
    ):
        page = insurer.get(shared(link)).content.decode()
        assert "Quillmarsh House" in page
        assert "Paint store locked" in page
        assert shared(link, "shared_pdf", report_id=report.pk) in page
        assert "The authority having jurisdiction decides" in page

    def test_the_pdf_is_answered_and_written_down_twice(self, link, insurer, report):
        answer = insurer.get(shared(link, "shared_pdf", report_id=report.pk))
        assert answer.content.startswith(b"%PDF")
        assert [use.what for use in LinkUse.objects.order_by("at", "pk")] == [
            "opened the page",
            "inspection and test report, revision 1",
        ]
        [handing] = reports.list_handings(record=report.record)
        assert (handing.name, handing.how) == ("Ellory Mutual", "link")

    def test_the_json_is_byte_by_byte_what_was_sealed(self, link, insurer, record):
        answer = insurer.get(shared(link, "shared_json", record_id=record.pk))
        assert answer.content == record.body.encode()
        assert json.loads(answer.content)["property"]["building"] == "Quillmarsh House"

    def test_the_csv_has_every_device_and_no_formula(self, link, insurer, record):
        answer = insurer.get(shared(link, "shared_csv", record_id=record.pk))
        rows = answer.content.decode("utf-8-sig").splitlines()
        body = json.loads(record.body)
        assert len(rows) == 1 + sum(max(1, len(one["readings"])) for one in body["devices"])
        assert all(line[:1] not in "=+-@" for line in rows)

    def test_the_page_of_a_record_says_what_to_what_by_whom(self, link, insurer, record):
        page = insurer.get(shared(link, "shared_record", record_id=record.pk)).content.decode()
        for said in (
            "NFPA 72, 2013",
            "T. Varsk",
            "Paint store locked",
            "3 Cooperage Lane",
            ", as found: ",
            "0.40 corrected",
            "Next sensitivity test by ",
            "Functional, sensitivity: pass.",
            "Cautions",
            record.record_hash,
        ):
            assert said in page, said

    def test_another_building_stays_shut(self, link, insurer, firm, office, technician, now):
        other = factories.BuildingFactory(firm=firm, name="Dunmere Cold Store")
        theirs = flow.sign_visit(building=other, office=office, technician=technician, now=now)
        for name in ("shared_record", "shared_json", "shared_csv"):
            assert insurer.get(shared(link, name, record_id=theirs.pk)).status_code == 404
        assert "Dunmere" not in insurer.get(shared(link)).content.decode()


class TestEnding:
    def test_a_revoked_an_ended_an_unknown_one_and_one_of_a_gone_owner_look_alike(
        self, link, insurer, building, seat, office, now
    ):
        unknown = Client().get(reverse("shared", kwargs={"secret": "x" * 32}))
        sharing.revoke_link(link=link[0], seat=seat, now=now)
        revoked = insurer.get(shared(link))
        past = give(building, seat, now - timedelta(days=400))
        ended = Client().get(shared(past))
        fresh = give(building, seat, now, ends_on=now.date() + timedelta(days=300))
        services.end_seat(seat=seat, member=office, now=now)
        gone = Client().get(shared(fresh))
        for answer in (unknown, revoked, ended, gone):
            assert answer.status_code == 404
            assert "This link opens nothing" in answer.content.decode()
            assert "Quillmarsh" not in answer.content.decode()

    def test_too_many_questions_are_refused(self, link):
        client = Client()
        for _ in range(60):
            client.get(reverse("shared", kwargs={"secret": "guess"}))
        assert client.get(shared(link)).status_code == 429


class TestOwnersPage:
    def keys(self, firm, building):
        return {"firm": firm.slug, "building_id": building.pk}

    def test_an_owner_makes_sees_and_ends_a_link(self, signed_in, seat, firm, building):
        client = signed_in(seat)
        address = reverse("owners:links", kwargs=self.keys(firm, building))
        from django.utils import timezone

        day = (timezone.now() + timedelta(days=20)).date()
        said = {"name": "Ellory Mutual", "purpose": "insurer", "ends_on": day.isoformat()}
        page = client.post(address, said, follow=True).content.decode()
        assert "http://localhost:8000/s/" in page
        assert "/s/" not in client.get(address).content.decode().replace("/static", "")
        made = ShareLink.objects.get()
        client.post(
            reverse("owners:revoke", kwargs={"firm": firm.slug, "link_id": made.pk}), follow=True
        )
        assert "Ended on" in client.get(address).content.decode()
        actions = AuditLine.objects.filter(subject_id=made.pk).values_list("action", flat=True)
        assert set(actions) == {"link.made", "link.revoked"}

    def test_an_owner_of_another_building_neither_sees_nor_ends_it(
        self, signed_in, link, firm, building
    ):
        stranger = factories.OwnerSeatFactory(firm=firm)
        own = factories.BuildingFactory(firm=firm, name="Own House")
        factories.OwnedBuildingFactory(seat=stranger, building=own)
        client = signed_in(stranger)
        keys = {"firm": firm.slug, "link_id": link[0].pk}
        assert client.post(reverse("owners:revoke", kwargs=keys)).status_code == 404
        address = reverse("owners:links", kwargs=self.keys(firm, building))
        assert client.get(address).status_code == 404

    def test_a_wrong_day_keeps_what_was_typed(self, signed_in, seat, firm, building):
        address = reverse("owners:links", kwargs=self.keys(firm, building))
        said = {"name": "Ellory Mutual", "purpose": "insurer", "ends_on": "2020-01-01"}
        answer = signed_in(seat).post(address, said)
        assert answer.status_code == 422
        assert "Ellory Mutual" in answer.content.decode()
        assert "Choose a last day after today" in answer.content.decode()

    def test_who_opened_a_report_is_written_down(self, signed_in, seat, firm, report):
        address = reverse("owners:pdf", kwargs={"firm": firm.slug, "report_id": report.pk})
        signed_in(seat).get(address)
        [handing] = reports.list_handings(record=report.record)
        assert (handing.name, handing.how) == ("M. Lund-Avery", "opened")

    def test_what_was_not_reached_stands_on_the_building(self, signed_in, seat, firm, report):
        keys = {"firm": firm.slug, "building_id": report.record.visit.building_id}
        page = signed_in(seat).get(reverse("owners:building", kwargs=keys)).content.decode()
        assert "What was not reached" in page
        assert "Paint store locked" in page


class TestDeciding:
    @pytest.fixture
    def finding(self, building):
        return factories.FindingFactory(building=building, title="Horn silent")

    def decide(self, client, firm, finding, **said):
        keys = {"firm": firm.slug, "finding_id": finding.pk}
        return client.post(reverse("owners:decide", kwargs=keys), said, follow=True)

    def test_a_yes_is_written_down_with_name_and_day(self, signed_in, seat, firm, finding):
        page = self.decide(signed_in(seat), firm, finding, says="yes").content.decode()
        assert "M. Lund-Avery on" in page
        assert "put it right" in page
        assert AuditLine.objects.get(action="finding.decided").actor == "M. Lund-Avery"

    def test_a_refusal_says_why(self, signed_in, seat, firm, finding):
        answer = self.decide(signed_in(seat), firm, finding, says="no")
        assert "Say why it is left for now" in answer.content.decode()
        assert not Decision.objects.exists()
        self.decide(signed_in(seat), firm, finding, says="no", reason="The wing is torn down")
        assert Decision.objects.get().reason == "The wing is torn down"

    def test_the_latest_stands_and_the_earlier_stays(self, signed_in, seat, firm, finding):
        client = signed_in(seat)
        self.decide(client, firm, finding, says="no", reason="Later")
        self.decide(client, firm, finding, says="yes")
        assert Decision.objects.count() == 2
        assert sharing.list_decisions(building=finding.building)[finding.pk].says == "yes"

    def test_what_is_put_right_is_not_decided(self, seat, finding, now):
        finding.corrected_on = now.date()
        finding.save()
        with pytest.raises(sharing.UnableToDecide, match="put right on"):
            sharing.decide(finding=finding, seat=seat, says="yes", reason="", now=now)

    def test_nobody_decides_for_another_building(self, signed_in, firm, finding):
        stranger = factories.OwnerSeatFactory(firm=firm)
        own = factories.BuildingFactory(firm=firm, name="Own House")
        factories.OwnedBuildingFactory(seat=stranger, building=own)
        assert self.decide(signed_in(stranger), firm, finding, says="yes").status_code == 404

    def test_the_firm_sees_it(self, signed_in, seat, office, firm, finding, now):
        sharing.decide(finding=finding, seat=seat, says="no", reason="Torn down", now=now)
        address = reverse("owners_overview", kwargs={"firm": firm.slug})
        page = signed_in(office).get(address).content.decode()
        assert "Horn silent" in page
        assert "Torn down" in page


class TestEverything:
    def test_an_owner_has_it_packed_and_takes_it_away(
        self, signed_in, seat, firm, building, report
    ):
        client = signed_in(seat)
        keys = {"firm": firm.slug, "building_id": building.pk}
        client.post(reverse("owners:everything", kwargs=keys))
        job = reports.find_bundle_job(building=building)
        tasks.make_bundle(firm_id=str(firm.pk), building_id=str(building.pk), job_id=str(job.pk))
        [made] = reports.list_bundles(building=building)
        address = reverse("owners:bundle", kwargs=keys | {"bundle_id": made.pk})
        assert address in client.get(reverse("owners:everything", kwargs=keys)).content.decode()
        assert client.get(address).content.startswith(b"PK")

    def test_a_bundle_of_another_building_stays_shut(
        self, signed_in, seat, firm, building, report, now
    ):
        other = factories.BuildingFactory(firm=firm, name="Dunmere Cold Store")
        theirs = report_services.make_bundle(building=other, now=now)
        keys = {"firm": firm.slug, "building_id": building.pk, "bundle_id": theirs.pk}
        assert signed_in(seat).get(reverse("owners:bundle", kwargs=keys)).status_code == 404


def test_a_record_is_the_one_that_is_named(record, building):
    assert sharing.get_record(building=building, record_id=record.pk) == record
    with pytest.raises(ObjectDoesNotExist):
        sharing.get_record(building=building, record_id=uuid7())
