"""Unwanted alarms by zone and month."""

from datetime import date

from contractor.web.charts import AlarmRow, UnwantedAlarms, draw_alarm_axis, draw_alarm_row
from tests.web.svg import Drawn

ALARMS = UnwantedAlarms(first=date(2025, 12, 1), last=date(2026, 11, 25))


def drawn(*alarms: tuple[date, str]) -> Drawn:
    """Draw one zone."""
    return Drawn(draw_alarm_row(ALARMS, AlarmRow(name="Zone 2", alarms=alarms, now=2, before=3)))


class TestDrawAlarmRow:
    def test_says_nuisance_now_after_before(self):
        assert drawn().title == "Zone 2: no unwanted alarms; nuisance 2 after 3."

    def test_draws_an_alarm_in_its_month(self):
        (mark,) = drawn((date(2026, 3, 31), "nuisance")).find("svg")[1:]

        assert mark.get("x") == "25%"  # the fourth month of twelve begins at a quarter

    def test_more_than_two_in_a_month_become_one_mark_with_a_number(self):
        three = tuple((date(2026, 3, day), "nuisance") for day in (1, 2, 3))

        assert drawn(*three[:2]).words() == []
        assert drawn(*three).words() == ["3"]

    def test_every_cause_has_a_shape_of_its_own(self):
        shapes = {
            cause: drawn((date(2026, 3, 1), cause)).text.split("</title>")[2]
            for cause in ("nuisance", "unintentional", "malicious", "unknown")
        }

        assert len(set(shapes.values())) == 4

    def test_an_increase_is_one_more_than_before(self):
        assert AlarmRow(name="Zone 1", now=2, before=1).more
        assert not AlarmRow(name="Zone 1", now=2, before=2).more


def test_the_axis_names_twelve_months():
    assert Drawn(draw_alarm_axis(ALARMS)).words()[0] == "Dec"
    assert len(Drawn(draw_alarm_axis(ALARMS)).words()) == 12
