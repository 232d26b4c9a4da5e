"""The invented scenario: big enough, in order, and the same whenever it is filled."""

import pytest

from contractor.demo import scenario, services
from contractor.due import queries as due
from contractor.notices import bouncing
from contractor.notices import queries as notices
from contractor.readings import queries as readings
from contractor.readings.models import Reading
from contractor.register.models import Building, Device
from contractor.tenancy import nights
from contractor.tenancy.models import Firm
from contractor.tenancy.scope import scope
from contractor.visits.models import Visit
from contractor.visits.services import witnessing

pytestmark = pytest.mark.django_db


@pytest.fixture
def filled(now):
    services.fill(now=now, say=lambda line: None)
    return Firm.objects.get(slug="tarnbeck"), Firm.objects.get(slug="wexholt")


def test_the_scenario_is_what_was_asked(filled, today):
    devices, buildings, editions = 0, 0, set()
    for firm in filled:
        with scope(firm.pk):
            devices += Device.objects.filter(removed_on=None).count()
            buildings += Building.objects.count()
            editions |= set(Building.objects.values_list("edition", flat=True))
            days = Reading.objects.order_by("taken_on").values_list("taken_on", flat=True)
            assert (today - days[0]).days > 5 * 365 - 200
    assert devices == scenario.count_devices() >= 1500
    assert buildings >= 6
    assert len(editions) >= 6

    with scope(filled[0].pk):
        windows = due.list_windows(firm_id=filled[0].pk)
        assert any(window.basis == "extended" for window in windows)
        lost = [window for window in windows if window.basis == "nuisance_increase"]
        assert {window.building for window in lost} == {"Port Ellory Clinic"}
        assert (today - lost[0].latest_on).days < 14
        assert {window.building for window in windows if window.is_overdue(today)} >= {
            "Dunmere Cold Store"
        }
        assert Device.objects.exclude(removed_on=None).exists(), "nothing was ever replaced"


def test_fills_while_its_buildings_still_have_yesterday_and_filling_again_changes_nothing(now):
    now = now.replace(hour=3)
    services.fill(now=now, say=lambda line: None)
    firm = Firm.objects.get(slug="tarnbeck")
    with scope(firm.pk):
        before = Reading.objects.count()
    services.fill(now=now, say=lambda line: None)
    with scope(firm.pk):
        assert Reading.objects.count() == before


def test_work_waits_and_nights_and_mails_show_what_went_wrong(filled, now, today):
    firm_id = filled[0].pk
    with scope(firm_id):
        waiting = readings.list_waiting(firm_id=firm_id)
        assert {intake.kind for intake in waiting} == {"sensitivity", "event_log"}
        missed = readings.list_missed(firm_id=firm_id, today=today)
        assert [one.building for one in missed] == ["Teasel Street School"]
        under_way = Visit.objects.get(building__name="Harrowfen Depot", state="under_way")
        assert witnessing.propose(visit=under_way, now=now).found

        shown = nights.list_nights(firm_id=firm_id, now=now)
        states = [run.state if run else None for night in shown for _, run in night.rows]
        assert states.count("failed") == 1
        assert states.count("done") == len(states) - 1 == 19
        assert nights.find_missed(firm_id=firm_id, now=now) is None, "the office would be mailed"
        assert bouncing.list_bounces(firm_id=firm_id).count() == 1
        assert notices.count_notices(firm_id=firm_id)[0] == {"sent": 3, "failed": 2, "unknown": 1}
