"""A night over the fleet: what it writes, what it leaves alone, and what it keeps."""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.drift import packing, queries, services
from contractor.drift.models import (
    BuildingOutlook,
    DriftNotice,
    FleetConstants,
    Forecast,
    NoticeKind,
    Question,
    Snapshot,
)
from contractor.drift.services import forecasting
from tests import factories
from tests.conftest import NOON
from tests.drift.conftest import DAYS

pytestmark = pytest.mark.django_db


def night(firm, today, now=NOON):
    return services.sweep_whole(firm_id=firm.pk, today=today, now=now)


def rows(model):
    return list(model.objects.order_by("pk").values())


class TestSweep:
    def test_a_quiet_night_writes_nothing(self, firm, fleet_of, today):
        fleet_of(0.05, 0.1, 0.15, 0.2)
        assert night(firm, today).written == 4
        before = [rows(model) for model in (Forecast, BuildingOutlook, DriftNotice, FleetConstants)]
        # A few days on, in the same month: what is foreseen hangs on readings, not on today.
        again = night(firm, today + timedelta(days=3))

        assert (again.looked_at, again.written, again.gone) == (4, 0, 0)
        assert before == [
            rows(model) for model in (Forecast, BuildingOutlook, DriftNotice, FleetConstants)
        ]

    def test_sums_up_rates_by_area(self, firm, building, fleet_of, today):
        devices = fleet_of(0.05, 0.1, 0.15, 0.2, 0.07, 0.04)
        other = factories.AreaFactory(building=building, name="Zone 9")
        for device, area in zip(devices[1:], (other, other, other, None, None), strict=True):
            type(device).objects.filter(pk=device.pk).update(area=area)
        night(firm, today)
        rates: dict[str | None, list[float]] = {}
        for one in Forecast.objects.select_related("device"):
            key = str(one.device.area_id) if one.device.area_id else None
            rates.setdefault(key, []).append(one.rate)

        areas = BuildingOutlook.objects.get(building=building).areas
        assert {area: (many, pytest.approx(mean, abs=1e-4)) for area, many, mean, *_ in areas} == {
            area: (len(mine), sum(mine) / len(mine)) for area, mine in rates.items()
        }
        (fastest,) = queries.list_fastest(firm_id=firm.pk, threshold=0.2)
        assert (fastest.area, fastest.detectors) == (other, 3)
        rest = [rate for key, mine in rates.items() if key != str(other.pk) for rate in mine]
        mine = rates[str(other.pk)]
        assert fastest.times == pytest.approx(
            sum(mine) / len(mine) / (sum(rest) / len(rest)), rel=1e-3
        )
        assert fastest.likely == sum(
            one.chance >= 0.2 for one in Forecast.objects.filter(device__area=other)
        )

    def test_says_of_each_area_how_fast_it_soils_lately_and_before(
        self, firm, building, fleet_of, read, today
    ):
        """Three detectors soil faster since the last reading, one was read once, one twice."""
        paces = {0.05: 0.11, 0.1: 0.3, 0.15: 0.2}  # [%/ft per year]: before, and lately
        days = [date(2022, 3, 1), date(2024, 3, 1), date(2024, 4, 1), date(2026, 3, 1)]
        area = factories.AreaFactory(building=building, name="Zone 9")
        system = factories.SystemFactory(building=building)

        def hang(drifts):
            device = read(factories.DeviceFactory(system=system), drifts)
            type(device).objects.filter(pk=device.pk).update(area=area)

        span, gap = (days[1] - days[0]).days / 365.25, (days[3] - days[2]).days / 365.25
        for before, lately in paces.items():
            there = 0.05 + before * span
            # The third follows a month after the second: what lies between says nothing.
            hang(dict(zip(days, [0.05, there, there, there + lately * gap], strict=True)))
        hang({days[3]: 0.4})
        hang({days[2]: 0.1, days[3]: 0.4})
        night(firm, today)

        (row,) = BuildingOutlook.objects.get(building=building).areas
        assert row[:2] == [str(area.pk), 5]
        assert row[3] == pytest.approx(sum(paces.values()) / 3, rel=0.01)
        whole = [before * span / ((days[2] - days[0]).days / 365.25) for before in paces]
        assert row[4] == pytest.approx(sum(whole) / 3, rel=0.01)
        (fastest,) = queries.list_fastest(firm_id=firm.pk, threshold=0.2)
        assert (fastest.lately, fastest.earlier) == (row[3], row[4])
        assert fastest.change == pytest.approx(row[3] / row[4])

    def test_what_too_few_show_is_left_open(self, firm, building, fleet_of, today):
        fleet_of(0.05, 0.1)
        night(firm, today)

        (row,) = BuildingOutlook.objects.get(building=building).areas
        assert row[3:] == [None, None]

    def test_lines_are_those_of_the_detectors_worst_off(self, firm, building, fleet_of, today):
        devices = fleet_of(0.05, 0.2, 0.1, 0.15)
        night(firm, today)
        lines = queries.list_lines(firm_id=firm.pk, building_ids=[building.pk], most=2)

        last = sorted(line[-1][1] for line in lines[building.pk])
        worst = Forecast.objects.order_by("-chance", "pk")[:2].values_list("device_id", flat=True)
        found = {one.pk: one for one in type(devices[0]).objects.all()}
        assert len(lines[building.pk]) == 2
        assert last == pytest.approx(
            sorted(found[key].latest_drift / found[key].latest_limit for key in worst)
        )
        assert all(len(line) == len(DAYS) for line in lines[building.pk])

    def test_a_new_reading_changes_its_building_only(self, firm, fleet_of, read, today):
        near = fleet_of(0.05, 0.1, 0.15)
        elsewhere = factories.SystemFactory(building=factories.BuildingFactory(firm=firm))
        far = [
            read(
                factories.DeviceFactory(system=elsewhere),
                {day: 0.03 + 0.04 * at for at, day in enumerate(DAYS)},
            )
            for _ in range(60)
        ]
        night(firm, today)
        before = {one.device_id: one for one in Forecast.objects.all()}
        read(near[0], {date(2026, 11, 20): 0.9})
        services.refit_building(building=near[0].building, today=today)
        after = {one.device_id: one for one in Forecast.objects.all()}

        assert after[near[0].pk].p50_on < before[near[0].pk].p50_on
        assert all(after[one.pk].chance == before[one.pk].chance for one in far)

    def test_parts_give_the_same_rows_as_the_whole(self, firm, fleet_of, read, today, monkeypatch):
        fleet_of(0.05, 0.1, 0.15)
        for name in "ABC":
            system = factories.SystemFactory(
                building=factories.BuildingFactory(firm=firm, name=name)
            )
            for rate in (0.03, 0.08):
                read(
                    factories.DeviceFactory(system=system),
                    {day: round(0.02 + rate * at, 2) for at, day in enumerate(DAYS)},
                )
        night(firm, today)
        whole = rows(Forecast)
        monkeypatch.setattr(forecasting, "PART", 2)
        assert len(forecasting.parts_of(queries.list_sizes(firm_id=firm.pk))) == 4
        again = night(firm, today)

        assert again.written == 0
        assert rows(Forecast) == whole

    def test_new_constants_wait_for_enough_that_is_new(self, firm, fleet_of, read, today):
        (one, *_) = fleet_of(*[0.05 + 0.002 * at for at in range(40)])
        night(firm, today)
        fitted = FleetConstants.objects.get().values
        read(one, {date(2026, 11, 20): 0.4})
        services.refit_building(building=one.building, today=today)
        night(firm, today)
        assert FleetConstants.objects.get().values == fitted  # one reading of 281

        for device in fleet_of(0.2, 0.25):
            read(device, {date(2026, 11, 20): 1.0})
        services.refit_building(building=one.building, today=today)
        night(firm, today)
        assert FleetConstants.objects.get().values != fitted

    def test_constants_come_back_as_they_were(self, firm, fleet_of, today):
        fleet_of(0.05, 0.1, 0.3)
        constants = services.renew_constants(firm_id=firm.pk, today=today)

        assert queries.find_constants(firm_id=firm.pk) == constants
        values = FleetConstants.objects.get().values
        assert queries.read_constants(values | {"something_newer": 1.0}) == constants

    def test_one_over_its_limit_is_sure_and_reached_it_when_it_was_read(
        self, firm, fleet_of, today
    ):
        (over,) = fleet_of(0.25)
        night(firm, today)
        said = Forecast.objects.get(device=over)

        assert said.chance == 1.0
        assert said.p10_on == said.p50_on == said.p90_on == DAYS[-1]

    def test_what_is_neither_sure_nor_impossible_is_never_stored_so(self, firm, fleet_of, today):
        fleet_of(0.0, 0.19)
        night(firm, today)

        assert all(0 < chance < 1 for chance in Forecast.objects.values_list("chance", flat=True))

    def test_a_firm_without_drift_forgets_what_it_had(self, firm, fleet_of, today):
        (one,) = fleet_of(0.1)
        night(firm, today)
        one.removed_on = today
        one.save()
        night(firm, today)

        assert not Forecast.objects.exists()
        assert not BuildingOutlook.objects.exists()


