"""No page offers what its reader may not do: a walk of every page, as each role.

Each link and each form of each page of a firm that has one of everything is looked up: its door
has to be open to whoever was shown it, and a form that is sent is not answered 403.
"""

from html.parser import HTMLParser
from urllib.parse import urlsplit

import pytest
from django.db import transaction
from django.urls import Resolver404, resolve

from contractor.tenancy.permissions import ROLES, Permission
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON
from tests.reports import flow
from tests.test_wall import BEHIND_FIRM, addresses, door

LINKS = ("href", "hx-get", "hx-post", "data-move")


class Offers(HTMLParser):
    """Gather where the links of a page lead, and where its forms are sent."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.here, self.links, self.forms = page, set(), set()

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.links |= {urlsplit(given[name]).path for name in LINKS if given.get(name)}
        if tag == "form" and given.get("method", "").lower() == "post":
            self.forms.add(given.get("action") or self.here)


@pytest.fixture
def keys(firm, time_machine):
    """One of everything, at a moment when all of it is lately done."""
    time_machine.move_to(NOON, tick=False)
    with scope(firm.pk):
        factories.MemberFactory(firm=firm, role="principal")
        building = factories.BuildingFactory(firm=firm)
        system = factories.SystemFactory(building=building)
        device = factories.DeviceFactory(
            system=system, area=factories.AreaFactory(building=building)
        )
        visit = factories.VisitFactory(building=building)
        factories.VisitDeviceFactory(visit=visit, device=device)
        factories.DueFactory(device=device)
        factories.ReadingFactory(device=device)
        finding = factories.FindingFactory(building=building)
        more = factories.everything_else(building=building, system=system, visit=visit, at=NOON)
        cast = {name: factories.MemberFactory(firm=firm) for name in ("office", "technician")}
        house = factories.BuildingFactory(firm=firm, name="Brack Mill")
        signed = flow.sign_visit(building=house, now=NOON, **cast)
        more |= {"record_id": signed.pk}
        return {
            "building_id": building.pk, "system_id": system.pk, "visit_id": visit.pk,
            "device_id": device.pk, "finding_id": finding.pk, "product_id": device.product_id,
            **more,
        }  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("role", ["technician", "office"])
def test_no_page_offers_what_its_reader_may_not_do(client, firm, keys, role):
    client.raise_request_exception = False  # what "everything" has is no whole record
    with scope(firm.pk):
        client.force_login(factories.MemberFactory(firm=firm, role=role).user)
    wrong, forms, pages = [], {}, 0
    for route in BEHIND_FIRM:
        page = addresses(route, firm.slug, keys)
        answer = client.get(page)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        pages += 1
        offered = Offers(page)
        offered.feed(answer.content.decode())
        forms |= {urlsplit(action).path: page for action in offered.forms}
        for path in offered.links | offered.forms:
            try:
                asked = door(resolve(urlsplit(path).path).func)
            except Resolver404:
                continue  # a file, or another site
            if asked.startswith("firm:") and Permission(asked[5:]) not in ROLES[role]:
                wrong.append(f"{page} offers {path}, which asks for {asked}")
    for path, page in forms.items():
        with transaction.atomic():
            if client.post(path).status_code == 403:
                wrong.append(f"{page} offers a form that is refused: {path}")
            transaction.set_rollback(True)
    assert not wrong, "\n".join(wrong)
    assert (pages > 60, len(forms) > 12) == (True, True), (pages, len(forms))
