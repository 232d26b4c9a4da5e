"""A planned visit is moved: drawn over the weeks by mouse, and by its form with keys alone."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.hashers import make_password
from django.utils import timezone

from contractor.tenancy.scope import scope
from contractor.visits.models import Assignment, Visit
from tests import factories
from tests.e2e.test_office_path import PASSWORD, Keys

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]


@pytest.fixture
def monday():
    """The Monday after next: no window of today is touched."""
    today = timezone.now().date()
    return today + timedelta(days=14 - today.weekday())


@pytest.fixture
def crew(firm, monday):
    """Two go on Monday, a day before the window closes; J. Fennimore is elsewhere on Friday."""
    with scope(firm.pk):
        user = factories.UserFactory(
            email="office@tarnbeck.example", password=make_password(PASSWORD)
        )
        factories.MemberFactory(firm=firm, user=user, name="I. Tarrowby", role="office")
        people = {
            name: factories.MemberFactory(firm=firm, name=name, role="technician")
            for name in ("J. Fennimore", "T. Varsk", "U. Ollerby")
        }
        building = factories.BuildingFactory(firm=firm)
        detector = factories.DeviceFactory(system=factories.SystemFactory(building=building))
        factories.DueFactory(
            device=detector,
            earliest_on=monday - timedelta(days=5),
            target_on=monday,
            latest_on=monday + timedelta(days=1),
        )
        visit = factories.VisitFactory(building=building, planned_on=monday, tasks=["functional"])
        for name in ("T. Varsk", "U. Ollerby"):
            factories.AssignmentFactory(visit=visit, member=people[name])
        other = factories.VisitFactory(
            building=factories.BuildingFactory(firm=firm, name="Dunmere Cold Store"),
            planned_on=monday + timedelta(days=4),
        )
        factories.AssignmentFactory(visit=other, member=people["J. Fennimore"])
    return visit, people


@pytest.fixture
def keys(play, live_server, crew):
    """The office, signed in."""
    from tests.e2e.test_main_job import CHROMIUM

    browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
    found = Keys(browser.new_page(), live_server.url)
    found.type("login", "office@tarnbeck.example")
    found.type("password", PASSWORD)
    found.follow("Sign in")
    yield found
    browser.close()


def standing(firm, visit) -> tuple[date, set[str]]:
    """Tell the day of a visit and who goes."""
    with scope(firm.pk):
        going = Assignment.objects.filter(visit=visit).values_list("member__name", flat=True)
        return Visit.objects.get(pk=visit.pk).planned_on, set(going)


def test_drawn_to_another_day_and_person(keys, live_server, firm, crew, monday):
    visit, people = crew
    page, friday = keys.page, monday + timedelta(days=4)
    page.goto(f"{live_server.url}/f/{firm.slug}/planning/weeks/?from={monday}")
    mine = page.locator(f'td[data-day="{monday}"][data-who="{people["T. Varsk"].pk}"] [draggable]')
    aim = page.locator(f'td[data-day="{friday}"][data-who="{people["J. Fennimore"].pk}"]')
    with page.expect_navigation():
        mine.drag_to(aim)

    said = page.locator('[role="status"]').inner_text()
    assert f"had to be done by {monday + timedelta(days=1):%-d %b %Y}" in said
    assert "J. Fennimore is booked for Dunmere Cold Store on that day." in said
    assert standing(firm, visit) == (monday, {"T. Varsk", "U. Ollerby"})  # nothing has moved yet

    with page.expect_navigation():
        page.get_by_role("button", name="Move it all the same").click()

    # Who was drawn is replaced; the other of the two still goes.
    assert standing(firm, visit) == (friday, {"J. Fennimore", "U. Ollerby"})
    assert page.get_by_text("J. Fennimore is booked for Dunmere Cold Store too.").is_visible()


def test_over_five_weeks_it_keeps_its_day_of_the_week(keys, live_server, firm, crew, monday):
    visit, people = crew
    with scope(firm.pk):
        Visit.objects.filter(pk=visit.pk).update(planned_on=monday + timedelta(days=2))
    page, later = keys.page, monday + timedelta(days=7)
    page.goto(f"{live_server.url}/f/{firm.slug}/planning/weeks/?span=month&from={monday}")
    row = people["T. Varsk"].pk
    with page.expect_navigation():
        page.locator(f'td[data-day="{monday}"][data-who="{row}"] [draggable]').drag_to(
            page.locator(f'td[data-day="{later}"][data-who="{row}"]')
        )

    assert page.locator("input[name=to]").input_value() == f"{later + timedelta(days=2)}"
    assert page.locator("input[name=people]:checked").count() == 2


def test_moved_by_its_form_with_keys_alone(keys, live_server, firm, crew, monday):
    visit, _ = crew
    keys.page.goto(f"{live_server.url}/f/{firm.slug}/planning/weeks/?from={monday}")
    keys.follow("Move Quillmarsh House")
    wednesday = monday + timedelta(days=2)
    keys.type("to", f"{wednesday:%m%d%Y}")
    keys.follow("Show what slips")

    said = keys.page.locator('[role="status"]').inner_text()
    assert f"had to be done by {monday + timedelta(days=1):%-d %b %Y}" in said
    assert standing(firm, visit)[0] == monday

    keys.follow("Move it all the same")

    assert standing(firm, visit) == (wednesday, {"T. Varsk", "U. Ollerby"})
