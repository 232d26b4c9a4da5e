"""Work that stays on a tablet: who is told, when, and that it is said once."""

from datetime import UTC, datetime, timedelta

import pytest

from contractor.field import services
from contractor.field.models import Holding, Tablet
from contractor.field.unsent import list_unsent
from contractor.notices import composing
from contractor.notices.models import Notice
from contractor.visits.models import Visit

pytestmark = pytest.mark.django_db

# Ten in the morning of the building, the Monday after the visit was begun.
MONDAY = datetime(2026, 11, 30, 15, 0, tzinfo=UTC)


def said():
    return list(Notice.objects.filter(kind="unsent").order_by("recipient"))


@pytest.fixture
def announced(tablet, technician):
    """Announce 37 entries and send one, 25 hours before."""

    at = MONDAY - timedelta(hours=25)
    tablet.announce(37, now=at)
    tablet.save("note", body={"text": "Ladder needed."})
    services.take_in(tablet=tablet.row, sender=technician, entries=tablet.made, now=at)
    tablet.announce(37, now=MONDAY - timedelta(minutes=5))
    return tablet


def test_announced_and_not_come_for_a_day_is_said_once(firm, announced, office, technician):
    composing.compose(firm_id=firm.pk, now=MONDAY - timedelta(hours=2))
    assert said() == []  # 23 hours
    composing.compose(firm_id=firm.pk, now=MONDAY)
    composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(hours=20))

    mails = said()
    assert [one.recipient for one in mails] == sorted([office.user.email, technician.user.email])
    assert "36 entries of the 37 that it announced have not come" in mails[0].body
    assert "Nothing more has come since 29 Nov, 09:00 EST." in mails[0].body  # by its clock
    assert "two days" not in mails[0].body
    assert "Quillmarsh House" in mails[0].subject


@pytest.mark.parametrize(("hours", "many"), [(49, 2), (47, 0)])
def test_a_silent_tablet_with_a_visit_under_way(firm, tablet, office, hours, many):
    Tablet.objects.update(seen_at=MONDAY - timedelta(hours=hours))

    composing.compose(firm_id=firm.pk, now=MONDAY)

    assert len(said()) == many
    assert all("has not spoken for two days" in one.body for one in said())


@pytest.mark.parametrize("about", ["revoked", "excused", "signed off", "all came"])
def test_what_was_decided_about_is_not_asked_after(firm, announced, about):
    assert len(list_unsent(firm_id=firm.pk, now=MONDAY)) == 1
    if about == "revoked":
        Tablet.objects.update(revoked_at=MONDAY)
    elif about == "excused":
        Holding.objects.update(excused_at=MONDAY)
    elif about == "signed off":
        Visit.objects.update(state="signed_off")
    else:
        Holding.objects.update(announced=1)

    assert list_unsent(firm_id=firm.pk, now=MONDAY) == []


def test_queries_do_not_grow_with_the_tablets(
    firm, visit, enrol, technician, now, django_assert_num_queries
):
    for number in range(4):
        row, _ = enrol(technician, name=f"Tablet {number}")
        services.hold(tablet=row, visit=visit, member=technician, now=now)
    Holding.objects.update(announced=3)
    with django_assert_num_queries(1):
        found = list_unsent(firm_id=firm.pk, now=MONDAY)
        assert len({one.holding.packed_by.user.email for one in found}) == 1
    assert len(found) == 4
