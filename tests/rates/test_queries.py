"""This year against the year before, zone by zone; and what hangs on it."""

import math
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy import stats

from contractor.alarms import services as alarms
from contractor.due import services as due
from contractor.rates import firm as firms
from contractor.rates import queries, words
from tests import factories

pytestmark = pytest.mark.django_db


def happen(building, day, *, area=None, **more):
    at = datetime(day.year, day.month, day.day, 17, tzinfo=UTC)
    return factories.UnwantedAlarmFactory(
        building=building, area=area, happened_on=day, happened_at=at, recorded_at=at, **more
    )


def load(building, today, **more):
    return queries.load_building(building=building, today=today, **more)


class TestLoadBuilding:
    def test_a_building_with_nothing_is_defined(self, building, today):
        found = load(building, today)

        assert (found.zones, found.rate, found.count) == ((), None, 0)
        assert (found.trigger.due, found.chronic_since) == (False, None)
        assert words.say_answer(found) == "No unwanted alarm in twelve months."

    def test_a_zone_without_alarm_or_detector_is_defined(self, building, zone, today):
        (row,) = load(building, today).zones

        assert (row.years, row.rate, row.comparison) == ((0, 0), None, None)
        assert words.say_comparison(row) == "None in either year."

    def test_a_zone_with_an_alarm_and_no_detector_has_no_rate(self, building, zone, today):
        happen(building, today, area=zone)
        (row,) = load(building, today).zones

        assert (row.years, row.rate, row.comparison) == ((1, 0), None, None)
        assert row.years.rose
        assert "No detector" in words.say_comparison(row)

    def test_no_number_on_the_page_is_none_or_infinite(self, building, detector, zone, today):
        happen(building, today, area=zone)
        (row,) = load(building, today).zones

        said = [words.ratio(row.comparison), words.chance(row.comparison), words.say_rate(row.rate)]
        assert not any("nan" in one or "inf" in one for one in said)
        assert said[0] == f"at least {row.comparison.low:.2f}"

    def test_compares_as_scipy_does(self, building, zone, system, today):
        for _ in range(10):
            factories.DeviceFactory(system=system, area=zone)
        for back in (10, 20, 30, 40, 50, 400):
            happen(building, today - timedelta(days=back), area=zone)
        (row,) = load(building, today).zones

        # Years of 365 days and of 365 days, ten detectors all along: even odds.
        assert row.years == (5, 1)
        assert row.comparison.p == pytest.approx(2 * stats.binomtest(5, 6, 0.5, "greater").pvalue)
        interval = stats.binomtest(5, 6, 0.5).proportion_ci(0.95, method="exact")
        assert row.comparison.low == pytest.approx(interval.low / (1 - interval.low))
        assert row.comparison.high == pytest.approx(interval.high / (1 - interval.high))
        assert row.rate.rate == pytest.approx(50)
        assert "may well be chance. The rule counts it all the same." in words.say_comparison(row)

    def test_a_sure_rise_is_said_to_be_one(self, building, zone, detector, today):
        for back in range(12):
            happen(building, today - timedelta(days=back), area=zone)
        (row,) = load(building, today).zones

        assert row.comparison.p == pytest.approx(2 * 0.5**12)
        assert "hardly chance" in words.say_comparison(row)

    def test_counts_detectors_for_the_days_that_they_were_there(
        self, building, zone, system, today
    ):
        # Installed half-way through this year; the other left half-way through the year before.
        factories.DeviceFactory(system=system, area=zone, installed_on=today - timedelta(days=181))
        factories.DeviceFactory(
            system=system, area=zone, kind="heat", removed_on=today - timedelta(days=364)
        )
        factories.DeviceFactory(system=system, area=zone, kind="manual")
        (row,) = load(building, today).zones

        assert row.detectors == pytest.approx(182 / 365)

    def test_compares_by_the_buildings_own_rule_unless_asked(self, building, zone, today):
        happen(building, date(2025, 12, 20), area=zone)  # this year rolling, last year by calendar
        assert load(building, today).zones[0].years == (1, 0)
        assert load(building, today, year_rule="calendar").zones[0].years == (0, 0)
        building.year_rule = "calendar"

        assert load(building, today).year_rule == "calendar"
        assert not load(building, today).risen

    def test_counts_for_the_rule_what_detectors_caused_and_all_causes_beside(
        self, building, zone, today
    ):
        for cause, by_detector in (("nuisance", True), ("nuisance", False), ("unknown", None)):
            happen(building, today, area=zone, cause=cause, by_detector=by_detector)
        (row,) = load(building, today).zones

        assert (row.years.now, row.all_causes) == (1, 3)

    def test_alarms_without_a_zone_decide_nothing(self, building, today):
        happen(building, today)
        found = load(building, today)

        assert found.zones[0].name == "Zone not known"
        assert not found.risen
        assert "Without a zone they decide no date." in words.say_comparison(found.zones[0])

    def test_withdrawn_alarms_count_nowhere(self, building, zone, detector, office, today, now):
        happen(building, today - timedelta(days=3), area=zone, device=detector)
        before = load(building, today)
        alarm = happen(building, today, area=zone, device=detector)
        assert load(building, today) != before
        alarms.withdraw_alarm(alarm=alarm, reason="A drill.", member=office, now=now)

        assert load(building, today) == before

    def test_row_30_of_the_trade(self, building, system, today):
        """60 detectors, 3 in twelve months (BS 5839-1); and five nuisance alarms in 365 days."""
        for _ in range(60):
            factories.DeviceFactory(system=system)
        for back in (5, 90, 200):
            happen(building, today - timedelta(days=back), cause="unintentional")
        found = load(building, today)
        assert found.trigger.due
        assert found.rate.rate == pytest.approx(5.0)
        assert found.is_guidance
        assert found.chronic_since is None
        for back in (1, 2, 3, 4, 364):
            happen(building, today - timedelta(days=back))

        found = load(building, today)
        assert found.chronic_since == today - timedelta(days=1)
        assert found.in_365_days == 5

    def test_names_a_device_from_its_second_on(self, building, zone, system, today):
        one, two, three = (factories.DeviceFactory(system=system, area=zone) for _ in range(3))
        for device, many in ((one, 1), (two, 2), (three, 3)):
            for _ in range(many):
                happen(building, today, area=zone, device=device, cause="unknown")
        found = load(building, today)

        assert [(w.device, w.count) for w in found.worst] == [(three, 3), (two, 2)]
        assert found.trigger.due
        assert "3 from one device" in found.trigger.reason


