"""What goes wrong with tablets: updates, full disks, ended sessions, wrong clocks, no network."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from contractor.field import services as fields
from contractor.field import shell
from contractor.field.models import Received, Review
from contractor.field.models import Tablet as Row
from contractor.tenancy.models import Member
from contractor.tenancy.scope import scope
from contractor.visits.models import Entry, Visit
from tests.e2e.field_stage import CHROMIUM, PASSWORD, build, restore, snapshot, stored, until

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists(), reason="Chromium is missing: apt-get install chromium"
    ),
]


def pass_one(tablet, address):
    """Pass a device from its row and wait until the screen says so."""
    tablet.row(address).get_by_role("button", name=f"Pass {address}").click()
    tablet.row(address).locator(".what .state").wait_for()


def check_update(tablet):
    """Have the browser look for a newer worker, as it does by itself within a day.

    Answers what became of the one it found: "installed" or "redundant".
    """
    return tablet.page.evaluate(
        """async () => {
          const registration = await navigator.serviceWorker.getRegistration('/field/');
          const found = new Promise((resolve) => {
            registration.addEventListener('updatefound', () => resolve(registration.installing));
          });
          await registration.update().catch(() => null);
          const worker = await found;
          while (worker.state === 'installing') {
            await new Promise((resolve) => {
              worker.addEventListener('statechange', resolve, { once: true });
            });
          }
          return worker.state;
        }"""
    )


def version(tablet):
    return tablet.page.evaluate("document.documentElement.dataset.version")


class TestUpdate:
    @pytest.fixture
    def deploy(self, monkeypatch):
        """Deploy a newer version: deploy(broken) answers it."""

        def make(*, broken):
            made = shell._make()
            newer = made.version[::-1]
            worker = made.worker.replace(made.version, newer)
            page = made.page.replace(made.version, newer)
            old_hash, new_hash = (
                shell.hashlib.sha256(p.encode()).hexdigest() for p in (made.page, page)
            )
            worker = worker.replace(old_hash, new_hash)
            if broken:
                worker = worker.replace("/static/field/sync.js", "/static/field/gone.js")
            found = shell.Shell(newer, page, worker)
            monkeypatch.setattr("contractor.field.views.shell.load", lambda: found)
            return newer

        return make

    def test_a_missing_file_stops_the_update_and_the_old_app_goes_on(
        self, firm, tablet, line, deploy
    ):
        house = build(firm, begun=True)
        tablet.enrol(house)
        before = version(tablet)

        deploy(broken=True)
        assert check_update(tablet) == "redundant"
        line.down()
        tablet.page.reload()
        tablet.visit(house)
        pass_one(tablet, "1-115")
        assert version(tablet) == before
        assert tablet.unsent() == 1
        tablet.complaints.clear()

    def test_a_good_one_waits_for_the_open_visit(self, firm, tablet, deploy):
        house = build(firm, begun=True)
        tablet.enrol(house)
        tablet.visit(house)
        before = version(tablet)
        newer = deploy(broken=False)

        assert check_update(tablet) == "installed"
        tablet.page.locator("#newer").wait_for()
        pass_one(tablet, "1-115")
        assert version(tablet) == before

        tablet.page.evaluate("location.hash = ''")
        tablet.page.wait_for_function(
            "(newer) => document.documentElement.dataset.version === newer", arg=newer
        )
        tablet.visit(house)
        tablet.sees("9 of 10 not tested yet")


#: Whether the tablet's app is stored and at work, and no newer one is on its way.
IS_KEPT = """async () => {
  const worker = await navigator.serviceWorker.getRegistration("/field/");
  return worker?.active?.state === "activated" && !worker.installing && !worker.waiting;
}"""


def steady_use(page):
    """Ask how much is stored once the app is kept whole, until the answer stands."""
    until(lambda: page.evaluate(IS_KEPT))
    seen = []

    def stands():
        seen.append(page.evaluate("navigator.storage.estimate().then((one) => one.usage)"))
        return len(seen) > 5 and len(set(seen[-5:])) == 1

    until(stands)
    return seen[-1]


@pytest.mark.parametrize(
    ("room", "words"),
    [
        (250_000, "Photo not saved: the tablet's storage is full."),
        (900_000, "Photo, kept smaller than usual: it did not fit."),
    ],
)
def test_a_full_tablet_saves_the_result_and_says_what_became_of_the_photo(
    firm, tablet, tmp_path, room, words
):
    from PIL import Image

    house = build(firm, begun=True)
    tablet.enrol(house)
    Image.effect_noise((2400, 1800), 90).convert("RGB").save(tmp_path / "photo.jpg", quality=95)
    used = steady_use(tablet.page)
    tablet.close()  # Chromium believes in the space it last saw for half a minute
    tablet.start()
    session = tablet.context.new_cdp_session(tablet.page)
    session.send(
        "Storage.overrideQuotaForOrigin",
        {"origin": tablet.line.url, "quotaSize": int(used) + room},
    )
    tablet.open()
    tablet.visit(house, f"/d/{house.devices[2].pk}")

    tablet.page.set_input_files("#photo", tmp_path / "photo.jpg")

    tablet.page.get_by_text(words).wait_for()
    is_kept = "smaller" in words
    assert ("NOT SAVED: the photo." in tablet.page.inner_text("body")) != is_kept
    tablet.page.locator("#deeds").get_by_role("button", name="Pass").click()
    until(lambda: len(tablet.entries()) == 2)
    assert [row["entry"]["kind"] for row in tablet.entries()] == ["note", "result"]
    assert len(tablet.entries()[0]["entry"].get("photos", [])) == is_kept
    session.send("Storage.overrideQuotaForOrigin", {"origin": tablet.line.url})
    tablet.complaints.clear()


def test_an_ended_session_asks_once_and_keeps_the_outbox(firm, tablet):
    house = build(firm, begun=True)
    tablet.enrol(house)
    tablet.visit(house)
    tablet.context.clear_cookies()
    pass_one(tablet, "1-115")
    pass_one(tablet, "1-116")

    until(lambda: "sign in to send 2" in tablet.page.inner_text("#send"))
    tablet.page.evaluate("location.hash = ''")
    tablet.page.get_by_text("Sign in to send 2 entries.").wait_for()
    tablet.page.fill("#login", "second@tarnbeck.example")
    tablet.page.fill("#password", PASSWORD)
    tablet.sync()  # the server says no once more meanwhile; what is typed stays
    tablet.page.evaluate("new Promise((done) => setTimeout(() => requestAnimationFrame(done)))")
    assert tablet.page.input_value("#password") == PASSWORD
    tablet.page.get_by_role("button", name="Sign in").click()

    until(lambda: tablet.unsent() == 0)
    with scope(firm.pk):
        entries = list(Entry.objects.all())
        sender = Received.objects.first().sent_by
    # A colleague sent them; they stay their author's.
    assert {entry.member_id for entry in entries} == {house.members["technician"].pk}
    assert sender.pk == house.members["second"].pk


def test_the_work_of_somebody_who_left_comes_in_for_review(firm, tablet, line):
    house = build(firm, begun=True)
    tablet.enrol(house)
    tablet.visit(house)
    line.down()
    for address in ("1-115", "1-116", "1-119"):
        pass_one(tablet, address)
    with scope(firm.pk):
        Member.objects.filter(name="T. Varsk").update(left_on=datetime.now(tz=UTC).date())
    line.up()

    tablet.sync()

    until(lambda: tablet.unsent() == 0)
    with scope(firm.pk):
        assert set(Review.objects.values_list("why", flat=True)) == {"author_left"}
        assert Received.objects.count() == 3
        assert not Entry.objects.exists()
    until(lambda: "no access any more" in tablet.page.inner_text("#send"))


def test_a_revoked_tablet_delivers_and_gets_nothing_more(firm, tablet, line):
    house = build(firm, begun=True)
    tablet.enrol(house)
    tablet.visit(house)
    line.down()
    pass_one(tablet, "1-115")
    with scope(firm.pk):
        fields.revoke(
            tablet=Row.objects.get(), member=house.members["office"], now=datetime.now(tz=UTC)
        )
    line.up()

    tablet.sync()

    until(lambda: tablet.unsent() == 0)
    with scope(firm.pk):
        assert Review.objects.get().why == "tablet_revoked"
    answer = tablet.page.evaluate(
        "import('/static/field/sync.js').then((sync) => sync.listVisits())"
        ".catch((error) => error.code)"
    )
    assert answer == "revoked"


def test_what_was_acknowledged_beyond_a_gap_is_sent_again(firm, tablet, line):
    """A server restored to where it held neither of two, and a tablet that knows of the second."""
    house = build(firm, begun=True)
    tablet.enrol(house)
    tablet.visit(house)
    backup = snapshot()
    for address in ("1-115", "1-116"):
        pass_one(tablet, address)
    until(lambda: tablet.unsent() == 0)
    first, second = sorted(tablet.entries(), key=lambda row: row["seq"])
    line.down()
    restore(backup)
    tablet.page.evaluate(
        "(id) => import('/static/field/store.js')"
        ".then((store) => store.markEntries([[id, { state: 'on_tablet', answer: '' }]]))",
        first["id"],
    )
    line.up()

    tablet.sync()

    until(lambda: tablet.unsent() == 0)
    assert stored(house) == sorted([first["id"], second["id"]])


def test_a_wrong_clock_changes_no_order_and_is_said(firm, tablet, line):
    house = build(firm, begun=True)
    tablet.enrol(house)
    tablet.visit(house)
    line.down()
    pass_one(tablet, "1-115")
    tablet.page.evaluate("const now = Date.now.bind(Date); Date.now = () => now() + 3840000")
    pass_one(tablet, "1-116")
    tablet.page.evaluate("const off = Date.now.bind(Date); Date.now = () => off() - 31536000000")
    pass_one(tablet, "1-119")
    line.up()

    tablet.sync()

    until(lambda: tablet.unsent() == 0)
    with scope(firm.pk):
        rows = list(Received.objects.order_by("sequence"))
    assert rows[0].clock_off_s == 0
    assert 3700 < rows[1].clock_off_s < 3900
    assert rows[2].clock_off_s < -31_000_000
    assert rows[0].made_at <= rows[1].made_at <= rows[2].made_at
    assert (datetime.now(tz=UTC) - rows[2].made_at).total_seconds() < 60


def test_readings_all_the_same_a_hurry_and_old_unsent_work_are_said(firm, tablet, line):
    house = build(firm, devices=22, begun=True)
    smoke = [str(device.pk) for device in house.devices if device.kind == "smoke"]
    tablet.enrol(house)
    line.down()
    tablet.visit(house)
    tablet.page.evaluate(
        """async ([visit, devices]) => {
          const { Visit } = await import('/static/field/visit.js');
          const open = await Visit.load(visit);
          for (const device of devices) {
            await open.save('reading', { device, body: { task: 'sensitivity', stage: 'as_found',
              said: { measured: '2.0', unit: '%/ft' }, method: 'control_unit' } });
          }
        }""",
        [str(house.visit.pk), smoke[:12]],
    )
    tablet.page.reload()
    tablet.page.wait_for_selector("#main h1")
    tablet.visit(house, f"/d/{smoke[12]}")
    for key in "2.0":
        tablet.page.locator(f"[data-key='{key}']").click()
    tablet.sees("The same was typed for the last 12 detectors. Is it what this one shows?")
    tablet.page.locator("[data-key=erase]").click()
    tablet.page.locator("[data-key='1']").click()
    assert "The same was typed" not in tablet.page.inner_text("main")

    tablet.visit(house, "/finish")
    tablet.sees(
        "0 of 12 results here by the device's label", "12 came within 40 s without a label."
    )
    tablet.page.evaluate("const now = Date.now.bind(Date); Date.now = () => now() + 18000000")
    tablet.visit(house, "/sending")
    tablet.sees("12 unsent since", "The oldest has been here since")


def test_two_tablets_on_one_device_are_both_shown(firm, tablet, second, line):
    house = build(firm, begun=True)
    tablet.enrol(house)
    second.enrol(house, "second", "Tablet 2")
    line.down()
    tablet.visit(house)
    pass_one(tablet, "1-115")
    second.visit(house, f"/d/{house.devices[2].pk}/other")
    second.page.get_by_role("button", name="No alarm at the control unit").click()
    second.page.wait_for_selector("#order")
    line.up()
    for one in (tablet, second):
        one.sync()
    for one in (tablet, second):
        until(lambda one=one: one.unsent() == 0)

    # Only now does the server hold both; each tablet hears of the other's when it next asks.
    for one in (tablet, second):
        one.visit(house, f"/d/{house.devices[2].pk}")

        def shows_both(one=one) -> bool:
            one.sync()
            one.page.wait_for_timeout(1000)
            one.page.reload()
            one.page.wait_for_selector("#main h1")
            return "two results" in one.page.inner_text("body")

        until(shows_both)
    second.sees("pass", "No alarm at the control unit", "T. Varsk")
    second.picture("two-results")
    with scope(firm.pk):
        from contractor.visits import queries

        place = queries.load_round(visit=Visit.objects.get()).find(house.devices[2].pk)
    assert place.state.outcome == "two_results"


def test_a_rescue_file_from_a_tablet_without_network_is_brought_in(firm, tablet, line, client):
    house = build(firm, begun=True)
    tablet.enrol(house)
    tablet.visit(house)
    line.down()
    for address in ("1-115", "1-116"):
        pass_one(tablet, address)
    tablet.visit(house, "/sending")
    with tablet.page.expect_download() as download:
        tablet.page.get_by_role("button", name="Rescue file").click()
    file = Path(download.value.path()).read_bytes()
    assert b"result" not in file

    with scope(firm.pk):
        found = fields.open_file(
            data=file, member=house.members["office"], now=datetime.now(tz=UTC)
        )
    assert [one.answer for one in found.answers] == ["stored", "stored"]
    line.up()
    tablet.sync()
    until(lambda: tablet.unsent() == 0)
    assert [row["answer"] for row in tablet.entries()] == ["already", "already"]
    assert len(stored(house)) == 2


def test_the_cases_hold_in_the_browser_too(firm, tablet):
    from tests.field import vectors

    tablet.page.goto(f"{tablet.line.url}/field/")
    script = (Path(vectors.__file__).parent / "run_vectors.js").read_text()
    cases = {name: vectors.load(name) for name in vectors.MADE}
    found = tablet.page.evaluate(
        "async (cases) => {"
        + script.replace("export async function", "async function")
        + "const names = ['fold', 'judge', 'canonical', 'labels', 'trade'];"
        "const [fold, judge, canonical, labels, trade] = await Promise.all("
        "names.map((name) => import(`/static/field/${name}.js`)));"
        " return run({ fold, judge, canonical, labels, trade }, cases); }",
        cases,
    )
    assert found["checked"] > 800
    assert not found["wrong"], json.dumps(found["wrong"][:2])