class TestNextVisit:
    def day(self, building, today):
        found = queries.list_next_visits(
            firm_id=building.firm_id, building_ids=[building.pk], today=today
        )[building.pk]
        return found.on, str(found.basis)

    def test_a_planned_visit_comes_first(self, building, today):
        assert self.day(building, today) == (date(2027, 12, 1), "year")
        factories.VisitFactory(building=building, planned_on=date(2027, 2, 1))
        factories.VisitFactory(building=building, planned_on=date(2026, 12, 1))
        factories.VisitFactory(building=building, planned_on=date(2026, 10, 1))
        factories.VisitFactory(building=building, planned_on=today, state="cancelled")

        assert self.day(building, today) == (date(2026, 12, 1), "visit")

    def test_else_the_day_a_test_falls_due_within_the_year(self, building, detector, today):
        from contractor.due.models import Due

        said = {"firm_id": building.firm_id, "building": building, "task": "sensitivity"}
        more = {"basis": "first_year", "edition": "nfpa72-2013", "computed_on": today}
        Due.objects.create(device=detector, latest_on=date(2031, 1, 1), **said, **more)
        assert self.day(building, today)[1] == "year"
        other = factories.DeviceFactory(system=detector.system)
        Due.objects.create(device=other, latest_on=date(2027, 5, 4), **said, **more)

        assert self.day(building, today) == (date(2027, 5, 4), "due")


