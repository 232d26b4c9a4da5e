"""Walk every address there is, as everyone who must not get through.

A new page is walked before anyone writes a test for it: the routes come from the resolver.
"""

import re
import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, connections
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from contractor.field import services as field
from contractor.field.models import Tablet
from contractor.tenancy import wall
from contractor.tenancy.models import FirmManager
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON

METHODS = ("get", "head", "post", "put", "patch", "delete", "options")
#: Sets of addresses of libraries, each with its own tests: sign-in.
FOREIGN = {"account_", "socialaccount_", "mfa_", "usersessions_"}


def every_route() -> Iterator[tuple[str, str, Any]]:
    """List every address as (pattern, full name, view), those of libraries too."""

    def walk(patterns, prefix, namespace):
        for pattern in patterns:
            path = prefix + str(pattern.pattern)
            if isinstance(pattern, URLResolver):
                inner = f"{namespace}{pattern.namespace}:" if pattern.namespace else namespace
                yield from walk(pattern.url_patterns, path, inner)
            elif isinstance(pattern, URLPattern):
                yield path, f"{namespace}{pattern.name}", pattern.callback

    yield from walk(get_resolver().url_patterns, "/", "")


ROUTES = [route for route in every_route() if not route[1].startswith(tuple(FOREIGN))]
BEHIND_FIRM = [route for route in ROUTES if "<slug:firm>" in route[0] and "/f/" in route[0]]
BEHIND_TABLET = [route for route in ROUTES if route[0].startswith("/field/<slug:firm>/")]
BEHIND_OWNER = [route for route in ROUTES if "<slug:firm>" in route[0] and "/o/" in route[0]]


def door(view: Any) -> str:
    """Tell what a view says of its door."""
    inner = getattr(view, "cls", getattr(view, "view_class", None))
    return getattr(view, "door", None) or getattr(inner, "door", "") or ""


@pytest.mark.parametrize(("path", "name", "view"), ROUTES)
def test_every_route_has_a_door(path, name, view):
    assert door(view), f"{path} has no door. Put @firm_view, FirmApi or @open_view on it."
    if path.startswith("/f/"):
        assert door(view).startswith("firm:")
    elif path.startswith("/o/"):
        assert door(view).startswith("owner")
    elif path.startswith("/field/<slug:firm>/"):
        assert door(view).startswith("tablet:")


def keys_of(path: str) -> list[str]:
    return [
        part.split(":")[1].rstrip(">")
        for part in path.replace("/", " ").split()
        if part.startswith("<uuid:")
    ]


CANARY = "Canary-7Q2M"


def plain(answer, slug: str) -> str:
    """Take out of an answer what differs by itself: the address that was asked, fresh tokens."""
    text = re.sub(r'nonce="[^"]+"', "", answer.content.decode().replace(slug, "FIRM"))
    return re.sub(r'(X-CSRFToken&quot;: &quot;|X-CSRFToken": "|value=")[A-Za-z0-9]{64}', "", text)


@pytest.fixture
def theirs(other_firm):
    """One of everything of the other firm, each text a canary: what a leak would show."""
    with scope(other_firm.pk):
        building = factories.BuildingFactory(firm=other_firm, name=f"{CANARY} Hall")
        system = factories.SystemFactory(building=building, name=f"{CANARY} system")
        device = factories.DeviceFactory(
            system=system,
            area=factories.AreaFactory(building=building, name=f"{CANARY} zone"),
            address="9-001",
            label=f"{CANARY} place",
        )
        member = factories.MemberFactory(firm=other_firm, role="principal", name=f"{CANARY} M.")
        visit = factories.VisitFactory(building=building, purpose=f"{CANARY} purpose")
        factories.VisitDeviceFactory(visit=visit, device=device)
        finding = factories.FindingFactory(building=building, title=f"{CANARY} finding")
        factories.ReadingFactory(device=device, source=f"{CANARY} row")
        more = factories.everything_else(building=building, system=system, visit=visit, at=NOON)
        keys = {
            "building_id": building.pk,
            "device_id": device.pk,
            "visit_id": visit.pk,
            "finding_id": finding.pk,
            "system_id": system.pk,
            "product_id": device.product_id,
            **more,
        }
    return member, keys


