"""Labels in a real browser: sheets read back, and the scanner before a camera that sees them."""

import base64
import io
import random
from datetime import UTC, datetime
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from contractor.engine.label_codes import draw_code
from contractor.labels import queries, services, sheets
from contractor.labels.models import Binding, Label
from contractor.labels.stocks import STOCKS
from contractor.tenancy.scope import scope
from tests import factories
from tests.e2e.field_stage import ARGUMENTS, CHROMIUM, Tablet, build, until

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists(), reason="Chromium is missing: apt-get install chromium"
    ),
]
SERVER = "https://driftbook.tarnbeck.example"
DPI = 200
READ = """async (picture) => {
  const { getReader } = await import("/static/field/camera.js");
  const reader = await getReader();
  const image = new Image();
  image.src = picture;
  await image.decode();
  const codes = await reader.detect(image);
  return codes.map((one) => [one.rawValue, one.cornerPoints.map((at) => [at.x, at.y])]);
}"""


def render(data: bytes, page: int = 0, dpi: int = DPI) -> Image.Image:
    return pypdfium2.PdfDocument(data)[page].render(scale=dpi / 72).to_pil().convert("RGB")


def as_url(picture: Image.Image) -> str:
    out = io.BytesIO()
    picture.save(out, "png")
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode()


def test_every_size_of_label_reads_back_where_it_was_drawn(play, live_server):
    browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
    page = browser.new_page()
    page.goto(f"{live_server.url}/field/")
    worst = 0.0
    chance = random.Random(72)
    for stock in STOCKS.values():
        codes = [draw_code(chance.randrange) for _ in range(min(stock.per_page, 9))]
        labels = [sheets.Printed(code, "2-114", "Kitchen corridor, Zone 2") for code in codes]
        first = stock.per_page - len(codes) + 1
        data = sheets.draw(stock=stock, first=first, labels=labels, server=SERVER, title="Labels")
        seen = dict(page.evaluate(READ, as_url(render(data))))
        assert sorted(seen) == sorted(sheets.address_of(code, server=SERVER) for code in codes)
        for place, code in enumerate(codes, start=first - 1):
            _, x, y = stock.place(place)
            dx, dy, side = sheets.find_square(stock=stock, code=code, server=SERVER)
            corners = seen[sheets.address_of(code, server=SERVER)]
            for (px, py), (wx, wy) in zip(
                corners,
                [(0, 0), (side, 0), (side, side), (0, side)],
                strict=True,
            ):
                off = max(
                    abs(px * 25.4 / DPI - (x + dx + wx)), abs(py * 25.4 / DPI - (y + dy + wy))
                )
                worst = max(worst, off)
    browser.close()

    assert worst < 0.5, f"the furthest corner is off by {worst:.2f} mm"