class TestNotices:
    def test_what_stood_so_at_first_is_no_news(self, firm, fleet_of, today):
        fleet_of(0.19, 0.02)
        night(firm, today)

        assert DriftNotice.objects.filter(kind=NoticeKind.NEARING).count() == 1
        assert not queries.list_notices(firm_id=firm.pk, since=today).exists()

    def test_one_that_enters_nearing_is_news_once(self, firm, fleet_of, read, today):
        one, _ = fleet_of(0.13, 0.02)
        night(firm, today)
        read(one, {date(2026, 11, 20): 1.0})
        for _ in range(2):
            services.refit_building(building=one.building, today=today)

        found = queries.list_notices(firm_id=firm.pk, since=today, kind=NoticeKind.NEARING)
        assert [notice.device_id for notice in found] == [one.pk]
        assert not queries.list_notices(firm_id=firm.pk, since=today + timedelta(days=1)).exists()

    def test_a_cleaning_ends_it(self, firm, fleet_of, read, cleaned, today):
        one, _ = fleet_of(0.16, 0.02)
        night(firm, today)
        assert DriftNotice.objects.filter(ended_on=None).exists()
        cleaned(one, today - timedelta(days=2))
        read(one, {today - timedelta(days=1): 0.05})
        services.refit_building(building=one.building, today=today)

        assert not DriftNotice.objects.filter(ended_on=None).exists()

    def test_the_threshold_is_the_firms(self, firm, office, fleet_of, today):
        fleet_of(0.15, 0.02)
        night(firm, today)
        chance = Forecast.objects.order_by("-chance").first().chance
        for threshold, held in ((chance + 0.01, 0), (chance - 0.01, 1)):
            services.change_policy(
                firm_id=firm.pk,
                chance_threshold=threshold,
                accepted_share=0.01,
                minutes_a_cleaning=10,
                member=office,
                now=NOON,
            )
            DriftNotice.objects.all().delete()
            night(firm, today)
            kept = DriftNotice.objects.filter(kind=NoticeKind.CHANCE, ended_on=None)
            assert kept.count() == held


