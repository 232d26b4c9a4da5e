"""Twelve common tasks by keyboard alone, at 200 % zoom: office, technician, owner.

test_office_path.py does three more: an agreement, a planned visit, a finding closed.
"""

from datetime import timedelta

import pytest
from django.contrib.auth.hashers import make_password
from django.utils import timezone

from contractor.alarms.models import NoneStatement, UnwantedAlarm
from contractor.findings.models import Finding
from contractor.owners.models import Decision
from contractor.readings.models import Intake
from contractor.register.models import Building
from contractor.tenancy.models import SavedList
from contractor.tenancy.scope import scope
from contractor.visits.models import Entry, Visit
from tests import factories
from tests.e2e.test_office_path import PASSWORD, Keys

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]
#: A window of 1280 by 860 at 200 %: half as many CSS pixels, each twice as large.
ZOOMED = {"viewport": {"width": 640, "height": 430}, "device_scale_factor": 2}
PRINT_OUT = b"""# printed 2026-11-20 07:30 (invented)
Head,Place,Type,Alarm at [%/ft],Corrected [%/ft]
2-114,Kitchen corridor,optical,2.5,0.31
2-115,Servery,optical,2.5,0.44
"""


@pytest.fixture
def house(firm):
    """Quillmarsh House with two detectors, a call point, a visit under way, and three people."""
    today = timezone.now().date()
    with scope(firm.pk):
        password = make_password(PASSWORD)

        def user(who):
            return factories.UserFactory(email=f"{who}@tarnbeck.example", password=password)

        factories.MemberFactory(firm=firm, user=user("office"), name="I. Tarrowby", role="office")
        technician = factories.MemberFactory(
            firm=firm, user=user("technician"), name="T. Varsk", role="technician"
        )
        building = factories.BuildingFactory(
            firm=firm, nuisance_log_since=today.replace(day=1) - timedelta(days=400)
        )
        zone = factories.AreaFactory(building=building)
        system = factories.SystemFactory(building=building)
        heads = [
            factories.DeviceFactory(system=system, area=zone, address=address)
            for address in ("2-114", "2-115")
        ]
        heads.append(
            factories.DeviceFactory(
                system=system, area=zone, address="2-001", kind="manual", product=None
            )
        )
        for head in heads:
            factories.DueFactory(
                device=head,
                earliest_on=today,
                target_on=today + timedelta(days=20),
                latest_on=today + timedelta(days=40),
            )
        factories.FindingFactory(building=building, device=heads[0], found_on=today)
        visit = factories.VisitFactory(building=building, state="under_way", planned_on=today)
        factories.AssignmentFactory(visit=visit, member=technician)
        for head in heads:
            factories.VisitDeviceFactory(visit=visit, device=head)
        seat = factories.OwnerSeatFactory(firm=firm, user=user("owner"))
        factories.OwnedBuildingFactory(seat=seat, building=building)
    return building


def sign_in(browser, base: str, who: str) -> Keys:
    """Sign somebody in by keyboard, in a window of their own."""
    keys = Keys(browser.new_context(**ZOOMED).new_page(), base)
    keys.type("login", f"{who}@tarnbeck.example")
    keys.type("password", PASSWORD)
    keys.follow("Sign in")
    return keys


def office(keys: Keys) -> None:
    page = keys.page
    # 1 Find a device from anywhere, and open it.
    page.keyboard.press("/")
    page.keyboard.type("2-114")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    keys.follow("Kitchen corridor")
    assert "/devices/" in page.url
    # 2 See why its day is that day.
    keys.follow("Due")
    keys.follow(f"{(timezone.now().date() + timedelta(days=40)).day}")
    assert "/due/" in page.url
    # 3 Add a building.
    keys.follow("Buildings")
    keys.follow("Add a building")
    keys.type("new_customer", "Quarry Estates")
    keys.type("name", "Quarry Hall")
    keys.follow("Add the building")
    # 4 Take in a print-out, and accept its rows.
    keys.follow("Buildings")
    keys.follow("Quillmarsh House")
    keys.follow("Take in a print-out")
    keys.reach(name="file")
    with page.expect_file_chooser() as chooser:
        page.keyboard.press("Space")
    chooser.value.set_files({"name": "p.csv", "mimeType": "text/csv", "buffer": PRINT_OUT})
    keys.follow("Read the file")
    keys.follow("Accept 2")
    # 5 Write a finding.
    keys.follow("Buildings")
    keys.follow("Quillmarsh House")
    keys.follow("Write a finding")
    keys.type("title", "Horn silent")
    keys.type("severity", "defi")
    keys.follow("Write it down")
    # 6 Write an unwanted alarm down.
    keys.follow("Buildings")
    keys.follow("Quillmarsh House")
    keys.follow("Record, and write one down")
    keys.type("happened_at", f"{timezone.now() - timedelta(days=1):%m%d%Y}")
    page.keyboard.press("ArrowRight")
    page.keyboard.type("0230P")
    keys.type("address", "2-115")
    keys.reach(name="cause")
    page.keyboard.press("Space")
    keys.follow("Write it down")
    # 7 Narrow a list, and keep it under a name.
    keys.follow("Findings")
    keys.follow("nobody told")
    keys.reach(words="Keep this list under a name")
    page.keyboard.press("Enter")
    keys.type("name", "Untold")
    keys.follow("Keep it")
    # 8 Read the help of the page.
    keys.follow("Help for this page")
    assert page.get_by_role("heading", name="Findings").is_visible()


def technician(keys: Keys) -> None:
    page = keys.page
    # 9 Open today's round, and pass a device.
    keys.follow("See the visit")
    keys.follow("Open the round")
    keys.reach(label="Pass 2-001")
    page.keyboard.press("Enter")
    page.wait_for_selector("[aria-label='Undo 2-001']")
    # 10 Type a reading, and save it as found.
    keys.reach(label="Read 2-114")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    keys.type("measured", "2.4")
    page.wait_for_selector("#judged .verdict")
    keys.follow("Save as found")


def owner(keys: Keys) -> None:
    page = keys.page
    # 11 Say that there was no unwanted alarm last month.
    keys.follow("Write an alarm down")
    keys.follow("No alarms in")
    # 12 Answer a finding.
    page.goto(page.url.partition("/alarms")[0])
    keys.follow("Say whether we put it right")
    keys.reach(name="says")
    page.keyboard.press("Space")
    keys.follow("Write it down")


def test_twelve_tasks(play, live_server, firm, house):
    from tests.e2e.test_main_job import CHROMIUM

    browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
    for who, tasks in (("office", office), ("technician", technician), ("owner", owner)):
        tasks(sign_in(browser, live_server.url, who))
    browser.close()

    with scope(firm.pk):
        assert Building.objects.filter(name="Quarry Hall").exists()
        assert Intake.objects.get().state == "accepted"
        assert Finding.objects.filter(title="Horn silent").exists()
        assert UnwantedAlarm.objects.get().device.address == "2-115"
        assert SavedList.objects.get().name == "Untold"
        assert set(Entry.objects.values_list("kind", flat=True)) >= {"result", "reading"}
        assert Visit.objects.get().state == "under_way"
        assert NoneStatement.objects.exists()
        assert Decision.objects.exists()
