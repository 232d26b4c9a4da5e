"""Two tablets, two visits, two buildings: what is asked of one says nothing of the other."""

import hashlib
from datetime import timedelta

import pytest

from contractor.field import queries, services
from contractor.field.models import Applied, Photo, Review
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import ROLES, Permission
from contractor.visits import services as visits
from contractor.visits.cautions import list_cautions
from tests import factories
from tests.field.paper import PaperTablet

DATA = ["", b"a picture", b"another picture"]
PASS = {"task": "functional", "result": "pass"}


@pytest.fixture
def two(firm, building, visit, devices, technician, office, enrol, now):
    """A tablet on each of two visits; each has sent a pass, a bypass, a photo and a puzzle."""
    other = factories.BuildingFactory(firm=firm, customer=building.customer, name="Brack Mill")
    system = factories.SystemFactory(building=other)
    device = factories.DeviceFactory(system=system, address="9-001")
    planned = visits.plan_visit(
        building=other, planned_on=now.date(), tasks=["functional"], member_ids=[technician.pk],
        member=office, now=now,
    )  # fmt: skip
    second = visits.begin_visit(
        visit=planned, notified_before="Station 7", cautions=list_cautions(building=other),
        member=technician, now=now,
    )  # fmt: skip
    made = []
    for number, (one, stands) in enumerate(((visit, devices[0]), (second, device)), 1):
        row, key = enrol(technician, f"Tablet {number}")
        services.hold(tablet=row, visit=one, member=technician, now=now)
        tablet = PaperTablet(row, technician, one)
        tablet.key = key
        tablet.save("result", stands.pk, body=PASS)
        tablet.save("log", body={"what": "bypassed", "where": f"Bell {number}", "words": "b"})
        photo = {"sha256": hashlib.sha256(DATA[number]).hexdigest(), "length": len(DATA[number])}
        tablet.save("note", stands.pk, body={"text": f"Note {number}"}, photos=[photo])
        tablet.save("result", uuid7(), body=PASS)  # of no device here: it waits for the office
        services.greet(
            tablet=row, member=technician, now=now, made=4, app_version="paper", is_protected=True,
            announced=[services.Announced(one.pk, 4 + number, 1)],
        )  # fmt: skip
        services.take_in(tablet=row, sender=technician, entries=tablet.made, now=now)
        row.refresh_from_db()
        made.append(tablet)
    return made


@pytest.fixture
def each(two):
    """One and the other, and the other and the one."""
    return list(zip(two, reversed(two), strict=True))


def test_a_tablet_is_known_by_its_own_key(each):
    for one, other in each:
        mine = services.hash_key(one.key)
        assert queries.find_tablet(tablet_id=one.row.pk, key_hash=mine) == one.row
        assert queries.find_tablet(tablet_id=other.row.pk, key_hash=mine) is None
        assert queries.find_tablet(tablet_id=one.row.pk, key_hash="") is None


def test_what_a_tablet_holds(each, firm, technician):
    for one, other in each:
        assert [held.visit for held in queries.list_held(tablet=one.row)] == [one.visit]
        assert [held.tablet for held in queries.list_holdings(visit=one.visit)] == [one.row]
        assert [use.tablet_id for use in queries.list_uses(tablet=one.row)] == [one.row.pk]
        own = {"firm_id": firm.pk, "visit_id": one.visit.pk}
        held = queries.get_holding(**own, tablet_id=one.row.pk)
        assert queries.count_here(holding=held) == 4
        with pytest.raises(queries.Missing):
            queries.get_holding(**own, tablet_id=other.row.pk)
    announced = [queries.list_held(tablet=one.row)[0].announced for one, _ in each]
    assert announced == [5, 6]