class TestQuestions:
    def test_a_sudden_fall_is_asked_once_and_answered_for_good(
        self, firm, office, fleet_of, read, detector, today
    ):
        fleet_of(*[0.08 + 0.001 * at for at in range(20)])
        read(detector, dict(zip(DAYS, (0.05, 0.15, 0.26, 0.36, 0.04, 0.13, 0.23), strict=True)))
        night(firm, today)
        (question,) = queries.list_questions(firm_id=firm.pk, device=detector)
        assert (question.kind, question.after_on, question.by_on) == ("cleaning", DAYS[3], DAYS[4])

        services.answer(
            question=question, said="no", happened_on=None, note="", member=office, now=NOON
        )
        services.refit_building(building=detector.building, today=today)
        assert not queries.list_questions(firm_id=firm.pk, device=detector).exists()
        assert Question.objects.filter(answer="no").count() == 1

    def test_yes_begins_a_run_and_the_forecast_goes_by_it(
        self, firm, office, fleet_of, read, detector, today
    ):
        fleet_of(*[0.08 + 0.001 * at for at in range(20)])
        read(detector, dict(zip(DAYS, (0.05, 0.15, 0.26, 0.36, 0.04, 0.13, 0.23), strict=True)))
        night(firm, today)
        assert Forecast.objects.get(device=detector).readings == 7
        (question,) = queries.list_questions(firm_id=firm.pk, device=detector)
        services.answer(
            question=question,
            said="yes",
            happened_on=question.likely_on,
            note="",
            member=office,
            now=NOON,
        )
        services.refit_building(building=detector.building, today=today)

        detector.refresh_from_db()
        assert detector.run_started_on == question.likely_on
        assert Forecast.objects.get(device=detector).readings == 3
        assert [one.answer for one in queries.list_answered(device=detector)] == ["yes"]

    @pytest.mark.parametrize(
        ("said", "day", "sentence"),
        [
            ("yes", date(2020, 1, 1), "between"),
            ("yes", None, "between"),
            ("perhaps", None, "yes or no"),
        ],
    )
    def test_refuses_what_does_not_fit(
        self, firm, office, fleet_of, read, detector, today, said, day, sentence
    ):
        fleet_of(*[0.08 + 0.001 * at for at in range(20)])
        read(detector, dict(zip(DAYS, (0.05, 0.15, 0.26, 0.36, 0.04, 0.13, 0.23), strict=True)))
        night(firm, today)
        (question,) = queries.list_questions(firm_id=firm.pk, device=detector)

        with pytest.raises(services.UnableToAnswer, match=sentence):
            services.answer(
                question=question, said=said, happened_on=day, note="", member=office, now=NOON
            )
        assert queries.list_questions(firm_id=firm.pk).exists()


class TestSnapshots:
    def test_one_a_month_and_never_changed(self, firm, fleet_of, today):
        fleet_of(0.05, 0.1, 0.25)  # the last one is over its limit: no forecast to judge
        for day in (today, today + timedelta(days=2), date(2026, 12, 24)):
            night(firm, day)

        kept = list(Snapshot.objects.order_by("said_on"))
        assert [one.said_on for one in kept] == [today, date(2026, 12, 24)]
        assert [one.detectors for one in kept] == [2, 2]

    def test_holds_what_was_said(self, firm, fleet_of, today):
        fleet_of(0.05, 0.17)
        night(firm, today)
        keys, chances = packing.unpack_chances(bytes(Snapshot.objects.get().body))
        fleet = queries.load_fleet(firm_id=firm.pk)
        said = queries.foresee(
            fleet=fleet, constants=queries.find_constants(firm_id=firm.pk), today=today
        )

        assert packing.keys_of(keys) == fleet.device_ids
        for months, days in ((6, packing.DAYS_AHEAD[1]), (24, packing.DAYS_AHEAD[-1])):
            at = packing.MONTHS_AHEAD.index(months)
            whole = said.chance_by(packing.day_number(today) + days)
            np.testing.assert_allclose(chances[:, at], whole, atol=1e-5)
        np.testing.assert_allclose(
            packing.chance_after(chances=chances, days=np.array([0.0, packing.DAYS_AHEAD[2]])),
            [0.0, chances[1, 2]],
        )


def test_a_page_of_forecasts_asks_as_often_whatever_its_length(firm, fleet_of, today):
    def asked():
        with CaptureQueriesContext(
            connection,
        ) as seen:
            for one in queries.list_forecasts(firm_id=firm.pk):
                str(one.device.building), str(one.device.area), str(one.device.product)
        return len(seen)

    fleet_of(0.05, 0.1)
    night(firm, today)
    few = asked()
    fleet_of(*[0.03] * 20)
    night(firm, today)

    assert asked() == few == 1
