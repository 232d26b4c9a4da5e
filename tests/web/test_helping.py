"""Help: one link at the same place of every page, and a text for each."""

import pytest
from django.urls import reverse

from contractor.web import helping
from contractor.web.context import NAV
from contractor.web.shelves import SHELVES
from tests.test_wall import ROUTES, door

NAMES = {name for _, name, _ in ROUTES}
FIRMS = {name for _, name, view in ROUTES if door(view).startswith("firm:") and "api" not in name}
APART = {"more", "kept_lists", "planning:feeds", "findings:titles", "drift:policy"}
APART |= {"labels:firm", "notices:list", "owners_overview", "reports:signing"}
APART |= {"custody:exports", "people:nights"}  # the area's own help says it


def test_every_page_that_the_strip_names_has_help_of_its_own():
    named = {name for _, name in NAV} | {book.name for shelf in SHELVES for book in shelf.books}
    assert named - set(helping.PAGES) <= APART


def test_help_tells_of_pages_that_there_are():
    assert set(helping.PAGES) <= NAMES
    assert {name.rpartition(":")[0] for name in FIRMS} <= set(helping.AREAS) | {"demo"}


@pytest.mark.django_db
def test_a_page_leads_to_its_own_help(signed_in, office, firm):
    client = signed_in(office)
    shown = client.get(reverse("register:buildings", kwargs={"firm": firm.slug})).content.decode()
    link = f"{reverse('help', kwargs={'firm': firm.slug})}?of=register:buildings"
    assert link in shown

    text = client.get(link).content.decode()
    assert "Add a building with its customer" in text
    assert "Nobody measured it. This is never counted as passed." in text
    assert client.get(link.replace("register:buildings", "<b>")).status_code == 200