def test_taking_a_visit_again_renews_it_and_no_other(two, technician, now):
    later = now + timedelta(hours=1)
    services.hold(tablet=two[1].row, visit=two[1].visit, member=technician, now=later)

    assert [queries.list_held(tablet=one.row)[0].packed_at for one in two] == [now, later]
    services.hold(tablet=two[1].row, visit=two[0].visit, member=technician, now=later)
    assert len(queries.list_held(tablet=two[1].row)) == 2
    assert len(queries.list_held(tablet=two[0].row)) == 1


def test_a_contact_is_noted_of_who_spoke(two, technician, office, now):
    later = now + timedelta(hours=1)
    services.greet(
        tablet=two[1].row, member=office, now=later, made=7, app_version="paper 2",
        is_protected=False, announced=[services.Announced(two[1].visit.pk, 7, 2)],
    )  # fmt: skip

    for one in two:
        one.row.refresh_from_db()
    assert [(one.row.seen_at, one.row.announced) for one in two] == [(now, 4), (later, 7)]
    assert [queries.list_held(tablet=one.row)[0].announced for one in two] == [5, 7]
    uses = [[(u.member, u.last_at) for u in queries.list_uses(tablet=one.row)] for one in two]
    assert uses == [[(technician, now)], [(office, later), (technician, now)]]


def test_photos(each, now):
    services.take_piece(
        tablet=each[0][0].row, sha256=hashlib.sha256(DATA[1]).hexdigest(), start=0,
        length=len(DATA[1]), piece=DATA[1], now=now,
    )  # fmt: skip

    begun = DATA[2][:4]  # of the other's only the beginning has come
    services.take_piece(
        tablet=each[1][0].row, sha256=hashlib.sha256(DATA[2]).hexdigest(), start=0,
        length=len(DATA[2]), piece=begun, now=now,
    )  # fmt: skip

    here = [[photo.is_here for photo in queries.list_photos(visit=one.visit)] for one, _ in each]
    assert here == [[True], [False]]
    of = [queries.list_photos_of(building=one.visit.building) for one, _ in each]
    assert [[photo.visit for photo in found] for found in of] == [[each[0][0].visit], []]
    for photo in Photo.objects.all():
        assert queries.get_photo(firm_id=photo.firm_id, photo_id=photo.pk) == photo


def test_what_waits_for_the_office(each, firm, office, now):
    for one, _ in each:
        found = queries.list_reviews(firm_id=firm.pk, visit=one.visit)
        assert [review.received.tablet_id for review in found] == [one.row.pk]
        assert queries.get_review(firm_id=firm.pk, review_id=found[0].pk) == found[0]
        passed = queries.list_passed(visit=one.visit, tablet=one.row, after=0, online_known=0)
        assert [said["id"] for said in passed.reviews] == [one.made[3]["id"]]
    decided = Review.objects.order_by("pk").first()
    Review.objects.filter(pk=decided.pk).update(resolved_at=now, resolved_by=office)
    assert queries.list_reviews(firm_id=firm.pk).count() == 1
    assert list(queries.list_reviews(firm_id=firm.pk, is_open=False)) == [decided]
    left = queries.list_passed(
        visit=each[0][0].visit, tablet=each[0][0].row, after=0, online_known=0
    )
    assert left.reviews == []


def test_what_was_entered_online(each, technician, now):
    one = each[0][0]
    passed = queries.list_passed(visit=one.visit, tablet=one.row, after=0, online_known=9)
    assert (passed.online, passed.online_count) == ([], 0)
    visits.note(visit=one.visit, member=technician, now=now, text="Typed in the office")

    for number, (tablet, _) in enumerate(each):
        passed = queries.list_passed(visit=tablet.visit, tablet=tablet.row, after=0, online_known=9)
        assert [said["text"] for said in passed.online] == ["Typed in the office"][number:]