def fingerprint(firm_id) -> list[tuple[str, int, str]]:
    """Sum up every row of one firm, table by table, as the database's owner sees it."""
    found = []
    with connections["owner"].cursor() as cursor:
        cursor.execute(wall.TABLES)
        tables = [row[0] for row in cursor.fetchall() if row[1]]
        for table in tables:
            cursor.execute(
                f"select count(*), coalesce(md5(string_agg(t::text, '' order by t::text)), '')"
                f' from "{table}" t where firm_id = %s',
                [firm_id],
            )
            count, digest = cursor.fetchone()
            found.append((table, count, digest))
    return found


def addresses(route, firm_slug, keys):
    path, name, _ = route
    more = {"edition": "nfpa72-2013"} if "<slug:edition>" in path else {}
    if "<str:subject>" in path:
        more |= {"subject": "register.building"}
    found = {key: keys.get(key, uuid.uuid4()) for key in keys_of(path)}
    return reverse(name, kwargs={"firm": firm_slug} | more | found)


@pytest.mark.django_db
class TestStrangers:
    def test_another_firms_principal_finds_nothing(self, client, firm, other_firm, theirs):
        """Through their own firm's address with our keys, and through ours: 404, no canary."""
        _, keys = theirs
        with scope(firm.pk):
            ours = factories.MemberFactory(firm=firm, role="principal")
        client.force_login(ours.user)
        walked = 0
        for route in BEHIND_FIRM:
            for slug in (other_firm.slug, firm.slug):
                address = addresses(route, slug, keys)
                if slug == firm.slug and not keys_of(route[0]):
                    continue  # our own lists: asked for canaries below
                for method in METHODS:
                    answer = getattr(client, method)(address)
                    walked += 1
                    assert answer.status_code in (404, 405), (method, address)
                    if slug == other_firm.slug:
                        assert answer.status_code == 404, (method, address)
                    assert CANARY.encode() not in answer.content
        assert walked >= len(BEHIND_FIRM) * len(METHODS)

    def test_a_strange_firm_and_none_look_the_same(self, client, firm, other_firm, theirs):
        with scope(firm.pk):
            ours = factories.MemberFactory(firm=firm, role="principal")
        client.force_login(ours.user)
        for route in BEHIND_FIRM:
            there = client.get(addresses(route, other_firm.slug, theirs[1]))
            nowhere = client.get(addresses(route, "no-such-firm", theirs[1]))
            assert plain(there, other_firm.slug) == plain(nowhere, "no-such-firm")

    def test_anonymous_people_are_sent_to_sign_in(self, client, theirs, other_firm):
        for route in (*BEHIND_FIRM, *BEHIND_OWNER):
            answer = client.get(addresses(route, other_firm.slug, theirs[1]))
            assert answer.status_code in (302, 401, 403), route
            assert CANARY.encode() not in answer.content

    def test_somebody_who_has_left_finds_nothing(self, client, firm, today):
        with scope(firm.pk):
            gone = factories.MemberFactory(firm=firm, role="principal", left_on=today)
        client.force_login(gone.user)
        for route in BEHIND_FIRM:
            assert client.get(addresses(route, firm.slug, {})).status_code == 404

    def test_our_own_lists_show_no_canary(self, client, firm, theirs):
        with scope(firm.pk):
            ours = factories.MemberFactory(firm=firm, role="principal")
        client.force_login(ours.user)
        for route in BEHIND_FIRM:
            if keys_of(route[0]):
                continue
            # Their detector's address, not the canary: a page may show what was asked for.
            answer = client.get(addresses(route, firm.slug, {}) + "?q=9-001&page=1")
            assert answer.status_code in (200, 405), route
            assert CANARY.encode() not in answer.content, route

    def test_owners_of_another_firm_or_building_find_nothing(
        self, client, firm, other_firm, theirs
    ):
        with scope(firm.pk):
            seat = factories.OwnerSeatFactory(firm=firm)
            factories.OwnedBuildingFactory(
                seat=seat, building=factories.BuildingFactory(firm=firm, name="Own House")
            )
        client.force_login(seat.user)
        for route in BEHIND_OWNER:
            for slug in (other_firm.slug, firm.slug):
                if slug == firm.slug and not keys_of(route[0]):
                    continue
                for method in METHODS:
                    answer = getattr(client, method)(addresses(route, slug, theirs[1]))
                    assert answer.status_code in (404, 405), (method, route)
                    assert CANARY.encode() not in answer.content
        for route in BEHIND_FIRM:
            assert client.get(addresses(route, firm.slug, {})).status_code == 404


