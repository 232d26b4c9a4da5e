"""The tablet in a real browser: a visit walked with and without signal."""

from pathlib import Path

import pytest

from contractor.tenancy.scope import scope
from contractor.visits.models import Entry, Measurement, Visit
from tests.e2e.field_stage import CHROMIUM, build, stored, until, work_off

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists(), reason="Chromium is missing: apt-get install chromium"
    ),
]


def test_a_visit_without_signal_from_the_cautions_to_the_hand_in(firm, tablet, line):
    house = build(firm)
    tablet.enrol(house)
    tablet.picture("start")
    line.down()
    tablet.page.reload()
    tablet.page.wait_for_selector("#main h1")
    # News of the signal while a visit is being opened does not stop it from being shown.
    tablet.page.evaluate(
        "addEventListener('hashchange', () => document.dispatchEvent(new Event('field:state')),"
        " { once: true })"
    )
    tablet.visit(house, "/begin")
    tablet.sees("Kitchen hood on loop 2", "Dog in the yard")
    tablet.picture("begin")
    tablet.page.get_by_role("button", name="Begin the visit").click()
    tablet.sees("Read each caution and tick it")
    tablet.begin()
    tablet.picture("list")
    tablet.sees("10 of 10 not tested yet", "no signal")

    # A pass takes one action.
    tablet.row("1-115").get_by_role("button", name="Pass 1-115").click()
    tablet.row("1-115").get_by_text("pass", exact=True).wait_for()
    tablet.sees("9 of 10 not tested yet")

    # A failure takes two.
    tablet.row("1-116").get_by_role("link", name="Other result of 1-116").click()
    tablet.page.wait_for_selector(".reasons")
    tablet.picture("other")
    tablet.page.get_by_role("button", name="No alarm at the control unit").click()
    tablet.page.wait_for_selector("#order")
    tablet.sees("1 fail")

    # A reading takes its digits and two: judged as it is typed, last year's shown afterwards.
    tablet.row("1-113").get_by_role("link", name="Read 1-113").click()
    tablet.page.wait_for_selector(".keypad")
    assert "Drift 0.41" not in tablet.page.inner_text("main")
    for key in "25":
        tablet.page.locator(f"[data-key='{key}']").click()
    tablet.sees("25 %/ft cannot be. Was it 2.5?")
    tablet.picture("slip")
    tablet.page.locator("[data-key=erase]").click()
    tablet.page.locator("[data-key='.']").click()
    tablet.page.locator("[data-key='5']").click()
    tablet.page.click("#r-drift")
    for key in "0.95":
        tablet.page.locator(f"[data-key='{key}']").click()
    tablet.sees("In range", "nearing its limit")
    tablet.picture("entry")
    tablet.page.get_by_role("button", name="Save as found").click()
    tablet.page.get_by_text("Earlier readings", exact=True).wait_for()
    tablet.sees("+0.54 %/ft since")
    tablet.page.get_by_role("button", name="Clean, then read as left").click()
    tablet.page.get_by_role("button", name="Save as left").wait_for()
    tablet.page.fill("#r-drift", "0.05")
    tablet.page.get_by_role("button", name="Save as left").click()
    tablet.page.locator("#deeds").get_by_role("button", name="Pass").click()
    until(lambda: tablet.unsent() == 7)

    # Records: what is bypassed keeps the visit open.
    tablet.visit(house, "/records")
    tablet.page.fill("#where", "Kitchen hood, loop 2, tag 1")
    tablet.page.get_by_role("button", name="Bypassed").click()
    tablet.page.get_by_text("Written down so far").wait_for()
    tablet.page.get_by_role("button", name="Battery").click()
    tablet.page.fill("#m-where", "Control unit, VRLA, 03/2024")
    tablet.page.fill("#m-float_v", "13.7")
    tablet.page.fill("#m-load_v", "12.1")
    tablet.page.wait_for_selector("#measured .state")
    tablet.picture("records")
    tablet.page.get_by_role("button", name="Save battery").click()
    tablet.page.get_by_text("Battery, Control unit, VRLA, 03/2024").wait_for()
    tablet.visit(house, "/sending")
    tablet.picture("sending")
    tablet.sees("All your work is on this tablet")

    tablet.visit(house, "/finish")
    tablet.page.fill("#told", "Ellory Central 11:40")
    tablet.page.fill("#whyNot", "Nobody at the desk")
    tablet.page.get_by_role("button", name="Save signature").click()
    tablet.page.get_by_text("No signature: Nobody at the desk").wait_for()
    tablet.page.get_by_role("button", name="Room locked").click()
    tablet.page.get_by_role("button", name="Hand in").click()
    tablet.sees("Restore first, then finish: Kitchen hood, loop 2, tag 1.")
    tablet.picture("finish")
    tablet.visit(house, "/records")
    tablet.page.get_by_role("button", name="Restored").click()
    tablet.page.get_by_text("Restored: Kitchen hood").wait_for()
    tablet.visit(house, "/finish")
    tablet.page.fill("#told", "Ellory Central 11:40")
    tablet.page.get_by_role("button", name="Room locked").click()
    tablet.page.get_by_role("button", name="Hand in").click()
    tablet.page.get_by_text("Summary of this visit").wait_for()
    tablet.picture("summary")
    made = tablet.entries()
    assert stored(house) == []

    # Upstairs again: everything goes by itself.
    line.up()
    tablet.sync()
    until(lambda: tablet.unsent() == 0)
    assert all(row["answer"] == "stored" for row in tablet.entries()), tablet.entries()
    work_off(house)
    with scope(firm.pk):
        visit = Visit.objects.get()
        entries = list(Entry.objects.exclude(tablet=""))
        measured = Measurement.objects.get()
    assert visit.state == "to_review"
    assert (measured.float_v, measured.load_v) == (13.7, 12.1)
    # The beginning and the hand-in are the visit's own; a measurement has its own row.
    assert len(entries) == len(made) - 3
    tablet.visit(house, "/sending")
    tablet.picture("sent")
    tablet.sees("Everything is sent")
