"""The wall, seen from a firm's rows."""

import uuid
from pathlib import Path

import pytest
from django.conf import settings
from django.db import IntegrityError, ProgrammingError, connection, transaction

from contractor.register.models import Building, Customer, System
from contractor.tenancy import files
from contractor.tenancy.models import AuditLine, Member
from contractor.tenancy.queries import list_seats
from contractor.tenancy.scope import NoScope, scope
from tests import factories

pytestmark = pytest.mark.django_db


class TestScope:
    def test_outside_every_query_raises(self, firm):
        with pytest.raises(NoScope):
            Building.objects.count()
        with pytest.raises(NoScope):
            Building.objects.filter(name="x").exists()

    def test_a_kept_queryset_raises_after_the_scope(self, firm):
        with scope(firm.pk):
            kept = Building.objects.all()
        with pytest.raises(NoScope):
            list(kept)

    def test_another_scope_inside_is_refused(self, firm, other_firm):
        with scope(firm.pk), pytest.raises(NoScope), scope(other_firm.pk):
            pass

    def test_raw_sql_without_a_scope_finds_nothing(self, firm):
        with scope(firm.pk):
            factories.BuildingFactory(firm=firm)
        with connection.cursor() as cursor:
            cursor.execute("select count(*) from register_building")
            assert cursor.fetchone() == (0,)


class TestWall:
    @pytest.fixture
    def theirs(self, other_firm):
        with scope(other_firm.pk):
            return factories.BuildingFactory(firm=other_firm, name="Canary Hall")

    def test_another_firms_row_is_not_found(self, firm, theirs):
        with scope(firm.pk):
            assert not Building.objects.filter(pk=theirs.pk).exists()
            with connection.cursor() as cursor:
                cursor.execute("select count(*) from register_building where id = %s", [theirs.pk])
                assert cursor.fetchone() == (0,)

    def test_a_row_for_another_firm_is_refused(self, firm, other_firm):
        refused = pytest.raises(ProgrammingError, match="row-level security")
        with scope(firm.pk), refused, transaction.atomic():
            Customer.objects.create(firm=other_firm, name="smuggled")

    def test_a_child_of_another_firms_parent_is_refused(self, firm, theirs):
        refused = pytest.raises(IntegrityError, match="register_system_building_firm")
        with scope(firm.pk), refused, transaction.atomic():
            System.objects.create(firm=firm, building_id=theirs.pk, name="smuggled")

    def test_the_audit_trail_cannot_be_changed(self, firm, office, now):
        line = AuditLine.objects.create(
            firm=firm, actor="x", action="a.b", subject="s", subject_id=uuid.uuid4(), at=now
        )
        with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
            AuditLine.objects.filter(pk=line.pk).update(actor="y")
        with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
            AuditLine.objects.filter(pk=line.pk).delete()


class TestListSeats:
    def test_shows_a_person_their_own_seats_in_every_firm(self, firm, other_firm):
        user = factories.UserFactory()
        for each in (firm, other_firm):
            with scope(each.pk):
                factories.MemberFactory(firm=each, user=user)
                factories.MemberFactory(firm=each)

        assert [seat.firm_slug for seat in list_seats(user_id=user.pk)] == ["tarnbeck", "wexholt"]

    def test_leaves_nothing_open_afterwards(self, firm):
        with scope(firm.pk):
            member = factories.MemberFactory(firm=firm)
        list_seats(user_id=member.user_id)

        with connection.cursor() as cursor:
            cursor.execute("select count(*) from tenancy_member")
            assert cursor.fetchone() == (0,)

    def test_a_seat_elsewhere_can_be_read_but_not_changed(self, firm):
        with scope(firm.pk):
            member = factories.MemberFactory(firm=firm)
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("select set_config('app.user_id', %s, true)", [str(member.user_id)])
            cursor.execute("update tenancy_member set role = 'principal'")
            assert cursor.rowcount == 0
        with scope(firm.pk):
            assert Member.objects.get(pk=member.pk).role == "office"


class TestKeptFiles:
    def test_lie_in_the_firms_own_folder_under_their_hash_and_cannot_be_run(self, firm):
        """ASVS 5.3.1."""
        kept = files.keep(firm_id=firm.pk, data=b"#!/bin/sh\necho heron\n")

        (place,) = Path(settings.DATA_DIR, "files").rglob(kept)
        assert str(firm.pk) in place.parts
        assert not place.stat().st_mode & 0o111
