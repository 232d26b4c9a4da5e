"""The main job in a real browser, as office, technician and owner, with a real worker.

From a sensitivity print-out to the report in the owner's hands; nothing is mocked.
"""

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.contrib.auth.hashers import make_password
from psycopg.conninfo import make_conninfo

from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.register.models import Building, Device
from contractor.reports.models import Report
from contractor.tenancy.models import FirmProfile
from contractor.tenancy.scope import scope
from contractor.visits.models import SealedRecord, Visit
from tests import factories

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "heron-gate-lantern"
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists(), reason="Chromium is missing: apt-get install chromium"
    ),
]

PRINT_OUT = """# printed 2026-11-20 07:30 (invented)
Head,Place,Type,Alarm at [%/ft],Corrected [%/ft]
2-114,Kitchen corridor,optical,2.5,0.31
2-115,Servery,optical,2.5,0.99
2-116,"Hall, bay 4",optical,2.5,1.31
2-117,Cloakroom,optical,25,0.10
"""


@pytest.fixture
def house(firm):
    """One firm with its three people, and Quillmarsh House with one detector on its list."""
    with scope(firm.pk):
        FirmProfile.objects.update(address="2 Ferry Lane\nPort Ellory", telephone="555 0134")
        people = {}
        for role, name in (("office", "I. Tarrowby"), ("technician", "T. Varsk")):
            user = factories.UserFactory(
                email=f"{role}@tarnbeck.example", name=name, password=make_password(PASSWORD)
            )
            people[role] = factories.MemberFactory(firm=firm, user=user, name=name, role=role)
        building = factories.BuildingFactory(
            firm=firm, releasing="Kitchen hood on loop 2", nuisance_log_since="2019-03-12"
        )
        system = factories.SystemFactory(building=building)
        factories.DeviceFactory(
            system=system,
            area=factories.AreaFactory(building=building),
            address="2-114",
            label="Kitchen corridor",
        )
        owner = factories.UserFactory(
            email="owner@quillmarsh.example", name="M. Lund-Avery", password=make_password(PASSWORD)
        )
        seat = OwnerSeat.objects.create(firm=firm, user=owner)
        OwnedBuilding.objects.create(firm=firm, seat=seat, building=building)
    return building


@pytest.fixture
def worker(house, settings):
    """A real Celery worker on the test's own database."""
    database = settings.DATABASES["default"]
    address = make_conninfo(
        dbname=database["NAME"],
        user=database["USER"],
        password=database["PASSWORD"] or None,
        host=database["HOST"] or None,
        port=database["PORT"] or None,
    )
    environment = {**os.environ, "DATABASE_URL": address, "DATA_DIR": str(settings.DATA_DIR)}
    environment.pop("DATABASE_OWNER_URL", None)
    process = subprocess.Popen(
        [
            sys.executable,
            *[
                "-W",
                "ignore",
                "-m",
                "celery",
                "-A",
                "contractor",
                "worker",
                "-P",
                "threads",
                "-c",
                "1",
            ],
        ],
        cwd=ROOT,
        env=environment,
    )
    yield process
    process.terminate()
    process.wait(timeout=30)


@pytest.fixture
def browser(monkeypatch):
    """Chromium without a screen."""
    # Playwright runs an event loop in this thread, where Django would refuse the database.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        found = play.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--no-first-run",
            ],
        )
        yield found
        found.close()


