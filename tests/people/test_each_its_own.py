"""Two of each: what is asked of one person, licence or offer never answers with another's."""

from datetime import date, timedelta

import pytest

from contractor.field.models import Tablet, TabletUse
from contractor.field.services import parting
from contractor.people import queries
from contractor.people.models import Invitation, Licence
from tests import factories
from tests.conftest import NOON

PLACE = "Harrow County"


@pytest.fixture
def licences(firm, office, technician):
    """Of each of two, and of the firm: one that holds to December, and one that was ended."""
    return {
        (of, ended): Licence.objects.create(
            firm=firm, member=of, kind="technician", number=f"{of} {ended}", jurisdiction=PLACE,
            ends_on=date(2026, 12, 1), ended_on=ended,
        )
        for of in (None, office, technician)
        for ended in (None, date(2026, 11, 1))
    }  # fmt: skip


def test_licences(licences, firm, office, technician):
    for of in (None, office, technician):
        mine = {one for (whose, _), one in licences.items() if whose == of}
        assert set(queries.list_licences(firm_id=firm.pk, member=of)) == mine
        for one in mine:
            assert queries.get_licence(firm_id=firm.pk, licence_id=one.pk) == one
    standing = {of: one for (of, ended), one in licences.items() if not ended}
    assert queries.map_licences(firm_id=firm.pk) == {
        of and of.pk: [one] for of, one in standing.items()
    }
    until = {"firm_id": firm.pk, "until": date(2026, 12, 1)}
    assert set(queries.list_ending(**until)) == set(standing.values())
    assert not queries.list_ending(**until | {"until": date(2026, 11, 30)}).exists()
    technician.left_on = NOON.date()
    technician.save()
    assert set(queries.list_ending(**until)) == {standing[None], standing[office]}


def test_only_who_is_sent_is_warned_of(licences, building, office, technician):
    building.jurisdiction = PLACE
    building.save()
    licences[office, None].delete()
    on = {"building": building, "planned_on": date(2026, 12, 1), "tasks": ["functional"]}

    assert queries.list_warnings(**on, member_ids=[technician.pk]) == []
    (said,) = queries.list_warnings(**on, member_ids=[office.pk])
    assert said.startswith("I. Tarrowby")


def test_people_and_places(firm, building, office, technician):
    for one in (office, technician):
        assert queries.get_member(firm_id=firm.pk, member_id=one.pk) == one
    named = factories.BuildingFactory(firm=firm, customer=building.customer, jurisdiction=PLACE)
    building.jurisdiction = ""
    building.save()
    assert queries.list_jurisdictions(firm_id=firm.pk) == [named.jurisdiction]


def test_offers(firm, office):
    made = [
        Invitation.objects.create(
            firm=firm, email=f"{number}@example.org", name="N.", role="office", invited_by=office,
            invited_at=NOON, ends_at=NOON + timedelta(days=7), **over,
        )
        for number, over in enumerate(({}, {"used_at": NOON}, {"cancelled_at": NOON}))
    ]  # fmt: skip

    assert list(queries.list_invitations(firm_id=firm.pk)) == made[:1]
    for one in made:
        assert queries.get_invitation(firm_id=firm.pk, invitation_id=one.pk) == one
    assert [queries.is_open(one, NOON) for one in made] == [True, False, False]
    assert not queries.is_open(made[0], made[0].ends_at)


def test_whose_tablets_end_with_a_seat(firm, office, technician):
    gone = factories.MemberFactory(firm=firm, left_on=date(2026, 1, 1))
    users = {
        "alone": [technician], "after one who left": [technician, gone], "of one who left": [gone],
        "shared": [technician, office], "unused": [], "revoked": [technician],
    }  # fmt: skip
    for name, used_by in users.items():
        tablet = Tablet.objects.create(
            firm=firm, name=name, key_hash=name, enrolled_at=NOON, enrolled_by=office,
            revoked_at=NOON if name == "revoked" else None,
        )  # fmt: skip
        for member in used_by:
            TabletUse.objects.create(
                firm=firm, tablet=tablet, member=member, first_at=NOON, last_at=NOON
            )

    assert parting.tell_tablets(technician) == ["after one who left", "alone"]
    assert parting.tell_tablets(office) == []
