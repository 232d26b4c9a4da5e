"""Who did what, for the principal; what was refused; and that nobody rewrites it."""

from datetime import timedelta

import pytest
from django.db import connection

from contractor.tenancy.models import AuditLine
from contractor.tenancy.scope import scope
from contractor.tenancy.services import write_audit
from tests import factories

pytestmark = pytest.mark.django_db
PAGE = "/f/tarnbeck/audit/"


@pytest.fixture
def principal(client, firm, now):
    with scope(firm.pk):
        member = factories.MemberFactory(firm=firm, role="principal", name="P. Ostrey")
        other = factories.MemberFactory(firm=firm, role="office", name="I. Tarrowby")
        building = factories.BuildingFactory(firm=firm)
        for number, who in enumerate((member, other)):
            write_audit(
                member=who, action=("building.renamed", "visit.planned")[number],
                subject=building, now=now - timedelta(days=number), summary="=SUM(1) renamed",
                before={"name": "Old"}, after={"name": "New"},
            )  # fmt: skip
    client.force_login(member.user)
    return member


def test_filters_narrow_by_kind_person_day_and_words(client, principal, now):
    def shown(query: str) -> tuple[bool, bool]:
        page = client.get(f"{PAGE}?{query}").content.decode()
        return "building.renamed" in page, "visit.planned" in page

    today = now.date().isoformat()
    assert shown("") == (True, True)
    assert shown("kind=visit") == (False, True)
    assert shown("actor=P. Ostrey") == (True, False)
    assert shown(f"since={today}") == (True, False)
    assert shown(f"until={now.date() - timedelta(days=1)}") == (False, True)
    assert shown("words=planned") == (False, True)
    wrong = client.get(f"{PAGE}?since={today}&until=2020-01-01&words=kept")
    assert b"before the first day" in wrong.content
    assert b'value="kept"' in wrong.content


def test_the_file_holds_before_and_after_and_no_formula(client, principal):
    answer = client.get(f"{PAGE}?as=csv&kind=building")
    rows = answer.content.decode("utf-8-sig").splitlines()
    assert len(rows) == 2
    assert "'=SUM(1)" in rows[1]
    assert "Old" in rows[1]
    assert "New" in rows[1]


def test_other_roles_are_refused_and_that_is_written_down(client, firm, principal):
    with scope(firm.pk):
        office = factories.MemberFactory(firm=firm, role="office", name="B. Nosewell")
    client.force_login(office.user)
    for _ in range(25):
        assert client.get(PAGE).status_code == 403
    with scope(firm.pk):
        lines = AuditLine.objects.filter(action="access.refused")
        assert {line.actor for line in lines} == {"B. Nosewell"}
        assert {line.summary for line in lines} == {f"GET {PAGE}"}
        assert 20 <= len(lines) < 25  # a machine's thousand tries are not all kept
    client.force_login(principal.user)
    assert b"B. Nosewell" in client.get(f"{PAGE}?kind=access").content


def test_the_page_asks_no_more_for_more_rows(client, principal, firm, now):
    def count() -> int:
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as queries:
            client.get(PAGE)
        return len(queries)

    before = count()
    with scope(firm.pk):
        subject = factories.BuildingFactory(firm=firm)
        for _ in range(40):
            write_audit(member=principal, action="building.renamed", subject=subject, now=now)
    assert count() == before