@pytest.fixture
def camera(tmp_path):
    """What the tablet's camera sees: a film that can be changed while it is put away."""
    film = tmp_path / "camera.mjpeg"

    def see(picture: Image.Image | None) -> None:
        frame = Image.new("RGB", (1280, 720), (96, 96, 90))
        if picture is not None:
            frame.paste(picture.resize((600, 600 * picture.height // picture.width)), (300, 120))
        out = io.BytesIO()
        frame.save(out, "jpeg", quality=85)
        film.write_bytes(out.getvalue() * 30)

    see(None)
    see.film = film
    return see


@pytest.fixture
def seeing(play, line, tmp_path, camera):
    """A tablet with a camera."""
    arguments = (
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={camera.film}",
    )
    found = Tablet(play, tmp_path / "seeing", line, arguments)
    yield found
    found.close()
    assert found.complaints == []


def on_paper(code: str, address: str = "") -> Image.Image:
    stock = STOCKS["roll-50"]
    labels = [sheets.Printed(code, address, "Kitchen corridor")]
    return render(
        sheets.draw(stock=stock, first=1, labels=labels, server=SERVER, title="Label"), dpi=300
    )


def test_scans_without_signal_stops_in_the_wrong_building_and_binds(firm, seeing, line, camera):
    house = build(firm, begun=True)
    office, now = house.members["office"], datetime.now(tz=UTC)
    with scope(firm.pk):
        other = factories.BuildingFactory(firm=firm, name="Dunmere Cold Store")
        away = factories.DeviceFactory(
            system=factories.SystemFactory(building=other), address="7-001"
        )
        runs = [
            services.print_labels(
                firm_id=firm.pk, building=one.building, devices=[one], empty=1, stock="a4-24",
                first=1, reason="", member=office, now=now,
            )
            for one in (house.devices[2], away)
        ]  # fmt: skip
        codes = [[one.label.code for one in queries.list_printed(run=run)] for run in runs]
    (known, free), (foreign, _) = codes
    here, there, elsewhere = (house.devices[at] for at in (2, 3, 4))
    seeing.enrol(house)
    line.down()
    seeing.page.reload()
    seeing.page.wait_for_selector("#main h1")

    # A printed label before the camera opens its device; a pass says that it was scanned.
    camera(on_paper(known, here.address))
    seeing.visit(house)
    seeing.page.get_by_role("link", name="Scan", exact=True).click()
    seeing.page.wait_for_function(
        "(id) => document.body.dataset.shown.endsWith(id)", arg=f"/d/{here.pk}"
    )
    seeing.page.locator("#deeds").get_by_role("button", name="Pass").click()
    seeing.page.wait_for_selector("#order")
    assert seeing.entries()[-1]["entry"]["evidence"]["how"] == "scanned"

    # Another building's label stops, and names it.
    camera(on_paper(foreign, "7-001"))
    seeing.visit(house, "/scan")
    seeing.page.get_by_text("Wrong building", exact=True).wait_for()
    seeing.sees("Dunmere Cold Store", "Quillmarsh House", "Nothing was entered")
    seeing.picture("wrong-building")

    # The last characters do as well; a slip is told.
    camera(None)
    seeing.page.get_by_role("button", name="Scan another").click()
    seeing.page.wait_for_function("() => document.querySelector('#eye')?.readyState >= 2")
    seeing.picture("scan")
    slip = "0" if known[-1] != "0" else "1"
    seeing.page.fill("#code", f"{known[:4]}-{known[4:8]}-{known[8:11]}{slip}")
    seeing.page.get_by_role("button", name="Open", exact=True).click()
    seeing.page.get_by_text("That code does not fit").wait_for()
    seeing.page.get_by_role("button", name="Scan another").click()
    seeing.page.fill("#code", known[-4:].lower())
    seeing.page.get_by_role("button", name="Open", exact=True).click()
    seeing.page.wait_for_function(
        "(id) => document.body.dataset.shown.endsWith(id)", arg=f"/d/{here.pk}"
    )

    # The list finds a device by its label too, and a scanner that types ends with Enter.
    def look_for(words):
        seeing.visit(house)
        seeing.page.get_by_role("button", name="Find", exact=True).click()
        seeing.page.fill("#q", words)

    look_for(known[-4:].lower())
    seeing.row(here.address).wait_for()
    assert seeing.page.locator("[data-row]").count() == 1
    look_for(f"{SERVER}/D/{foreign}".upper())
    seeing.page.keyboard.press("Enter")
    seeing.page.get_by_text("Wrong building", exact=True).wait_for()
    look_for(f"{SERVER}/D/{known}".upper())
    seeing.page.keyboard.press("Enter")
    seeing.page.wait_for_function(
        "(id) => document.body.dataset.shown.endsWith(id)", arg=f"/d/{here.pk}"
    )

    # An empty label is bound to the device in hand; an old barcode to one that is looked up.
    seeing.visit(house, f"/d/{there.pk}")
    seeing.sees("No label yet.")
    camera(on_paper(free))
    seeing.page.get_by_role("link", name="Scan its label").click()
    seeing.page.get_by_text("A new label").wait_for()
    seeing.picture("bind")
    seeing.page.get_by_role("button", name=f"It hangs on {there.address}").click()
    seeing.page.wait_for_function(
        "(id) => document.body.dataset.shown.endsWith(id)", arg=f"/d/{there.pk}"
    )
    seeing.sees(free[-4:])
    seeing.picture("device-with-label")
    camera(None)
    seeing.visit(house, "/scan")
    seeing.page.fill("#code", "SN 0042-A")
    seeing.page.get_by_role("button", name="Open", exact=True).click()
    seeing.page.get_by_text("This code is not known here").wait_for()
    seeing.page.fill("#on", elsewhere.address)
    seeing.picture("unknown")
    seeing.page.get_by_role("button", name=f"It hangs on {elsewhere.address}").click()
    seeing.page.wait_for_function(
        "(id) => document.body.dataset.shown.endsWith(id)", arg=f"/d/{elsewhere.pk}"
    )

    # Meanwhile somebody else bound the empty one to another device: both are shown.
    with scope(firm.pk):
        services.take_binding(
            text=free, device=house.devices[5], replaces=[], reason="", tablet="Tablet 2",
            binding_id=factories.uuid7(), member=house.members["second"], made_at=now, now=now,
        )  # fmt: skip
    line.up()
    seeing.sync()
    until(lambda: seeing.unsent() == 0)
    with scope(firm.pk):
        disputed = Label.objects.get(code=free)
        assert (disputed.device, disputed.is_disputed) == (None, True)
        assert Binding.objects.filter(label=disputed).count() == 2
        found = Label.objects.get(code="SN 0042-A")
        assert (found.device_id, found.is_ours) == (elsewhere.pk, False)
        assert queries.list_bindings(label=found)[0].tablet == "Tablet 1"
