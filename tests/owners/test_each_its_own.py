"""Two buildings, two owners, two links: what is asked of one says nothing of the other."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ObjectDoesNotExist
from django.urls import reverse

from contractor.owners import queries, services, sharing
from contractor.owners.models import ShareLink
from contractor.tenancy.keys import uuid7
from tests import factories


@pytest.fixture
def two(firm, building, seat, system, now):
    """Of each building: its owner's seat, a link, a finding with a decision, a detector."""
    other = factories.BuildingFactory(firm=firm, customer=building.customer, name="Brack Mill")
    theirs = factories.OwnerSeatFactory(firm=firm, user=factories.UserFactory(name="A. Brack"))
    factories.OwnedBuildingFactory(seat=theirs, building=other)
    made = []
    systems = (system, factories.SystemFactory(building=other))
    for number, (one, own, has) in enumerate(
        zip((building, other), (seat, theirs), systems, strict=True)
    ):
        link, secret = sharing.make_link(
            building=one, seat=own, purpose="insurer", name=f"Mutual {number}", now=now,
            today=now.date(), ends_on=now.date() + timedelta(days=30),
        )  # fmt: skip
        sharing.note_use(link=link, what=f"page {number}", address="192.0.2.1", now=now)
        detector = factories.DeviceFactory(
            system=has, address=f"L{number}", latest_verdict="out_of_range"
        )
        factories.DeviceFactory(system=has, address=f"M{number}", latest_verdict="in_range")
        factories.DeviceFactory(
            system=has, address=f"H{number}", kind="heat", latest_verdict="out_of_range"
        )
        factories.DeviceFactory(
            system=has, address=f"G{number}", latest_verdict="out_of_range",
            removed_on=date(2026, 1, 2),
        )  # fmt: skip
        finding = factories.FindingFactory(building=one, device=None, title=f"Fault {number}")
        decided = sharing.decide(finding=finding, seat=own, says="yes", reason="", now=now)
        made.append((one, own, link, secret, detector, finding, decided))
    return made


@pytest.fixture
def each(two):
    """One and the other, and the other and the one."""
    return list(zip(two, reversed(two), strict=True))


def test_seats(each, firm, now):
    for (one, own, *_), (other, *_) in each:
        assert queries.find_seat(firm_id=firm.pk, user_id=own.user_id) == own
        assert queries.list_buildings(seat=own) == [one]
        assert [r.address for r in queries.list_recipients(building=one)] == [own.user.email]
        assert other not in queries.list_buildings(seat=own)
    seat = each[0][0][1]
    seat.ended_at = now
    seat.save()
    assert queries.find_seat(firm_id=firm.pk, user_id=seat.user_id) is None
    assert queries.list_recipients(building=each[0][0][0]) == []
    theirs = each[1][0][1].user
    theirs.is_active = False
    theirs.save()
    assert queries.list_recipients(building=each[1][0][0]) == []


def test_links(each, firm, now):
    for (one, own, link, secret, *_), (other, *_) in each:
        assert sharing.find_link(secret=secret) == (firm.pk, link.pk)
        assert sharing.get_open_link(firm_id=firm.pk, link_id=link.pk) == link
        assert sharing.get_link(seat=own, buildings=[one], link_id=link.pk) == link
        for wrong in ({"buildings": [other]}, {"link_id": uuid7()}):
            with pytest.raises(ObjectDoesNotExist):
                sharing.get_link(**{"seat": own, "buildings": [one], "link_id": link.pk} | wrong)
        assert sharing.list_links(building=one) == [link]
        assert [use.link for use in sharing.list_uses(building=one)] == [link]
    first = each[0][0]
    for _ in range(2):
        sharing.revoke_link(link=first[2], seat=first[1], now=now)
        now += timedelta(hours=1)
    ends = [ShareLink.objects.get(pk=one[2].pk).revoked_at for one, _ in each]
    assert ends == [now - timedelta(hours=2), None]
    with pytest.raises(ObjectDoesNotExist):
        sharing.get_open_link(firm_id=firm.pk, link_id=first[2].pk)
    second = each[1][0]
    second[1].ended_at = now
    second[1].save()
    with pytest.raises(ObjectDoesNotExist):
        sharing.get_open_link(firm_id=firm.pk, link_id=second[2].pk)


def test_findings_and_decisions(each, now):
    for (one, own, *_, finding, decided), (*_, foreign, _) in each:
        asked = {"seat": own, "buildings": [one]}
        assert sharing.get_finding(**asked, finding_id=finding.pk) == finding
        with pytest.raises(ObjectDoesNotExist):
            sharing.get_finding(**asked, finding_id=foreign.pk)
        assert sharing.list_decisions(building=one) == {finding.pk: decided}


def test_the_state_of_a_building(each, now):
    for (one, _, _, _, detector, finding, _), _ in each:
        state = queries.load_state(building=one, today=now.date())
        assert state.out == (detector,)
        assert state.findings == (finding,)
        counted = state.detectors
        assert (counted.total, counted.out, counted.in_range, counted.nearing) == (2, 1, 1, 0)


@pytest.mark.parametrize("firm_slug", ["nowhere", "tarnbeck"])
def test_the_door_opens_ones_own_building_at_ones_own_firm(each, client, firm_slug):
    (one, own, *_), (other, *_) = each[0]
    client.force_login(own.user)

    def ask(building):
        keys = {"firm": firm_slug, "building_id": building.pk}
        return client.get(reverse("owners:building", kwargs=keys)).status_code

    assert ask(one) == (200 if firm_slug == "tarnbeck" else 404)
    assert ask(other) == 404


@pytest.mark.parametrize(("says", "reason"), [("", ""), ("perhaps", "we think"), ("no", " ")])
def test_a_decision_is_one_that_there_is(each, now, says, reason):
    (_, own, *_, finding, _), _ = each[0]

    with pytest.raises(sharing.UnableToDecide):
        sharing.decide(finding=finding, seat=own, says=says, reason=reason, now=now)


def test_a_seat_is_ended_and_opened_anew_alone(each, office, now):
    (first, own, *_), (second, theirs, *_) = each[0][0], each[1][0]

    services.end_seat(seat=own, member=office, now=now)
    services.end_seat(seat=own, member=office, now=now + timedelta(hours=1))
    theirs.refresh_from_db()
    assert (own.ended_at, theirs.ended_at) == (now, None)

    contact = factories.ContactFactory(customer=first.customer)
    services.open_seat(contact=contact, user=own.user, buildings=[first], member=office, now=now)
    assert queries.list_buildings(seat=theirs) == [second]


def test_a_link_holds_through_its_last_day(each, client, time_machine):
    link, secret = each[0][0][2:4]
    address = reverse("shared", kwargs={"secret": secret})
    noon = datetime.combine(link.ends_on, time(12), ZoneInfo(link.building.time_zone))

    for days, status in ((0, 200), (1, 404)):
        time_machine.move_to(noon + timedelta(days=days), tick=False)
        assert client.get(address).status_code == status
