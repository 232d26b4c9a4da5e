"""Several visits assigned at once: seen first, undone as long as nobody touched them."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from contractor.tenancy import deeds
from contractor.tenancy.models import AuditLine, Deed
from contractor.visits.models import Assignment
from contractor.visits.services import several
from tests import factories
from tests.conftest import NOON


def going(visit):
    return set(Assignment.objects.filter(visit=visit).values_list("member__name", flat=True))


@pytest.fixture
def visits(building):
    return [
        factories.VisitFactory(building=building, planned_on=date(2026, 12, 1 + n))
        for n in range(3)
    ]


class TestAssignSeveral:
    def test_sends_people_with_those_who_go_or_in_their_place(
        self, firm, visits, office, technician
    ):
        factories.AssignmentFactory(visit=visits[0], member=office)
        asked = {
            "firm_id": firm.pk,
            "visit_ids": [one.pk for one in visits],
            "member_ids": [technician.pk],
            "member": office,
            "now": NOON,
        }
        several.assign_several(**asked, instead=False)
        assert going(visits[0]) == {"I. Tarrowby", "T. Varsk"}

        several.assign_several(**asked, instead=True)
        assert [going(one) for one in visits] == [{"T. Varsk"}] * 3
        assert AuditLine.objects.filter(subject_id=visits[0].pk).count() == 2

    def test_undoes_only_what_nobody_has_changed_since(self, firm, visits, office, technician):
        deed = several.assign_several(
            firm_id=firm.pk,
            visit_ids=[one.pk for one in visits],
            member_ids=[technician.pk],
            instead=True,
            member=office,
            now=NOON,
        )
        factories.AssignmentFactory(visit=visits[1], member=office)
        visits[2].state = "under_way"
        visits[2].save()

        back, left = several.undo_assigning(deed=deed, member=office, now=NOON)

        assert (back, len(left)) == (1, 2)
        assert [going(one) for one in visits] == [set(), {"T. Varsk", "I. Tarrowby"}, {"T. Varsk"}]
        with pytest.raises(deeds.UnableToDo, match="undone already"):
            several.undo_assigning(deed=deed, member=office, now=NOON)

    def test_undoes_for_ten_minutes(self, firm, visits, office, technician):
        deed = several.assign_several(
            firm_id=firm.pk,
            visit_ids=[visits[0].pk],
            member_ids=[technician.pk],
            instead=True,
            member=office,
            now=NOON,
        )
        with pytest.raises(deeds.UnableToDo, match="more than 10 minutes"):
            several.undo_assigning(deed=deed, member=office, now=NOON + timedelta(minutes=11))


def test_nothing_is_written_before_it_was_seen(signed_in, visits, office, technician):
    client = signed_in(office)
    address = reverse("visits:assign", kwargs={"firm": "tarnbeck"})
    sent = {"visit": [str(one.pk) for one in visits], "person": [str(technician.pk)]}

    preview = client.post(address, sent)
    assert "Nothing is written yet" in preview.content.decode()
    assert not Assignment.objects.exists()

    factories.AssignmentFactory(visit=visits[0], member=technician)  # meanwhile
    again = client.post(address, sent | {"seen": preview.context["seen"]})
    assert again.status_code == 200
    assert not Deed.objects.exists()

    done = client.post(address, sent | {"seen": again.context["seen"]}, follow=True)
    assert "2 visits assigned" in done.content.decode()
    assert all(going(one) == {"T. Varsk"} for one in visits)


def test_refuses_nobody_and_nothing(signed_in, visits, office):
    client = signed_in(office)
    address = reverse("visits:assign", kwargs={"firm": "tarnbeck"})

    said = client.post(address, {"visit": [str(visits[0].pk)]}).content.decode()

    assert "Tick at least one visit and one person." in said
    assert f'value="{visits[0].pk}" checked' in said
