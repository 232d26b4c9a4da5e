"""That a report is ready is told once to whom it concerns, as they want it."""

from uuid import UUID

import pytest

from contractor.notices.models import Notice, Refusal
from contractor.owners import queries
from contractor.owners.models import OwnedBuilding
from contractor.register.models import Contact
from contractor.reports import services
from contractor.reports.models import Handing
from contractor.visits import services as visits
from tests import factories
from tests.reports import flow


@pytest.fixture
def record(building, office, technician, now):
    return flow.sign_visit(building=building, office=office, technician=technician, now=now)


@pytest.fixture
def seat(firm, building):
    seat = factories.OwnerSeatFactory(firm=firm)
    OwnedBuilding.objects.create(firm_id=firm.pk, seat=seat, building=building)
    return seat


def tell(record, now):
    seats = queries.list_recipients(building=record.visit.building)
    return services.tell_ready(record=record, seats=seats, now=now)


def told():
    return {one.recipient: one for one in Notice.objects.filter(kind="report_ready")}


def add_contact(building, **facts):
    return Contact.objects.create(firm_id=building.firm_id, customer=building.customer, **facts)


class TestReady:
    def test_owner_contact_and_office_are_told_once_what_was_tested_and_who_decides(
        self, record, seat, office, building, now, firm
    ):
        add_contact(building, name="N. Osk", email="N.Osk@example.org")
        add_contact(building, name="B. Ill", email="bill@example.org", told_of=["bills"])
        another = factories.OwnerSeatFactory(firm=firm)  # has no seat at this building

        assert tell(record, now) == 3
        assert tell(record, now) == 0

        found = told()
        assert set(found) == {seat.user.email, "n.osk@example.org", office.user.email}
        assert another.user.email not in found
        for one in found.values():
            for said in (
                "What was tested: functional test, sensitivity test",
                "To: NFPA 72",
                "T. Varsk",
                "Of 3 devices, 2 passed and 1 was not tested.",
                "the authority having jurisdiction",
                "/verify/",
            ):
                assert said in " ".join(one.body.split()), said
        assert f"/o/{firm.slug}/buildings/{building.pk}/" in found[seat.user.email].body
        assert f"/f/{firm.slug}/reports/records/" in found[office.user.email].body
        assert "/o/" not in found["n.osk@example.org"].body  # nothing they could not open

    def test_who_does_not_want_it_is_not_written_down_as_given_it(self, record, seat, firm, now):
        Refusal.objects.create(
            firm_id=firm.pk, address=seat.user.email, kind="report_ready", refused_at=now
        )

        tell(record, now)

        assert told()[seat.user.email].state == "unwanted"
        assert not Handing.objects.filter(address=seat.user.email).exists()

    def test_whoever_was_mailed_is_told_of_the_amendment_and_not_twice(
        self, record, seat, office, now
    ):
        tell(record, now)
        device = record.visit.building.device_set.first()
        second = visits.amend(
            visit=record.visit,
            reason="The wrong detector was noted",
            changes=[
                visits.Amendment(
                    device_id=UUID(str(device.pk)), task="functional", result="fail", reason="Mute"
                )
            ],
            member=office,
            now=now,
        )

        services.tell_superseded(record=second, now=now)
        tell(second, now)

        mails = Notice.objects.filter(recipient=seat.user.email)
        assert sorted(mails.values_list("kind", flat=True)) == ["report_ready", "superseded"]
        assert Notice.objects.filter(recipient=office.user.email, object_id=second.pk).count() == 1