@pytest.mark.django_db
class TestTablets:
    """What lies under /field/ takes an enrolled tablet besides the sign-in."""

    @pytest.fixture
    def ours(self, client, firm, now):
        """A member of our firm, signed in, with an enrolled tablet: its headers."""
        with scope(firm.pk):
            member = factories.MemberFactory(firm=firm, role="principal")
            code, _ = field.make_code(name="Tablet 1", member=member, now=now)
            tablet, key = field.enrol(code=code, member=member, now=now)
        client.force_login(member.user)
        return {"X-Tablet": str(tablet.pk), "X-Tablet-Key": key}

    def addresses(self, firm_slug, keys):
        assert BEHIND_TABLET
        for route in BEHIND_TABLET:
            path = route[0].replace("<str:sha256>", "")
            named = {key: keys.get(key, uuid.uuid4()) for key in keys_of(path)}
            more = {"sha256": "0" * 64} if "sha256" in route[0] else {}
            yield reverse(route[1], kwargs={"firm": firm_slug} | named | more)

    def test_another_firm_is_not_there_for_them(self, client, other_firm, theirs, ours):
        for address in self.addresses(other_firm.slug, theirs[1]):
            for method in METHODS:
                answer = getattr(client, method)(address, headers=ours)
                assert answer.status_code == 404, (method, address)
                assert CANARY.encode() not in answer.content

    def test_another_firms_keys_under_our_address_show_nothing(self, client, firm, theirs, ours):
        for address in self.addresses(firm.slug, theirs[1]):
            answer = client.get(address, headers=ours)
            assert CANARY.encode() not in answer.content, address
            if theirs[1]["visit_id"].hex in address.replace("-", ""):
                assert answer.status_code == 404

    def test_without_a_tablet_nothing_is_told(self, client, firm, ours):
        for address in self.addresses(firm.slug, {}):
            for headers in ({}, {**ours, "X-Tablet-Key": "another"}):
                answer = client.get(address, headers=headers)
                assert answer.status_code in (403, 405), address

    def test_a_revoked_one_only_hands_over_what_it_holds(self, client, firm, ours):
        with scope(firm.pk):
            Tablet.objects.update(revoked_at=NOON)
        refused = {
            route[1]
            for route, address in zip(BEHIND_TABLET, self.addresses(firm.slug, {}), strict=True)
            for method in METHODS
            if getattr(client, method)(address, headers=ours).content.startswith(
                b'{"code": "revoked"'
            )
        }
        open_to_it = {"field:enrol", "field:hello", "field:entries", "field:blob"}
        assert refused == {route[1] for route in BEHIND_TABLET} - open_to_it

    def test_without_a_sign_in_nothing_is_told(self, client, firm, ours):
        client.logout()
        for address in self.addresses(firm.slug, {}):
            assert client.get(address, headers=ours).status_code == 401


WRITES_OF_OTHERS = [
    route
    for route in BEHIND_FIRM
    if door(route[2]) in ("firm:manage", "firm:sign_off", "firm:administer")
]