def test_what_others_said(each, technician, enrol, now):
    third, _ = enrol(technician, "Tablet 3")
    for one, _ in each:
        passed = queries.list_passed(visit=one.visit, tablet=third, after=0, online_known=0)
        assert {said["id"] for said in passed.entries} == {said["id"] for said in one.made[:3]}
        after = queries.list_passed(
            visit=one.visit, tablet=third, after=passed.cursor, online_known=0
        )
        assert after.entries == []
        assert passed.reviews == []  # those are another tablet's
        own = queries.list_passed(visit=one.visit, tablet=one.row, after=0, online_known=0)
        assert own.entries == []
        known = {"visit_id": one.visit.pk, "cursor": passed.cursor}
        assert queries.knows_cursor(**known, last=passed.last)
        assert not queries.knows_cursor(**known, last=str(uuid7()))
        assert not queries.knows_cursor(**known | {"visit_id": uuid7()}, last="")
        assert not queries.knows_cursor(**known | {"cursor": passed.cursor + 900}, last="")


def test_what_is_bypassed_and_what_is_missing(each):
    for number, (one, _) in enumerate(each, 1):
        assert queries.list_bypassed(visit=one.visit) == [f"Bell {number}"]
        assert queries.list_gaps(tablet=one.row) == []
        assert queries.find_broken_link(tablet=one.row) is None


def test_what_is_missing(each, firm, visit, enrol, technician, now):
    row, _ = enrol(technician, "Tablet 3")
    third = PaperTablet(row, technician, visit)
    for number in range(5):
        third.save("log", body={"what": "other", "words": f"Line {number}"})
    sent = [third.made[number] for number in (0, 3)]
    services.take_in(tablet=row, sender=technician, entries=sent, now=now)
    row.refresh_from_db()

    assert queries.list_gaps(tablet=row) == [2, 3]
    row.held = 2  # what lies below what it holds is not asked for again
    assert queries.list_gaps(tablet=row) == [3]
    for one, _ in each:
        assert queries.list_gaps(tablet=one.row) == []
        assert queries.find_broken_link(tablet=one.row) is None


@pytest.mark.parametrize("has_left", [False, True])
def test_a_role_that_may_not_record_delivers_only_what_it_holds_from_before(
    client, firm, visit, enrol, office, now, monkeypatch, has_left
):
    row, key = enrol(office, "Tablet 4")
    monkeypatch.setitem(ROLES, "office", frozenset({Permission.READ}))
    if has_left:
        office.left_on = now.date()
        office.save()
    client.force_login(office.user)
    headers = {"X-Tablet": str(row.pk), "X-Tablet-Key": key}

    answer = client.post(
        f"/field/{firm.slug}/entries",
        {"entries": []},
        content_type="application/json",
        headers=headers,
    )

    assert answer.json().get("code") == (None if has_left else "forbidden")
    told = client.get(f"/field/{firm.slug}/visits", headers=headers)
    assert told.status_code == (404 if has_left else 200)


def test_what_is_stored_and_not_yet_entered(each, firm, now):
    assert [queries.count_stored(visit=one.visit) for one, _ in each] == [0, 0]
    late = each[1][0]
    Applied.objects.filter(received__tablet=late.row).delete()

    assert [queries.count_stored(visit=one.visit) for one, _ in each] == [0, 3]
    assert [len(queries.list_stored(visit_id=one.visit.pk, most=9)) for one, _ in each] == [0, 3]
    assert queries.list_visits_with_stored(firm_id=firm.pk, since=now) == [late.visit.pk]


def test_silent_is_who_holds_a_visit_and_says_nothing(each, firm, technician, enrol, now):
    idle, _ = enrol(technician, "Tablet 9")
    later = now + timedelta(hours=49)

    silent = {one.name for one in queries.list_tablets(firm_id=firm.pk, now=later) if one.is_silent}

    assert silent == {"Tablet 1", "Tablet 2"}
    assert idle in queries.list_tablets(firm_id=firm.pk, now=later)
    assert not any(one.is_silent for one in queries.list_tablets(firm_id=firm.pk, now=now))


def test_a_firm_that_there_is_not(each, client, technician):
    client.force_login(technician.user)

    assert client.get("/field/nowhere/visits").json()["code"] == "not_found"


