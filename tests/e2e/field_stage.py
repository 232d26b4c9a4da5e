"""The stage of the tablet's browser tests: a house with a visit, a line that really cuts, tablets.

Nothing is emulated: requests go over a TCP proxy of ours that drops, delays and cuts them.
"""

import contextlib
import os
import re
import socket
import threading
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from django.contrib.auth.hashers import make_password
from django.db import connections, transaction

from contractor.field import services as fields
from contractor.tenancy.models import FirmProfile
from contractor.tenancy.scope import scope
from contractor.visits import services as visits
from contractor.visits.models import Entry
from tests import factories

PASSWORD = "heron-gate-lantern"
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-dev-shm-usage",
]
TABLET = {"width": 834, "height": 1112}


class Line:
    """A line between tablets and the server, which can be cut at any of four places."""

    def __init__(self, port: int) -> None:
        self.to = ("127.0.0.1", port)
        self.is_up = True
        self.breaks: list[tuple[str, bytes]] = []  # ("before" or "after", what is in the request)
        self.cut = 0
        self.open: set[socket.socket] = set()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        while True:
            try:
                tablet, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(tablet,), daemon=True).start()

    def _serve(self, tablet: socket.socket) -> None:
        if not self.is_up:
            tablet.close()
            return
        try:
            server = socket.create_connection(self.to, timeout=30)
        except OSError:
            tablet.close()
            return
        self.open |= {tablet, server}
        lost = threading.Event()
        threading.Thread(target=self._pass, args=(tablet, server, lost, True), daemon=True).start()
        self._pass(server, tablet, lost, False)

    def _pass(self, one, other, lost: threading.Event, is_request: bool) -> None:
        try:
            while data := one.recv(65536):
                if not self.is_up:
                    break
                if is_request:
                    place = self._asked(data)
                    if place == "before":  # the request is lost
                        break
                    if place == "after":  # the answer is lost
                        lost.set()
                elif lost.is_set():
                    break
                other.sendall(data)
        except OSError:
            pass
        for end in (one, other):
            self.open.discard(end)
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def _asked(self, data: bytes) -> str:
        for one in list(self.breaks):
            place, words = one
            if words in data:
                self.breaks.remove(one)
                self.cut += 1
                return place
        return ""

    def down(self) -> None:
        """Cut the line: what is under way is lost, nothing new comes through."""
        self.is_up = False
        for end in list(self.open):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def up(self) -> None:
        """Mend the line."""
        self.is_up = True

    def close(self) -> None:
        """End it."""
        self.down()
        self.listener.close()


@dataclass
class House:
    """A firm with its people, and a building with a visit planned for today."""

    firm: object
    members: dict = field(default_factory=dict)
    building: object = None
    visit: object = None
    devices: list = field(default_factory=list)


NAMES = (
    "Kitchen, dry store",
    "Kitchen corridor",
    "Kitchen, by the range",
    "Kitchen exit",
    "Servery",
    "Hall, bay 4",
    "Hall, south exit",
    "Hall, bay 5",
    "Cloakroom",
    "Stair foot",
)
KINDS = ("smoke", "smoke", "heat", "manual", "smoke", "smoke", "manual", "smoke", "smoke", "heat")


