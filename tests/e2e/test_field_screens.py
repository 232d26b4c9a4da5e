"""The tablet's screens that are seen seldom: targets, contrast, axe, and the words that help."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from contractor.field import services as fields
from contractor.field.models import Tablet as Row
from contractor.tenancy.scope import scope
from contractor.visits import services as visits
from tests.e2e.field_stage import CHROMIUM, PASSWORD, build, until
from tests.e2e.test_field_measures import CONTRAST, TARGETS, violations

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists(), reason="Chromium is missing: apt-get install chromium"
    ),
]
FORMS = {
    "Battery": {"where": "Control unit, 03/2024", "float_v": "13.7", "load_v": "10.1"},
    "Sound level": {"where": "Room 12", "ambient": "61", "level": "70"},
    "Duct pressure": {"where": "Air handler 2", "value": "0.2", "low": "0.01", "high": "0.5"},
}


def look(tablet, name):
    """Check what is shown: for gloves, for the sun in both themes, for a reader, on every width."""
    page = tablet.page
    tablet.picture(name)
    for one in page.evaluate(TARGETS):
        assert one["height"] >= 48, (name, one)
        assert one["width"] >= 44, (name, one)
        if "button" in one["kind"].split():
            assert one["height"] >= 72, (name, one)
    for theme in ("dark", "light"):
        page.emulate_media(color_scheme=theme)
        for one in page.evaluate(CONTRAST):
            assert one["ratio"] >= 7, (name, theme, one)
            assert one["size"] >= 15, (name, one)
    assert violations(tablet) == [], name
    size = page.viewport_size
    for width, height in ((390, 844), (1112, 834)):
        page.set_viewport_size({"width": width, "height": height})
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width, f"{name} is {wide} px wide on {width}"
    page.set_viewport_size(size)


def speaks_german_without_signal(tablet, house):
    """Follow the person's choice at the next contact, keep it offline, and give English back."""
    page, user = tablet.page, house.members["technician"].user
    for language in ("de", ""):
        user.language = language
        user.save()
        tablet.sync()
        page.wait_for_function("(it) => document.documentElement.lang === it", arg=language or "en")
        tablet.line.down()
        page.reload()
        page.wait_for_selector("#main h1")
        tablet.visit(house, "/begin")
        if language:
            tablet.sees("Vor der ersten Prüfung", "Funktionsprüfung", "Besuch beginnen")
            look(tablet, "begin-in-german")
        else:
            tablet.sees("Before the first test", "functional test", "Begin the visit")
        tablet.line.up()