def test_two_tablets_on_one_visit_are_counted_apart(each, firm, enrol, technician, now):
    first = each[0][0]
    row, _ = enrol(technician, "Tablet 3")
    services.hold(tablet=row, visit=first.visit, member=technician, now=now)
    third = PaperTablet(row, technician, first.visit)
    third.save("log", body={"what": "other", "words": "One line"})
    services.take_in(tablet=row, sender=technician, entries=third.made, now=now)

    held = {one.tablet.name: one for one in queries.list_holdings(visit=first.visit)}
    counted = {name: queries.count_here(holding=one) for name, one in held.items()}
    assert counted == {"Tablet 1": 4, "Tablet 3": 1}


def test_what_was_not_entered_bypasses_nothing(each):
    (one, _), (other, _) = each
    Applied.objects.filter(received__tablet=one.row, received__kind="log").delete()

    assert queries.list_bypassed(visit=one.visit) == []
    assert queries.list_bypassed(visit=other.visit) == ["Bell 2"]
    assert queries.count_stored(visit=one.visit) == 1
    assert len(queries.list_stored(visit_id=one.visit.pk, most=9)) == 1


def test_a_code_enrols_the_tablet_that_it_was_made_for(office, technician, now):
    names = ("Tablet B", "Tablet A")
    codes = {name: services.make_code(name=name, member=office, now=now)[0] for name in names}
    with pytest.raises(services.UnableToEnrol, match="not known"):
        services.enrol(code="00000000", member=technician, now=now)
    for name in reversed(names):
        tablet, _ = services.enrol(code=codes[name], member=technician, now=now)
        assert tablet.name == name


def test_a_tablet_has_a_name(office, now):
    with pytest.raises(services.UnableToEnrol, match="Give the tablet a name"):
        services.make_code(name="  ", member=office, now=now)


def test_a_link_is_broken_on_the_tablet_where_it_is(each, visit, enrol, technician, now):
    row, _ = enrol(technician, "Tablet 3")
    third = PaperTablet(row, technician, visit)
    third.save("log", body={"what": "other", "words": "One"})
    third.save("log", body={"what": "other", "words": "Two"}, prev="0" * 64)
    services.take_in(tablet=row, sender=technician, entries=third.made, now=now)

    assert queries.find_broken_link(tablet=row) == 2
    assert [queries.find_broken_link(tablet=one.row) for one, _ in each] == [None, None]


def test_a_tablet_announces_each_visit_for_itself(two, technician, now):
    one, other = two
    services.hold(tablet=one.row, visit=other.visit, member=technician, now=now)
    services.greet(
        tablet=one.row, member=technician, now=now, made=9, app_version="paper", is_protected=True,
        announced=[services.Announced(other.visit.pk, 2, 0)],
    )  # fmt: skip

    held = queries.list_held(tablet=one.row)
    assert {each.visit_id: each.announced for each in held} == {one.visit.pk: 5, other.visit.pk: 2}
    # The other tablet's own word of the same visit stands.
    assert [each.announced for each in queries.list_held(tablet=other.row)] == [6]
    here = {each.visit_id: queries.count_here(holding=each) for each in held}
    assert here == {one.visit.pk: 4, other.visit.pk: 0}
    assert all(queries.is_short(holding=each) for each in held)


def test_only_a_line_of_the_log_bypasses_and_restores(two, devices, technician, now):
    one, other = two
    said = {"text": "Seen", "words": "Seen", "where": "Bell 9"}
    one.save("note", devices[0].pk, body={**said, "what": "bypassed"})
    one.save("note", devices[0].pk, body={**said, "what": "restored", "of": one.made[1]["id"]})
    services.take_in(tablet=one.row, sender=technician, entries=one.made[4:], now=now)

    assert Applied.objects.filter(received__tablet=one.row, received__kind="note").count() == 3
    assert queries.list_bypassed(visit=one.visit) == ["Bell 1"]
    assert queries.list_bypassed(visit=other.visit) == ["Bell 2"]
