"""Tablets in a storm: lines that are cut anywhere, browsers that are killed while one works.

The screen is the oracle: what it called saved must be there afterwards. FIELD_STORMS and
FIELD_KILLS say how many; `script/soak/run field_browsers` runs 100 and 50.
"""

import itertools
import os
import random
import time
from collections import Counter
from pathlib import Path

import pytest

from contractor.field.models import Applied, Received
from contractor.tenancy.scope import scope
from tests.e2e.field_stage import (
    CHROMIUM,
    Tablet,
    build,
    restore,
    snapshot,
    stored,
    until,
    work_off,
)

STORMS = int(os.environ.get("FIELD_STORMS", "4"))
KILLS = int(os.environ.get("FIELD_KILLS", "3"))
CHANCE = int(os.environ.get("FIELD_CHANCE", "0"))  # another number, other storms

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
    pytest.mark.skipif(
        not Path(CHROMIUM).exists(), reason="Chromium is missing: apt-get install chromium"
    ),
]

#: Save some statements about some devices, through the app's own modules.
SAVE = """
async ([visit, many, seed]) => {
  const { Visit } = await import('/static/field/visit.js');
  const open = await Visit.load(visit);
  let chance = seed;
  const next = (most) => (chance = (chance * 1103515245 + 12345) % 2147483648) % most;
  for (let number = 0; number < many; number += 1) {
    const device = open.devices[next(open.devices.length)];
    const result = next(3) ? 'pass' : 'fail';
    const standing = open.standingIds(device.id, 'functional');
    if (next(5) === 0) {
      await open.save('not_tested', { device: device.id, supersedes: standing,
        body: { task: 'functional', reason: 'Room locked' } });
    } else {
      await open.save('result', { device: device.id, supersedes: next(4) ? standing : [],
        body: { task: 'functional', result, reason: result === 'fail' ? 'Damaged' : '' } });
    }
  }
}
"""
RUN = "import('/static/field/sync.js').then((sync) => sync.run())"
PLACES = (b"/hello", b"/entries", b"/passed")


def test_storms_over_two_browsers_lose_and_double_nothing(firm, tablet, second, line):
    house = build(firm, devices=6, zones=1, begun=True)
    tablet.enrol(house)
    second.enrol(house, "second", "Tablet 2")
    tablets = [tablet, second]
    chance = random.Random(411 + CHANCE)
    backup, restored = None, 0
    for number in range(STORMS):
        for _ in range(chance.randint(3, 7)):
            one = chance.choice(tablets)
            deed = chance.random()
            if deed < 0.45:
                one.page.evaluate(
                    SAVE, [str(house.visit.pk), chance.randint(1, 6), chance.randrange(2**31)]
                )
            elif deed < 0.8:
                if chance.random() < 0.7:
                    line.breaks.append((chance.choice(["before", "after"]), chance.choice(PLACES)))
                one.page.evaluate(RUN)
                line.breaks.clear()
            elif deed < 0.86:
                one.page.reload()
                one.page.wait_for_selector("#main h1")
            elif deed < 0.92:
                line.down()
                one.page.evaluate(RUN)
                line.up()
            elif backup is None:
                backup = snapshot()
            else:
                restore(backup)
                backup, restored = None, restored + 1
        if number % 4 != 3:
            continue
        check(firm, house, tablets)
    check(firm, house, tablets)
    print(f"{STORMS} storms, {line.cut} cuts, {restored} restores, {len(stored(house))} entries")  # noqa: T201


def check(firm, house, tablets):
    """All come together: every entry is in the database once, and both screens agree."""
    for _ in range(2):
        for one in tablets:
            until(lambda one=one: one.page.evaluate(RUN))
        work_off(house)
    made = Counter(row["id"] for one in tablets for row in one.entries())
    assert set(made.values()) <= {1}
    assert sorted(made) == stored(house)
    assert all(one.unsent() == 0 for one in tablets)
    with scope(firm.pk):
        assert Received.objects.count() == Applied.objects.count() == len(made)
    states = [
        one.page.evaluate(
            """async (visit) => {
              const { Visit } = await import('/static/field/visit.js');
              const open = await Visit.load(visit);
              return open.devices.map((device) => [device.id, open.state(device.id).outcome]);
            }""",
            str(house.visit.pk),
        )
        for one in tablets
    ]
    from contractor.visits import queries

    with scope(firm.pk):
        server = [
            [str(place.device.pk), place.state.outcome]
            for place in queries.load_round(visit=house.visit).places
        ]
    assert states[0] == states[1]
    # The server asks sensitivity too; of what both ask, they agree.
    tasks = dict(server)
    for device, outcome in states[0]:
        assert tasks[device] == outcome


#: Press every button as a technician would, and say what the screen shows as saved.
PRESS = """
() => {
  const seen = new Set();
  const tell = () => document.querySelectorAll('.entry').forEach((row) => {
    const id = row.dataset.row;
    if (!id || seen.has(id) || !row.querySelector('.what .state')) return;
    seen.add(id);
    console.log('shown ' + id);
  });
  const main = document.getElementById('main');
  new MutationObserver(tell).observe(main, { childList: true, subtree: true });
  const press = () => {
    const button = document.querySelector("[data-do='pass']:not([disabled])");
    if (button) { button.scrollIntoView(); button.click(); }
    setTimeout(press, 3);
  };
  press();
}
"""


def test_killed_browsers_keep_all_that_the_screen_called_saved(firm, play, line, tmp_path):
    house = build(firm, devices=600, zones=1, begun=True)
    with scope(firm.pk):
        type(house.devices[0]).objects.update(kind="heat")
    one = Tablet(play, tmp_path / "killed", line)
    one.enrol(house)
    line.down()
    shown: set[str] = set()
    chance = random.Random(40 + CHANCE)
    for _ in range(KILLS):
        one.page.on(
            "console",
            lambda said: (
                shown.add(said.text.removeprefix("shown "))
                if said.text.startswith("shown ")
                else None
            ),
        )
        one.visit(house)
        one.page.evaluate(PRESS)
        one.page.wait_for_timeout(chance.randint(150, 1500))
        one.kill()
        time.sleep(0.3)
        one.start()
        one.open()
        rows = one.entries()
        passed = {row["entry"]["device"] for row in rows}
        assert shown <= passed, f"{len(shown - passed)} were shown as saved and are gone"
        assert [row["seq"] for row in rows] == list(range(1, len(rows) + 1))
        for before, after in itertools.pairwise(rows):
            assert after["entry"]["prev"] == before["entry"]["hash"]
    assert shown
    line.up()
    one.sync()
    if one.unsent():  # the browser may not have written its cookies before it was killed
        one.sign_in()
        one.sync()
    until(lambda: one.unsent() == 0, 120)
    assert stored(house) == sorted(row["id"] for row in one.entries())
    print(f"{KILLS} kills, {len(shown)} shown as saved, all there; {len(rows)} entries")  # noqa: T201
    one.close()