@pytest.mark.django_db
def test_a_technician_is_refused_what_the_office_does(client, firm):
    """Inside one's own firm the answer is 403: the page exists, the role does not suffice."""
    with scope(firm.pk):
        technician = factories.MemberFactory(firm=firm, role="technician")
    client.force_login(technician.user)
    assert WRITES_OF_OTHERS
    for route in WRITES_OF_OTHERS:
        for method in ("get", "post"):
            answer = getattr(client, method)(addresses(route, firm.slug, {}))
            assert answer.status_code == 403, (method, route[0])


@pytest.mark.django_db(transaction=True, databases=["default", "owner"])
class TestEachLockAlone:
    @pytest.fixture(autouse=True)
    def _firms(self, firm, other_firm, theirs):
        self.firm, self.other, self.keys = firm, other_firm, theirs[1]
        with scope(firm.pk):
            self.ours = factories.MemberFactory(firm=firm, role="principal")

    def walk(self, client):
        client.force_login(self.ours.user)
        before = fingerprint(self.other.pk)
        for route in BEHIND_FIRM:
            for method in ("get", "post"):
                if not keys_of(route[0]) and method == "post":
                    continue
                answer = getattr(client, method)(addresses(route, self.firm.slug, self.keys))
                assert CANARY.encode() not in answer.content, (method, route)
        assert fingerprint(self.other.pk) == before

    def test_with_the_managers_filter_off_the_rows_wall_holds(self, client, monkeypatch):
        from django.db import models

        monkeypatch.setattr(
            FirmManager, "get_queryset", lambda self: models.QuerySet(self.model, using=self._db)
        )
        self.walk(client)

    def test_with_row_security_off_the_managers_hold(self, client):
        with connections["owner"].cursor() as cursor:
            cursor.execute(wall.TABLES)
            tables = [row[0] for row in cursor.fetchall() if row[1]]
            for table in tables:
                cursor.execute(f'ALTER TABLE "{table}" DISABLE ROW LEVEL SECURITY')
        try:
            with connection.cursor() as cursor:
                cursor.execute("select count(*) from register_building where name like 'Canary%'")
                assert cursor.fetchone()[0] > 0, "row security is still on: this proves nothing"
            self.walk(client)
        finally:
            with connections["owner"].cursor() as cursor:
                for table in tables:
                    cursor.execute(f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY')


@pytest.mark.django_db(databases=["default", "owner"])
class TestSchema:
    def test_every_firm_table_has_a_forced_wall(self):
        with connections["owner"].cursor() as cursor:
            cursor.execute(wall.TABLES)
            tables = cursor.fetchall()
        assert len(tables) > 30
        for table, has_firm, forced, policies in tables:
            if has_firm:
                assert forced, table
                assert len(policies) == len(wall.expected(table)), table
            else:
                assert table in wall.OPEN, table

    def test_every_key_between_firm_tables_is_composite(self):
        with connections["owner"].cursor() as cursor:
            cursor.execute(
                """
                select c.conname, c.conrelid::regclass::text, c.confrelid::regclass::text,
                       array(select attname from pg_attribute
                             where attrelid = c.conrelid and attnum = any (c.conkey))
                from pg_constraint c where c.contype = 'f'
                """
            )
            keys = cursor.fetchall()
            cursor.execute(wall.TABLES)
            firm_tables = {row[0] for row in cursor.fetchall() if row[1]}
        between = [key for key in keys if key[1] in firm_tables and key[2] in firm_tables]
        assert len(between) > 30
        for name, table, _, columns in between:
            assert "firm_id" in columns, f"{name} on {table} can cross firms"

    def test_the_application_may_only_add_to_what_was_said(self):
        with connection.cursor() as cursor:
            for table in wall.APPEND_ONLY:
                cursor.execute(
                    "select has_table_privilege(%s, 'UPDATE'), has_table_privilege(%s, 'DELETE')",
                    [table, table],
                )
                assert cursor.fetchone() == (False, False), table

    def test_migrating_again_changes_nothing(self):
        call_command("migrate", verbosity=0, database="owner")
