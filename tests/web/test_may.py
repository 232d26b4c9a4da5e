"""Pages that everyone may read take nothing from those who may not write."""

import pytest
from django.core.exceptions import ObjectDoesNotExist

from contractor.tenancy import deeds
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import AuditLine, SavedList
from contractor.tenancy.permissions import ROLES, Permission
from contractor.tenancy.scope import scope
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("address", "body"),
    [
        ("buildings/{building}/done/", {"tasks": ["functional"], "done_on": "2026-02-10"}),
        ("systems/{system}/software/", {"kind": "site", "changed_on": "2026-02-10"}),
        ("buildings/{building}/outlook/", {}),
    ],
)
def test_a_technician_writes_nothing_there(
    signed_in, technician, detector, firm, address, body, now
):
    client = signed_in(technician)
    keys = {"building": detector.building_id, "system": detector.system_id}
    path = f"/f/{firm.slug}/" + address.format(**keys)
    assert client.get(path).status_code == 200
    assert client.post(path, body).status_code == 403


def test_who_is_not_signed_in_is_sent_to_sign_in(client, firm):
    assert client.get("/").url == "/accounts/login/"


def test_a_technician_binds_no_label(signed_in, technician, detector, firm):
    from contractor.labels.queries import list_labels_of

    path = f"/f/{firm.slug}/devices/{detector.pk}/labels/"
    answer = signed_in(technician).post(path, {"code": "PANEL-0042", "reason": "It hangs there."})
    assert answer.status_code == 200
    with scope(firm.pk):
        assert list(list_labels_of(device=detector)) == []


def test_a_list_of_the_whole_firm_is_kept_and_forgotten_by_the_office(
    signed_in, technician, office, firm, now
):
    path = f"/f/{firm.slug}/lists/"
    said = {"page": "visits:list", "query": "show=open", "shared": "on"}
    signed_in(technician).post(f"{path}keep/", {**said, "name": "mine"})
    signed_in(office).post(f"{path}keep/", {**said, "name": "ours"})
    with scope(firm.pk):
        mine, ours = SavedList.objects.get(name="mine"), SavedList.objects.get(name="ours")
        assert (mine.owner_id, ours.owner_id) == (technician.pk, None)
    assert signed_in(office).post(f"{path}{mine.pk}/forget/").status_code == 404
    assert signed_in(technician).post(f"{path}{ours.pk}/forget/").status_code == 403
    assert signed_in(office).post(f"{path}{ours.pk}/forget/").status_code == 302
    assert signed_in(technician).post(f"{path}{mine.pk}/forget/").status_code == 302
    with scope(firm.pk), pytest.raises(ObjectDoesNotExist):
        deeds.forget_list(saved=SavedList.objects.get(name="ours"))


def test_a_token_of_somebody_else_is_revoked_by_a_principal_only(signed_in, office, firm, now):
    from datetime import timedelta

    from contractor.programs import services
    from contractor.programs.models import Token

    with scope(firm.pk):
        principal = factories.MemberFactory(firm=firm, role="principal")
        said = {"scopes": ["read"], "ends_at": now + timedelta(days=9), "now": now}
        theirs, _ = services.make_token(name="a", member=principal, **said)
        own, _ = services.make_token(name="b", member=office, **said)
    path = f"/f/{firm.slug}/programs/tokens/"
    assert signed_in(office).post(f"{path}{theirs.pk}/revoke/").status_code == 403
    assert signed_in(office).post(f"{path}{own.pk}/revoke/").status_code == 302
    with scope(firm.pk):
        assert Token.objects.get(pk=theirs.pk).revoked_at is None
        assert Token.objects.get(pk=own.pk).revoked_at is not None


@pytest.mark.parametrize(("subject", "there"), [("register.building", 200), ("tenancy.user", 404)])
def test_a_history_is_of_what_the_firm_has(signed_in, technician, building, firm, subject, there):
    client = signed_in(technician)
    path = f"/f/{firm.slug}/history/{subject}"
    assert client.get(f"{path}/{building.pk}/").status_code == there
    assert client.get(f"{path}/{firm.pk}/").status_code == 404


def test_the_history_of_a_thing_that_is_gone_is_still_shown(signed_in, office, firm, now):
    gone, other = uuid7(), uuid7()
    with scope(firm.pk):
        AuditLine.objects.create(
            firm=firm, member=office, actor="B. Left", action="building.removed",
            subject="register.building", subject_id=gone, summary="Brack Mill closed", at=now,
        )  # fmt: skip
    path = f"/f/{firm.slug}/history"

    shown = signed_in(office).get(f"{path}/register.building/{gone}/")

    assert shown.status_code == 200
    assert "Brack Mill closed" in shown.text
    assert signed_in(office).get(f"{path}/register.building/{other}/").status_code == 404
    assert signed_in(office).get(f"{path}/register.device/{gone}/").status_code == 404


@pytest.mark.parametrize(
    ("state", "offered"),
    [("planned", False), ("under_way", True), ("to_review", True), ("signed_off", False)],
)
def test_entering_is_offered_while_a_visit_is_open(
    signed_in, technician, building, firm, state, offered
):
    visit = factories.VisitFactory(building=building, state=state)

    page = signed_in(technician).get(f"/f/{firm.slug}/visits/{visit.pk}/round/")

    assert page.context["can_enter"] is offered


def test_entering_is_offered_to_a_role_that_records(
    signed_in, technician, building, firm, monkeypatch
):
    monkeypatch.setitem(ROLES, "technician", frozenset({Permission.READ}))
    visit = factories.VisitFactory(building=building, state="under_way")

    page = signed_in(technician).get(f"/f/{firm.slug}/visits/{visit.pk}/round/")

    assert page.context["can_enter"] is False


def test_a_battery_is_described_by_a_role_that_records(
    signed_in, technician, building, firm, monkeypatch
):
    system = factories.SystemFactory(building=building)
    device = factories.DeviceFactory(system=system, kind="battery", product=None)
    path = f"/f/{firm.slug}/devices/{device.pk}/battery/"
    assert signed_in(technician).get(path).context["can_record"] is True

    monkeypatch.setitem(ROLES, "technician", frozenset({Permission.READ}))
    assert signed_in(technician).get(path).context["can_record"] is False
