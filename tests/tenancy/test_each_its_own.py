"""Two of each: what is asked of one never answers with the other."""

import threading
from contextvars import copy_context
from datetime import timedelta

import pytest
from django.core.exceptions import ObjectDoesNotExist
from django.db import connection

from contractor.tenancy import queries
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import AuditLine, Deed, Job, SavedList
from contractor.tenancy.scope import NoScope, scope
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def people(inside, firm, office, technician):
    """Office, technician, principal, and an office and a principal who have left."""
    principal = factories.MemberFactory(firm=firm, role="principal", name="A. First")
    for role in ("office", "principal"):
        factories.MemberFactory(firm=firm, role=role, left_on="2026-01-01", name=f"Z. {role}")
    return principal


def test_firms(other_firm, firm):
    for one in (firm, other_firm):
        assert queries.find_firm(slug=one.slug) == one
        assert queries.get_slug(firm_id=one.pk) == one.slug
        with scope(one.pk):
            assert queries.get_profile(firm_id=one.pk).firm == one
    assert queries.find_firm(slug="nowhere") is None


def test_people(people, firm, office, technician):
    for one in (people, office, technician):
        assert queries.find_member(user_id=one.user_id) == one
        assert queries.has_user(email=one.user.email)
        assert queries.find_user_id(email=one.user.email) == one.user_id
    assert list(queries.list_members(firm_id=firm.pk)) == [people, office, technician]
    mails = [(one.name, one.user.email) for one in (people, office)]
    assert queries.list_office_addresses(firm_id=firm.pk) == mails
    assert queries.list_principal_addresses(firm_id=firm.pk) == mails[:1]
    assert not queries.has_user(email="nobody@example.org")
    assert queries.find_user_id(email="nobody@example.org") is None
    assert queries.find_member(user_id=uuid7()) is None


def test_jobs(people, firm, now):
    both = [
        Job.objects.create(firm=firm, key=key, task="t", title=key, queued_at=now, seen_at=now)
        for key in ("one", "other")
    ]
    for one in both:
        assert queries.get_job(firm_id=firm.pk, job_id=one.pk) == one
        assert queries.find_job(firm_id=firm.pk, key=one.key) == one
    assert queries.find_job(firm_id=firm.pk, key="none") is None


def test_kept_lists(people, firm, office, now):
    def keep(page, owner, name):
        return SavedList.objects.create(
            firm=firm, page=page, name=name, owner=owner, kept_by=people, kept_at=now
        )

    mine, shared = keep("visits:list", office, "mine"), keep("visits:list", None, "shared")
    theirs, elsewhere = keep("visits:list", people, "theirs"), keep("due:list", office, "other")

    kept = queries.list_kept(member=office, page="visits:list")
    assert [(one.name, one.page, one.query, one.owner_id) for one in kept] == [
        (one.name, one.page, one.query, one.owner_id) for one in (mine, shared)
    ]
    assert list(queries.list_saved(member=office)) == [elsewhere, mine, shared]
    for one in (mine, shared, elsewhere):
        assert queries.get_saved(member=office, list_id=one.pk) == one
    with pytest.raises(ObjectDoesNotExist):
        queries.get_saved(member=office, list_id=theirs.pk)


def test_what_was_done(people, firm, office, now):
    both = [
        Deed.objects.create(
            firm=firm, kind=kind, summary=kind, changes=[], done_by=office, done_at=now
        )
        for kind in ("visits.assigned", "devices.moved")
    ]
    for one, other in (both, both[::-1]):
        assert queries.get_deed(firm_id=firm.pk, deed_id=one.pk, kind=one.kind) == one
        with pytest.raises(ObjectDoesNotExist):
            queries.get_deed(firm_id=firm.pk, deed_id=one.pk, kind=other.kind)
    subjects = [uuid7(), uuid7()]
    lines = [
        AuditLine.objects.create(
            firm=firm, member=member, actor=member.name, action="a.b", subject="register.building",
            subject_id=subject, summary="s", at=now + timedelta(hours=1),
        )
        for member, subject in zip((office, people), subjects, strict=True)
    ]  # fmt: skip
    for line, subject, member in zip(lines, subjects, (office, people), strict=True):
        assert list(queries.list_audit_lines(firm_id=firm.pk, subject_id=subject)) == [line]
        assert list(queries.list_deeds_of(member=member)) == [line]


def test_what_is_there(people, firm, building):
    factories.BuildingFactory(firm=firm, customer=building.customer)
    asked = {"firm_id": firm.pk, "subject": "register.building"}
    assert queries.is_there(**asked, subject_id=building.pk)
    assert not queries.is_there(**asked, subject_id=uuid7())


def test_a_scope_copied_into_another_thread_opens_nothing(people, firm):
    raised = []

    def work():
        try:
            list(queries.list_members(firm_id=firm.pk))
        except NoScope as error:
            raised.append(error)
        finally:
            connection.close()

    thread = threading.Thread(target=copy_context().run, args=[work])
    thread.start()
    thread.join()

    assert len(raised) == 1