def test_from_the_sign_in_to_the_lock(firm, tablet, tmp_path):
    house = build(firm, devices=6, zones=1)
    now, page = datetime.now(tz=UTC), tablet.page
    with scope(firm.pk):
        code, _ = fields.make_code(name="Tablet 1", member=house.members["office"], now=now)
    tablet.open()
    page.fill("#login", "technician@tarnbeck.example")
    page.fill("#password", "not this one")
    page.get_by_role("button", name="Sign in").click()
    page.locator(".wrong-text").wait_for()
    look(tablet, "sign-in")
    page.fill("#password", PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.fill("#code", code)
    look(tablet, "enrol")
    page.get_by_role("button", name="Enrol this tablet").click()
    page.get_by_role("button", name="Take Quillmarsh House along").click()
    page.get_by_text("Ready for no signal", exact=True).wait_for()
    tablet.sees("6 devices", "kB")
    page.get_by_role("button", name="Left hand").click()
    page.get_by_role("button", name="Right hand").wait_for()
    speaks_german_without_signal(tablet, house)
    tablet.visit(house, "/begin")
    tablet.begin()
    tablet.visit(house, f"/d/{house.devices[0].pk}")
    look(tablet, "reading-with-the-left-hand")

    tablet.visit(house, "/scan")
    page.get_by_text("shows no camera").wait_for()
    look(tablet, "scan-without-camera")
    page.fill("#code", "SN 0042-A")
    page.get_by_role("button", name="Open", exact=True).click()
    page.get_by_text("This code is not known here").wait_for()
    look(tablet, "scan-unknown")

    # A photo is shown as soon as it is on the tablet; what is wrong keeps its words once.
    Image.effect_noise((1600, 1200), 60).convert("RGB").save(tmp_path / "photo.jpg")
    heat = house.devices[2]
    tablet.visit(house, f"/d/{heat.pk}")
    page.set_input_files("#photo", tmp_path / "photo.jpg")
    page.locator("canvas.thumb[width]").wait_for()
    page.fill("#note", "Cracked base")
    page.get_by_role("button", name="Deficiency").click()
    page.get_by_text("Cracked base").wait_for()
    assert page.inner_text("main").count("Cracked base") == 1
    look(tablet, "photo-and-deficiency")

    tablet.visit(house, "/records")
    page.fill("#operator", "Ellory Central, until 12:00")
    page.get_by_role("button", name="Begin test mode").click()
    page.get_by_text("On test since").wait_for()
    for where in ("Kitchen hood, tag 1", "Elevator recall, tag 2"):
        page.fill("#where", where)
        page.get_by_role("button", name="Bypassed").click()
        page.get_by_text(f"Bypassed or disconnected: {where}").wait_for()
    for form, typed in FORMS.items():
        page.get_by_role("button", name=form, exact=True).click()
        for name, value in typed.items():
            page.fill(f"#m-{name}", value)
        page.locator("#measured .state").wait_for()
        look(tablet, f"measure-{form.split()[0].lower()}")
        page.get_by_role("button", name=f"Save {form.lower()}").click()
        page.get_by_text(f"{form}, {typed['where']}").wait_for()
    look(tablet, "bypasses")

    # Somebody says otherwise online, without knowing: both stand, and it is said what to do.
    tablet.line.down()
    tablet.visit(house)
    tablet.row(heat.address).get_by_role("button", name=f"Pass {heat.address}").click()
    tablet.row(heat.address).locator(".what .state").wait_for()
    with scope(firm.pk):
        visits.record_result(
            visit=house.visit, device=heat, task="functional",
            result="fail", reason="Damaged", member=house.members["second"], now=now, seen=(),
        )  # fmt: skip
    tablet.line.up()
    tablet.sync()
    until(lambda: tablet.unsent() == 0)
    tablet.visit(house, f"/d/{heat.pk}")

    def shows_both() -> bool:
        tablet.sync()
        page.reload()
        page.wait_for_selector("#main h1")
        return "Neither of you knew of the other's." in page.inner_text("main")

    until(shows_both)
    look(tablet, "conflict")

    tablet.visit(house, "/finish")
    look(tablet, "finish-with-open-items")
    tablet.visit(house, "/records")
    for left in (1, 0):
        page.get_by_role("button", name="Restored").first.click()
        until(lambda left=left: page.get_by_role("button", name="Restored").count() == left)
    page.fill("#operator", "Ellory Central, 11:45")
    page.get_by_role("button", name="End test mode").click()
    page.get_by_text("not on test").wait_for()

    # Signed, handed in without signal: the owner's summary is whole at once.
    tablet.line.down()
    tablet.visit(house, "/finish")
    page.locator("#pad").scroll_into_view_if_needed()
    box = page.locator("#pad").bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 60)
    page.mouse.down()
    for step in range(12):
        page.mouse.move(box["x"] + 40 + step * 12, box["y"] + 60 + step % 4 * 14)
    page.mouse.up()
    page.fill("#owner", "R. Quill")
    page.get_by_role("button", name="Save signature").click()
    page.locator("canvas.thumb[width]").wait_for()
    page.get_by_role("button", name="Room locked").click()
    page.fill("#told", "Ellory Central 11:45")
    look(tablet, "signed")
    page.get_by_role("button", name="Hand in").click()
    page.get_by_text("Summary of this visit").wait_for()
    text = page.inner_text("main")
    assert "not tested yet" not in text
    tablet.sees(
        "Room locked", "5 devices", "T. Varsk", "Ellory Central 11:45", "Signed on the tablet"
    )
    assert (
        "12.3 V at least" in text.split("Not tested")[0]
    )  # the battery stands under what is wrong
    assert "Duct pressure, Air handler 2" in text.split("Measured")[1]
    look(tablet, "summary")

    with scope(firm.pk):
        fields.revoke(tablet=Row.objects.get(), member=house.members["office"], now=now)
    tablet.line.up()
    tablet.sync()
    until(lambda: tablet.unsent() == 0)
    tablet.visit(house, "/sending")
    page.get_by_text("The office looks at").wait_for()
    look(tablet, "needs-attention")
    page.evaluate("location.hash = ''")
    page.get_by_text("The office has revoked this tablet.").wait_for()
    page.get_by_role("button", name="Lock", exact=True).click()
    page.fill("#new-pin", "1357")
    look(tablet, "revoked")
    page.get_by_role("button", name="Lock with it").click()
    page.locator("#unlock").wait_for()
    look(tablet, "locked")
    page.goto(f"{tablet.line.url}/field/reset")
    page.get_by_role("button", name="Save rescue file").wait_for()
    look(tablet, "reset")