class TestStakes:
    @pytest.fixture
    def extended(self, building, detector):
        building.nuisance_log_since = date(2019, 1, 1)
        building.save(update_fields=["nuisance_log_since"])
        for day in (date(2024, 3, 11), date(2026, 3, 11)):
            factories.ReadingFactory(device=detector, taken_on=day)
        return detector

    def stakes(self, building, today):
        due.refresh_building(building=building, today=today)
        (row,) = load(building, today).zones
        return row, words.say_stakes(row)

    def test_says_that_one_more_loses_the_interval_and_it_does(
        self, building, zone, extended, today
    ):
        row, (said,) = self.stakes(building, today)
        assert row.one_more_rises
        assert said == (
            "One more nuisance alarm by a detector would make 1 detector due at once, instead of"
            " by 11 Mar 2031."
        )
        happen(building, today, area=zone)

        row, (said,) = self.stakes(building, today)
        assert row.stake.lost_on == today
        assert said.startswith("1 detector has lost the longer interval")

    def test_says_how_many_more_are_no_increase(self, building, zone, extended, today):
        for _ in range(2):
            happen(building, date(2025, 6, 1), area=zone)
        _, said = self.stakes(building, today)

        assert said[0] == (
            "1 detector may wait until 11 Mar 2031; 2 more nuisance alarms would still be no"
            " increase today."
        )
        for place in range(2):
            assert "lost" not in self.stakes(building, today)[1][0]
            happen(building, today - timedelta(days=place), area=zone)
        assert "lost" not in self.stakes(building, today)[1][0]
        happen(building, today, area=zone)
        assert "lost" in self.stakes(building, today)[1][0]

    def test_foresees_a_rise_without_another_alarm_and_it_comes(
        self, building, zone, extended, today
    ):
        happen(building, date(2025, 2, 1), area=zone)
        happen(building, date(2026, 6, 1), area=zone)
        row, said = self.stakes(building, today)
        assert "passes the year before on 1 Feb 2027" in said[1]

        assert self.stakes(building, date(2027, 1, 31))[0].stake.lost == 0
        row, _ = self.stakes(building, date(2027, 2, 1))
        assert row.stake.lost_on == date(2027, 2, 1)