class Person:
    """Somebody at a browser of their own; what the page complains of is an error."""

    def __init__(self, browser, base: str, email: str, **context) -> None:
        self.base = base
        self.complaints: list[str] = []
        self.page = browser.new_context(**context).new_page()
        self.page.set_default_timeout(60_000)
        self.page.on(
            "console",
            lambda said: self.complaints.append(said.text) if said.type == "error" else None,
        )
        self.page.on(
            "request",
            lambda asked: (
                None
                if asked.url.startswith((base, "data:", "blob:"))
                else self.complaints.append(f"asked {asked.url}")
            ),
        )
        self.page.goto(base)
        self.page.fill("input[name=login]", email)
        self.page.fill("input[name=password]", PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()

    def click(self, name: str, role: str = "link") -> None:
        """Click what is called so."""
        self.page.get_by_role(role, name=name).first.click()
        self.page.wait_for_load_state()

    def sees(self, *words: str) -> None:
        """Find words on the page."""
        text = self.page.inner_text("body")
        for said in words:
            assert said in text, f"{said!r} is not on {self.page.url}:\n{text[:3000]}"


def until(answer, seconds: float = 60):
    """Wait for what the worker does."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := answer():
            return found
        time.sleep(0.3)
    raise AssertionError("the worker did not do it in time")


def test_from_a_print_out_to_the_report_in_the_owners_hands(
    live_server, browser, worker, house, firm
):
    base = live_server.url

    # The office takes in a print-out, looks at every row, corrects one, accepts.
    office = Person(
        browser, base, "office@tarnbeck.example", viewport={"width": 1440, "height": 900}
    )
    office.sees("What needs doing")
    office.click("Buildings")
    office.click("Quillmarsh House")
    office.click("Take in a print-out")
    office.page.set_input_files(
        "input[type=file]",
        {"name": "quillmarsh.csv", "mimeType": "text/csv", "buffer": PRINT_OUT.encode()},
    )
    office.click("Read the file", "button")
    office.sees("Nothing is written until you accept.", "not on the device list".capitalize())
    office.page.get_by_role("link", name=re.compile("problems, 1")).click()
    office.sees("25")
    office.page.select_option("select[name=accept_as]", "test")
    office.page.select_option("select[name=method]", "control_unit")
    office.click("Accept 3 good rows", "button")
    office.sees("Accepted")
    with scope(firm.pk):
        verdicts = dict(Device.objects.values_list("address", "latest_verdict"))
    assert verdicts == {
        "2-114": "in_range",
        "2-115": "nearing_limit",
        "2-116": "out_of_range",
    }

    # Each detector is judged, with its reason and its next date.
    def is_due() -> bool:
        from contractor.due.models import Due

        with scope(firm.pk):
            return Due.objects.filter(task="sensitivity").count() == 3

    until(is_due)
    office.click("Quillmarsh House")
    # From anywhere, by keyboard alone: the finder, what is typed, down, enter.
    office.page.keyboard.press("Control+k")
    office.page.keyboard.type("2-116")
    office.page.locator("#finder-list [role=option]", has_text="Hall, bay 4").wait_for()
    office.page.keyboard.press("ArrowDown")
    office.page.keyboard.press("Enter")
    office.page.wait_for_url("**/devices/**")
    office.sees("out of range", "nothing is left to correct with", "Next sensitivity test")

    # A visit for all of them, and who goes.
    office.page.goto(f"{base}/f/{firm.slug}/buildings/{house.pk}/")
    office.click("Plan a visit")
    office.page.fill("input[name=planned_on]", time.strftime("%Y-%m-%d"))
    for box in ("functional", "sensitivity"):
        office.page.check(f"input[name=tasks][value={box}]")
    office.page.get_by_role("checkbox", name="T. Varsk, technician", exact=True).check()
    office.click("Plan the visit", "button")
    with scope(firm.pk):
        visit = Visit.objects.get()

    # The technician begins, reads and tests device by device; nothing passes by itself.
    technician = Person(
        browser,
        base,
        "technician@tarnbeck.example",
        viewport={"width": 820, "height": 1180},
        has_touch=True,
    )
    there = f"{base}/f/{firm.slug}/visits/{visit.pk}"
    technician.page.goto(f"{there}/begin/")
    for box in technician.page.locator("input[name=cautions]").all():
        box.check()
    technician.page.fill("[name=notified_before]", "Ellory Central 08:05, desk 08:10")
    technician.click("Begin the visit", "button")
    technician.page.goto(f"{there}/round/")
    technician.sees("1 of 1 not tested yet")
    assert technician.page.get_by_role("button", name=re.compile("pass all", re.I)).count() == 0

    with scope(firm.pk):
        devices = {device.address: device for device in Device.objects.all()}
    _read(technician, there, devices["2-114"], "0.32", "in range")
    _read(technician, there, devices["2-116"], "1.33", "out of range")
    technician.click("Clean, then read as left", "button")
    technician.page.fill("input[name=drift]", "0.02")
    technician.click("Save as left", "button")
    technician.sees("as left")
    for address in ("2-114", "2-116"):
        technician.page.goto(f"{there}/devices/{devices[address].pk}/")
        technician.page.locator("form[action$='/pass/'] button").first.click()
        technician.page.wait_for_load_state()
    technician.page.goto(f"{there}/hand-in/")
    technician.page.fill("[name=reason_for_rest]", "Room locked, no key at the desk")
    technician.page.fill("[name=notified_after]", "Ellory Central 11:40, signals confirmed")
    technician.click("Hand in", "button")

    # The office reviews and signs off; the worker renders the report.
    office.page.goto(f"{there}/review/")
    office.sees("2-115", "Room locked, no key at the desk")
    office.page.goto(f"{there}/sign-off/")
    office.page.locator("main form.band button.filled").click()
    office.page.wait_for_load_state()

    def report() -> Report | None:
        with scope(firm.pk):
            return Report.objects.first()

    made = until(report)
    with scope(firm.pk):
        record = SealedRecord.objects.get()
    assert made.pages >= 2
    answer = office.page.request.get(f"{base}/f/{firm.slug}/reports/{made.pk}/pdf")
    assert answer.body()[:5] == b"%PDF-"

    # The owner sees it in five seconds.
    owner = Person(
        browser, base, "owner@quillmarsh.example", viewport={"width": 390, "height": 844}
    )
    owner.sees("Quillmarsh House")
    assert owner.page.locator(f"a[href*='{made.pk}']").count() >= 1
    link = owner.page.locator(f"a[href*='{made.pk}']").first.get_attribute("href")
    pdf = owner.page.request.get(f"{base}{link}")
    assert (pdf.status, pdf.body()[:5]) == (200, b"%PDF-")

    # A correction is an amendment: a second revision with its reason, and the first stays.
    office.page.goto(f"{there}/amend/")
    office.page.select_option("select[name=device]", str(devices["2-114"].pk))
    office.page.select_option("select[name=task]", "functional")
    office.page.select_option("select[name=result]", "fail")
    office.page.fill("[name=result_reason]", "Alarm came after 40 s")
    office.page.fill("[name=reason]", "The event log was read again")
    office.click("Amend the record", "button")
    office.sees("The event log was read again")
    with scope(firm.pk):
        revisions = list(SealedRecord.objects.order_by("revision"))
    assert [(one.revision, one.previous_hash) for one in revisions] == [
        (1, "0" * 64),
        (2, record.chain_hash),
    ]
    for person in (office, technician, owner):
        assert person.complaints == []


def _read(technician: Person, there: str, device: Device, drift: str, verdict: str) -> None:
    """Type a reading; it is judged before it is saved."""
    technician.page.goto(f"{there}/devices/{device.pk}/")
    technician.page.fill("input[name=drift]", drift)
    technician.page.locator("#judged .verdict").wait_for()
    assert verdict in technician.page.locator("#judged").inner_text().lower()
    technician.click("Save as found", "button")
    technician.sees("Earlier readings")


def test_undoing_a_print_out_takes_its_devices_off_the_list(live_server, browser, house, firm):
    office = Person(
        browser, live_server.url, "office@tarnbeck.example", viewport={"width": 820, "height": 1180}
    )
    office.page.goto(f"{live_server.url}/f/{firm.slug}/buildings/{house.pk}/take-in/")
    office.page.set_input_files(
        "input[type=file]",
        {"name": "quillmarsh.csv", "mimeType": "text/csv", "buffer": PRINT_OUT.encode()},
    )
    office.click("Read the file", "button")
    office.click("Accept 3 good rows", "button")
    office.click("Undo this print-out", "button")
    office.sees("Undone")

    with scope(firm.pk):
        assert list(Device.objects.filter(removed_on=None).values_list("address", flat=True)) == [
            "2-114"
        ]
        assert Building.objects.count() == 1