def build(firm, *, devices: int = 20, zones: int = 2, begun: bool = False) -> House:
    """Build a house with so many devices in zones."""
    now = datetime.now(tz=UTC)
    house = House(firm)
    with scope(firm.pk):
        FirmProfile.objects.update(address="2 Ferry Lane\nPort Ellory", telephone="555 0134")
        for role, name in (("office", "I. Tarrowby"), ("technician", "T. Varsk")):
            user = factories.UserFactory(
                email=f"{role}@tarnbeck.example", name=name, password=make_password(PASSWORD)
            )
            house.members[role] = factories.MemberFactory(
                firm=firm, user=user, name=name, role=role
            )
        user = factories.UserFactory(
            email="second@tarnbeck.example", name="K. Oduya", password=make_password(PASSWORD)
        )
        house.members["second"] = factories.MemberFactory(
            firm=firm, user=user, name="K. Oduya", role="technician"
        )
        house.building = factories.BuildingFactory(
            firm=firm,
            releasing="Kitchen hood on loop 2; elevator recall on loop 1",
            instructions="Key at the desk. Dog in the yard.",
            monitoring="Ellory Central, account 4471, 555 0199",
        )
        system = factories.SystemFactory(building=house.building)
        areas = [
            factories.AreaFactory(
                building=house.building,
                name=f"Zone {number + 1}",
                description=("Level 1, kitchen and hall", "Basement", "Level 2, offices")[
                    number % 3
                ],
                position=number,
            )
            for number in range(zones)
        ]
        product = factories.ProductFactory(firm=firm)
        for number in range(devices):
            kind = KINDS[number % len(KINDS)]
            is_smoke = kind == "smoke"
            house.devices.append(
                factories.DeviceFactory(
                    system=system,
                    area=areas[number * zones // devices],
                    kind=kind,
                    address=f"{number * zones // devices + 1}-{113 + number:03d}",
                    label=NAMES[number % len(NAMES)] if number % 13 != 12 else "",
                    product=product if is_smoke else None,
                    setting="2.5" if is_smoke else None,
                    position=number,
                )
            )
        for device in house.devices[:6]:
            if device.kind == "smoke":
                factories.ReadingFactory(device=device, drift=0.41, reason="Drift 0.41 %/ft.")
        house.visit = visits.plan_visit(
            building=house.building,
            planned_on=now.date(),
            tasks=["functional", "sensitivity"],
            member_ids=[house.members["technician"].pk],
            member=house.members["office"],
            now=now,
        )
        if begun:
            from contractor.visits.cautions import list_cautions

            house.visit = visits.begin_visit(
                visit=house.visit,
                notified_before="Ellory Central 08:05, desk 08:10",
                cautions=list_cautions(building=house.building),
                member=house.members["technician"],
                now=now,
            )
    return house


class Tablet:
    """One tablet: a browser profile of its own, on a line of its own."""

    def __init__(self, play, folder: Path, line: Line, arguments=(), **more) -> None:
        self.play, self.folder, self.line = play, folder, line
        self.arguments = [*ARGUMENTS, *arguments]
        self.more = {"viewport": TABLET, "has_touch": True, **more}
        self.complaints: list[str] = []
        self.start()

    def start(self) -> None:
        """Open the browser on its profile."""
        self.context = self.play.chromium.launch_persistent_context(
            str(self.folder), executable_path=CHROMIUM, args=self.arguments, **self.more
        )
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.page.set_default_timeout(90_000)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on(
            "console",
            lambda said: (
                self.complaints.append(said.text)
                if said.type == "error" and "Failed to load resource" not in said.text
                else None
            ),
        )

    def kill(self) -> None:
        """Kill the browser as a dead battery does."""
        import signal
        import subprocess

        found = subprocess.run(
            ["pgrep", "-f", f"--user-data-dir={self.folder}"],
            capture_output=True,
            text=True,
            check=False,
        )
        for pid in found.stdout.split():
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(pid), signal.SIGKILL)
        with contextlib.suppress(Exception):
            self.context.close()

    def close(self) -> None:
        """Close the browser."""
        self.context.close()

    def open(self, hash: str = "") -> None:
        """Open the app."""
        self.page.goto(f"{self.line.url}/field/#{hash}")
        self.page.wait_for_selector("#main h1")

    def enrol(self, house: House, who: str = "technician", name: str = "Tablet 1") -> None:
        """Sign in, enrol, and take the visit along."""
        now = datetime.now(tz=UTC)
        with scope(house.firm.pk):
            code, _ = fields.make_code(name=name, member=house.members["office"], now=now)
        self.open()
        self.page.fill("#login", f"{who}@tarnbeck.example")
        self.page.fill("#password", PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.fill("#code", code)
        self.page.get_by_role("button", name="Enrol this tablet").click()
        self.page.get_by_role("button", name="Take Quillmarsh House along").click()
        self.page.get_by_text("Ready for no signal", exact=True).wait_for()

    def sign_in(self, who: str = "technician") -> None:
        """Sign in again where the app asks for it."""
        self.page.evaluate("location.hash = ''")
        self.page.fill("#login", f"{who}@tarnbeck.example")
        self.page.fill("#password", PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_function("() => !document.querySelector('#login')")

    def visit(self, house: House, rest: str = "") -> None:
        """Go to the visit."""
        path = f"v/{house.visit.pk}{rest}"
        self.page.evaluate(f"location.hash = '{path}'")
        self.page.wait_for_function("(path) => document.body.dataset.shown === path", arg=path)

    def sees(self, *words: str) -> None:
        """Find words on the screen."""
        text = self.page.inner_text("body")
        for said in words:
            assert said in text, f"{said!r} is not on the screen:\n{text[:3000]}"

    def begin(self) -> None:
        """Read the cautions and begin."""
        for box in self.page.locator("input[name=caution]").all():
            box.check()
        self.page.fill("#notified", "Ellory Central 08:05, desk 08:10")
        self.page.get_by_role("button", name="Begin the visit").click()
        self.page.wait_for_selector("#order")

    def row(self, address: str):
        """Find a device's row."""
        return self.page.locator(f".entry:has(a.address:text-is('{address}'))")

    def unsent(self) -> int:
        """Ask the tablet how many entries are only on it."""
        return self.page.evaluate(
            "import('/static/field/store.js').then((store) => store.countUnsent())"
        )

    def entries(self) -> list[dict]:
        """Read everything this tablet has made."""
        return self.page.evaluate(
            "import('/static/field/store.js').then((store) => store.listAll())"
        )

    def sync(self) -> None:
        """Have it try to send now."""
        self.page.evaluate("import('/static/field/sync.js').then((sync) => sync.run())")

    def picture(self, name: str) -> None:
        """Keep a picture where somebody asked for it."""
        folder = os.environ.get("FIELD_PICTURES")
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=f"{folder}/{name}.png")


def until(answer, seconds: float = 90):
    """Wait until something is so."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := answer():
            return found
        time.sleep(0.1)
    raise AssertionError("it did not become so in time")


#: What a tablet's entries become here, in the order in which a request takes them.
TABLES = ("field_tablet", "field_applied", "field_review", "field_received", "visits_entry")


def snapshot():
    """What a backup of the server would hold: everything as of one moment."""
    with transaction.atomic(using="owner"), connections["owner"].cursor() as cursor:
        cursor.execute("set transaction isolation level repeatable read")
        kept = {}
        for table in TABLES:
            cursor.execute(f"select id from {table}")
            kept[table] = [row[0] for row in cursor.fetchall()]
        cursor.execute("select id, held from field_tablet")
        return kept, cursor.fetchall()


def restore(backup):
    """Restore the server: what came after the backup is gone. Requests under way end before."""
    kept, held = backup
    with transaction.atomic(using="owner"), connections["owner"].cursor() as cursor:
        cursor.execute(f"lock table {', '.join(TABLES)} in exclusive mode")
        for table in TABLES[1:]:
            cursor.execute(f"delete from {table} where not id = any(%s)", [kept[table]])
        for tablet, number in held:
            cursor.execute("update field_tablet set held = %s where id = %s", [number, tablet])


def work_off(house: House) -> None:
    """Do what the background does with a large batch: enter what is stored."""
    with scope(house.firm.pk):
        while fields.apply_stored(visit_id=house.visit.pk, now=datetime.now(tz=UTC)):
            pass


def stored(house: House) -> list[str]:
    """List the entries of the visit in the database, once all that came is entered."""
    work_off(house)
    with scope(house.firm.pk):
        return sorted(str(key) for key in Entry.objects.values_list("pk", flat=True))


def said_sent(text: str) -> int:
    """Read how many the strip calls sent."""
    found = re.search(r"(\d+) sent", text)
    return int(found.group(1)) if found else 0