class TestListRows:
    def rows(self, firm, now, **more):
        return firms.list_rows(firm_id=firm.pk, now=now, **more)

    def test_a_firm_without_buildings_has_no_row(self, inside, firm, now):
        assert self.rows(firm, now) == []

    def test_agrees_with_the_page_of_each_building(self, firm, building, system, zone, today, now):
        factories.DeviceFactory(system=system, area=zone)
        factories.DeviceFactory(system=system, area=zone, installed_on=date(2026, 10, 1))
        factories.DeviceFactory(system=system, area=zone, removed_on=date(2026, 2, 1))
        factories.DeviceFactory(system=system, area=zone, removed_on=date(2024, 2, 1))
        for back in (1, 200, 390):
            happen(building, today - timedelta(days=back), area=zone)
        (row,) = self.rows(firm, now)
        found = load(building, today)

        assert row.detectors == pytest.approx(found.detectors)
        assert row.rate.rate == pytest.approx(found.rate.rate)
        assert (row.count, row.trigger, row.chronic_since) == (
            found.count,
            found.trigger,
            found.chronic_since,
        )
        assert row.rising == (("Zone 2", (2, 1)),)

    def test_puts_the_worst_rate_first_and_no_rate_last(self, firm, building, today, now):
        for name, detectors, many in (("Busy", 1, 2), ("Calm", 1, 0), ("Usual", 4, 2)):
            place = factories.BuildingFactory(firm=firm, name=name)
            there = factories.SystemFactory(building=place)
            for _ in range(detectors):
                factories.DeviceFactory(system=there)
            for _ in range(many):
                happen(place, today)
        names = [row.building.name for row in self.rows(firm, now)]

        assert names == ["Busy", "Usual", "Calm", "Quillmarsh House"]

    def test_a_rate_is_of_a_year_whatever_the_window(self, firm, building, detector, today, now):
        happen(building, today)
        rates = [self.rows(firm, now, months=months)[0].rate.rate for months in (3, 12, 24)]

        assert rates == pytest.approx([400, 100, 50])

    def test_a_record_is_broken_by_a_month_of_the_window(self, firm, building, now):
        assert not self.rows(firm, now)[0].asks("broken")
        factories.NoneStatementFactory(
            building=building, month=date(2026, 7, 1), through=date(2026, 7, 31)
        )
        (row,) = self.rows(firm, now)

        assert row.missing == (date(2026, 8, 1), date(2026, 9, 1))
        assert firms.narrow([row], state="broken") == [row]
        assert firms.narrow([row], state="chronic") == []

    def test_as_many_queries_for_one_building_as_for_ten(self, firm, now, today, building):
        counts = []
        for many in (1, 10):
            for _ in range(many):
                place = factories.BuildingFactory(firm=firm)
                device = factories.DeviceFactory(system=factories.SystemFactory(building=place))
                area = factories.AreaFactory(building=place)
                happen(place, today, area=area, device=device)
                factories.NoneStatementFactory(building=place)
            with CaptureQueriesContext(connection) as caught:
                self.rows(firm, now)
            counts.append(len(caught))

        assert counts[0] == counts[1]


def test_a_ratio_without_an_upper_end_is_said_so():
    found = queries.counting.compare_rates(count=3, exposure=1, count_before=0, exposure_before=1)

    assert words.ratio(found) == f"at least {found.low:.2f}"
    nothing = queries.counting.compare_rates(count=0, exposure=1, count_before=0, exposure_before=1)
    assert math.isnan(nothing.ratio)
    assert (words.ratio(nothing), words.chance(nothing)) == ("", "")
