"""An empty server, somebody who never saw it, and a first visit planned."""

from datetime import timedelta

import pytest
from django.utils import timezone

from contractor.tenancy.models import Firm
from contractor.tenancy.scope import scope
from contractor.visits.models import Visit
from tests.e2e.hand import Hand

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]
MOST_CLICKS, MOST_S = 25, 600

LIST = "Address,Location,Type,Zone\n" + "".join(
    f"1-{n:03},Room {n},{kind},Zone {n // 20}\n"
    for n, kind in enumerate(["Optical smoke detector", "Manual call point"] * 30, 1)
)


def test_from_an_empty_server_to_a_planned_visit(play, live_server, db):
    from tests.e2e.test_main_job import CHROMIUM

    browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
    page = browser.new_page()
    page.set_default_timeout(60_000)
    page.goto(live_server.url)
    hand = Hand(page)

    hand.type("firm", "Marrow Lane Fire Services")
    hand.type("name", "A. Pellow")
    hand.type("email", "a.pellow@marrow.example")
    hand.type("password", "a sentence to keep")
    hand.click("Found the firm")
    assert "Three steps lead to the first visit" in page.content()

    hand.click("Add a building")
    hand.type("new_customer", "Quarry Estates")
    hand.type("name", "Quarry Hall")
    hand.type("street", "1 Quarry Road")
    hand.type("town", "Marrow")
    hand.click("Add the building")

    hand.click("main .empty a.button")
    hand.give("file", {"name": "list.csv", "mimeType": "text/csv", "buffer": LIST.encode()})
    hand.click("Read the file")
    hand.click("Accept 60 good rows")

    hand.click("Driftbook")
    hand.click("Plan a visit")
    hand.type("planned_on", (timezone.now() + timedelta(days=14)).date().isoformat())
    hand.click("Plan the visit")
    browser.close()

    assert hand.clicks <= MOST_CLICKS, hand
    assert hand.person_s <= MOST_S, hand
    with scope(Firm.objects.get().pk):
        visit = Visit.objects.get()
        assert visit.state == "planned"
        assert visit.visitdevice_set.count() == 60
