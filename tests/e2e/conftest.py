"""Browsers, lines for the tablet's tests, and the office at its desk."""

import pytest
from django.contrib.auth.hashers import make_password
from django.urls import reverse

from contractor.tenancy.scope import scope
from tests import factories
from tests.e2e.field_stage import CHROMIUM, PASSWORD, Line, Tablet


@pytest.fixture
def play(monkeypatch):
    """Playwright; it runs an event loop in this thread, where Django would refuse the database."""
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as found:
        yield found


@pytest.fixture
def line(live_server):
    """A line that can be cut."""
    found = Line(int(live_server.url.rsplit(":", 1)[1]))
    yield found
    found.close()


@pytest.fixture
def tablet(play, line, tmp_path):
    """One tablet; what its console complains of is an error."""
    found = Tablet(play, tmp_path / "one", line)
    yield found
    found.close()
    assert found.complaints == []


@pytest.fixture
def second(play, line, tmp_path):
    """Another tablet."""
    found = Tablet(play, tmp_path / "two", line)
    yield found
    found.close()
    assert found.complaints == []


class Desk:
    """I. Tarrowby of the office, who writes a finding down."""

    def __init__(self, page, form: str) -> None:
        self.page, self.form = page, form

    def sign_in(self) -> None:
        """Sign in; the form is where that leads."""
        self.page.fill("input[name=login]", "office@tarnbeck.example")
        self.page.fill("input[name=password]", PASSWORD)
        self.page.press("input[name=password]", "Enter")
        self.page.wait_for_url(f"**{self.form}")


@pytest.fixture
def desk(play, live_server, firm):
    """The office, signed in, before the empty form of a finding."""
    with scope(firm.pk):
        user = factories.UserFactory(
            email="office@tarnbeck.example", password=make_password(PASSWORD)
        )
        factories.MemberFactory(firm=firm, user=user, name="I. Tarrowby", role="office")
        building = factories.BuildingFactory(firm=firm)
    form = reverse("findings:open", kwargs={"firm": firm.slug, "building_id": building.pk})
    browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
    found = Desk(browser.new_page(), form)
    found.page.goto(live_server.url + form)
    found.sign_in()
    yield found
    browser.close()
