"""The office's path by keyboard alone: an agreement, a planned visit, a finding closed."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.hashers import make_password
from django.utils import timezone

from contractor.agreements.models import Agreement
from contractor.findings.models import Finding
from contractor.tenancy.scope import scope
from contractor.visits.models import Visit
from tests import factories

PASSWORD = "heron-gate-lantern"
pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]


@pytest.fixture
def house(firm):
    """A building with work that falls due and a finding; I. Tarrowby at the office."""
    today = timezone.now().astimezone(ZoneInfo("America/New_York")).date()  # the building's
    with scope(firm.pk):
        user = factories.UserFactory(
            email="office@tarnbeck.example", password=make_password(PASSWORD)
        )
        factories.MemberFactory(firm=firm, user=user, name="I. Tarrowby", role="office")
        building = factories.BuildingFactory(firm=firm)
        detector = factories.DeviceFactory(system=factories.SystemFactory(building=building))
        factories.DueFactory(
            device=detector,
            earliest_on=today,
            target_on=today + timedelta(days=20),
            latest_on=today + timedelta(days=40),
        )
        factories.FindingFactory(building=building, device=detector, found_on=today)
    return building


HERE = """() => {
  const here = document.activeElement, box = here.getBoundingClientRect();
  const look = getComputedStyle(here);
  return {
    words: here.textContent.trim().replace(/\\s+/g, " "),
    name: here.name || "",
    label: here.getAttribute("aria-label") || "",
    // Parts of a field of dates take the focus one by one; the field's frame shows it meanwhile.
    seen: here === document.body || (box.width > 0 && (look.outlineStyle !== "none"
      || (here.closest(".field") && getComputedStyle(here.closest(".field")).boxShadow !== "none")
      || [...document.querySelectorAll(":has(:focus-visible)")].some(
        (one) => getComputedStyle(one).outlineStyle !== "none"))),
  };
}"""


class Keys:
    """Somebody with a keyboard and no mouse."""

    def __init__(self, page, base: str) -> None:
        self.page = page
        page.set_default_timeout(60_000)
        page.goto(base)

    def reach(self, *, words: str = "", name: str = "", label: str = "") -> None:
        """Press Tab until what is so called has the focus, which must be seen at every stop.

        All of a page is within 200 stops.
        """
        for _ in range(200):
            self.page.keyboard.press("Tab")
            here = self.page.evaluate(HERE)
            assert here["seen"], f"The focus is not seen on {here} of {self.page.url}"
            if (
                (words and here["words"].startswith(words))
                or (name and here["name"] == name)
                or (label and here["label"] == label)
            ):
                return
        raise AssertionError(f"No key leads to {words or name or label!r} on {self.page.url}")

    def follow(self, words: str) -> None:
        """Reach something and press it; the page that comes is waited for."""
        self.reach(words=words)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def type(self, name: str, words: str) -> None:
        """Reach a field and type into it."""
        self.reach(name=name)
        self.page.keyboard.type(words)


def test_from_agreement_to_planned_visit_to_finding_closed(play, live_server, firm, house):
    from tests.e2e.test_main_job import CHROMIUM

    browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
    keys = Keys(browser.new_page(), live_server.url)
    keys.type("login", "office@tarnbeck.example")
    keys.type("password", PASSWORD)
    keys.follow("Sign in")

    keys.follow("Customers")
    keys.follow("Saltgate Estates")
    keys.follow("Write one down")
    keys.type("number", "A-3001")
    keys.follow("Write it down")
    assert "/agreements/" in keys.page.url

    keys.follow("Planning")
    keys.follow("Plan this visit")
    keys.type("hours", "2")
    keys.follow("Keep these hours")

    keys.follow("Findings")
    keys.follow("See the finding")
    keys.follow("Correct it")
    keys.type("correction", "Replaced the head")
    keys.type("proof", "Tested again today: in range")
    keys.follow("It is corrected")
    browser.close()

    with scope(firm.pk):
        assert Agreement.objects.get().number == "A-3001"
        visit = Visit.objects.get()
        assert (visit.state, visit.tasks) == ("planned", ["functional"])
        assert not Finding.objects.get().is_open
