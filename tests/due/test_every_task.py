"""Due dates of every task: windows, samples, lives, batteries, unsafe places, changes."""

from datetime import date

import pytest

from contractor.due import queries, services
from contractor.due.explained import explain
from contractor.due.models import Due
from tests import factories
from tests.conftest import NOON, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def watched(building):
    """A building whose signals are watched off the premises, under the 2010 edition."""
    building.edition, building.monitoring = "nfpa72-2010", "Ellory Central (invented)"
    building.save()
    return building


def done(building, task, on, *devices, component=""):
    services.record_by_hand(
        building=building,
        task=task,
        done_on=on,
        evidence="report of another firm (invented)",
        member=None,
        now=NOON,
        device_ids=[device.pk for device in devices],
        component=component,
    )


def refreshed(building, today=TODAY) -> dict[tuple[str, str], Due]:
    services.refresh_building(building=building, today=today)
    return {(d.component, d.task): d for d in Due.objects.filter(building=building)}


class TestWindows:
    def test_an_annual_test_falls_due_nine_to_fifteen_months_after_the_last(
        self, watched, detector
    ):
        # NFPA 72-2010, 3.3.106, annual: restated by Keyes Life Safety; check value 20.
        done(watched, "functional", date(2024, 1, 15), detector)

        due = refreshed(watched)["smoke", "functional"]
        assert (due.earliest_on, due.target_on, due.latest_on) == (
            date(2024, 10, 15),
            date(2025, 1, 15),
            date(2025, 4, 15),
        )
        assert (due.basis, due.last_done_on) == ("window", date(2024, 1, 15))

    @pytest.mark.parametrize(
        ("kind", "component", "task", "earliest", "latest"),
        [
            # NFPA 72-2010, 3.3.106: check value 21. Frequencies: Table 14.4.5 (2010), restated.
            ("waterflow", "waterflow", "functional", date(2024, 5, 15), date(2024, 9, 15)),
            ("tamper", "tamper", "functional", date(2024, 5, 15), date(2024, 9, 15)),
            ("other", "air_pressure", "functional", date(2024, 3, 15), date(2024, 5, 15)),
        ],
    )
    def test_supervisory_devices_have_their_own(
        self, watched, system, kind, component, task, earliest, latest
    ):
        device = factories.DeviceFactory(system=system, kind=kind, component=component)
        done(watched, task, date(2024, 1, 15), device)

        due = refreshed(watched)[component, task]
        assert (due.earliest_on, due.latest_on) == (earliest, latest)

    def test_nothing_on_record_counts_from_the_installation_and_says_so(self, watched, detector):
        due = refreshed(watched)["smoke", "functional"]

        assert (due.basis, due.last_done_on) == ("no_record", None)
        assert (due.anchor_on, due.latest_on) == (date(2019, 3, 12), date(2020, 6, 12))
        assert "Nothing is on record since 12 Mar 2019" in explain(due).sentence

    def test_nothing_known_at_all_is_due_since_it_was_first_asked(self, watched, system):
        factories.DeviceFactory(system=system, kind="manual", installed_on=None)

        first = refreshed(watched, TODAY)["manual", "functional"]
        later = refreshed(watched, date(2027, 1, 9))["manual", "functional"]
        assert first.latest_on == later.latest_on == TODAY
        assert first.pk == later.pk

    def test_the_latest_day_counts_whoever_tells_it_first(self, watched, detector):
        for day in (date(2025, 6, 1), date(2024, 1, 15), date(2025, 2, 2)):
            done(watched, "functional", day, detector)

        assert refreshed(watched)["smoke", "functional"].last_done_on == date(2025, 6, 1)

    def test_the_building_as_a_whole_has_its_tasks(self, watched, detector):
        done(watched, "inspection", date(2026, 3, 1), component="all_equipment")

        found = refreshed(watched)
        assert found["all_equipment", "inspection"].device_id is None
        assert found["all_equipment", "inspection"].latest_on == date(2027, 6, 1)
        assert ("control_unit_monitored", "functional") in found

    def test_a_control_unit_that_nobody_watches_is_looked_at_every_week(self, watched, system):
        watched.monitoring = ""
        watched.save()
        factories.DeviceFactory(system=system, kind="control_unit", installed_on=date(2026, 11, 18))

        due = refreshed(watched)["control_unit_unmonitored", "inspection"]
        # Once in each calendar week (2010, 3.3.106): the week after that of Wed 18 November.
        assert (due.earliest_on, due.latest_on) == (date(2026, 11, 23), date(2026, 11, 29))
        assert due.frequency in queries.OWNERS

    def test_what_the_owners_people_do_stands_apart(self, watched, system, firm):
        watched.monitoring = ""
        watched.save()
        refreshed(watched)

        of_ours = sum(w.devices for w in queries.list_windows(firm_id=firm.pk))
        of_all = sum(w.devices for w in queries.list_windows(firm_id=firm.pk, with_owners=True))
        weekly = Due.objects.filter(frequency__in=queries.OWNERS).count()
        assert weekly >= 1
        assert of_all == of_ours + weekly

    def test_another_countrys_code_has_its_own_windows(self, building, detector):
        # BS 5839-1:2025, service visits five to seven months apart: IET Wiring Matters, Nov 2025.
        building.edition = "bs5839-1"
        building.save()
        done(building, "inspection", date(2026, 1, 10), component="service_visit")

        found = refreshed(building)
        visit = found["service_visit", "inspection"]
        assert (visit.earliest_on, visit.latest_on) == (date(2026, 6, 10), date(2026, 8, 10))
        assert not any(task == "sensitivity" for _, task in found)


class TestUnsafePlaces:
    def test_may_wait_eighteen_months_where_the_authority_agreed(self, watched, detector):
        # 18 months: New York City fire code 907.20.2, restated.
        done(watched, "functional", date(2024, 8, 31), detector)
        before = refreshed(watched)["smoke", "functional"].latest_on
        detector.unsafe_agreement = "Fire marshal (invented), letter of 2 Mar 2025"
        detector.save()

        due = refreshed(watched)["smoke", "functional"]
        assert (before, due.latest_on) == (date(2025, 11, 30), date(2026, 2, 28))
        assert due.basis == "unsafe_place"
        assert "not beyond 28 Feb 2026" in explain(due).sentence

    def test_never_stretches_the_sensitivity_interval(self, watched, detector):
        factories.ReadingFactory(device=detector, taken_on=date(2024, 3, 1))
        detector.unsafe_agreement = "Fire marshal (invented), letter of 2 Mar 2025"
        detector.save()

        assert refreshed(watched)["smoke", "sensitivity"].latest_on == date(2026, 3, 1)


class TestHeat:
    def test_a_circuit_of_fourteen_has_three_each_year_and_all_within_five(self, watched, system):
        # Two a year, all in five years: check value 26.
        for number in range(14):
            factories.DeviceFactory(
                system=system, kind="heat", address=f"1-{number + 1:03d}", position=number
            )

        services.refresh_building(building=watched, today=TODAY)
        dues = Due.objects.filter(component="heat_restorable", task="functional")
        years = sorted(due.latest_on.year for due in dues)
        assert years.count(2026) == 3
        assert years[-1] <= 2030
        assert len(years) == 14

    def test_two_circuits_are_two_samples(self, watched, system):
        for loop in (1, 2):
            for number in range(6):
                factories.DeviceFactory(system=system, kind="heat", address=f"{loop}-{number:03d}")

        services.refresh_building(building=watched, today=TODAY)
        this_year = Due.objects.filter(
            component="heat_restorable", task="functional", latest_on=date(2026, 12, 31)
        ).select_related("device")
        assert sorted(due.device.circuit_name for due in this_year) == ["1", "1", "2", "2"]

    def test_a_head_that_five_years_left_out_is_overdue(self, watched, system):
        heads = [
            factories.DeviceFactory(system=system, kind="heat", address=f"1-{n}") for n in (1, 2)
        ]
        done(watched, "functional", date(2020, 5, 1), *heads)

        due = refreshed(watched)["heat_restorable", "functional"]
        assert due.latest_on == date(2025, 12, 31)

    def test_nonrestorable_heads_live_fifteen_years(self, watched, system):
        # Check value 27; restated by a laboratory.
        factories.DeviceFactory(
            system=system,
            kind="heat",
            component="heat_nonrestorable",
            installed_on=date(2010, 5, 1),
        )

        due = refreshed(watched)["heat_nonrestorable", "replacement"]
        assert (due.latest_on, due.basis) == (date(2025, 5, 1), "life")

    def test_a_good_laboratory_test_gives_five_more(self, watched, system):
        factories.DeviceFactory(
            system=system,
            kind="heat",
            component="heat_nonrestorable",
            installed_on=date(2010, 5, 1),
        )
        done(watched, "laboratory", date(2025, 3, 3), component="heat_nonrestorable")

        assert refreshed(watched)["heat_nonrestorable", "replacement"].latest_on == date(2030, 3, 3)


class TestLives:
    def test_a_smoke_alarm_lives_ten_years_from_manufacture(self, watched, system):
        # 10 years from manufacture: trade press, restated.
        factories.DeviceFactory(
            system=system,
            kind="other",
            component="smoke_alarm",
            installed_on=date(2017, 1, 20),
            manufactured_on=date(2016, 2, 29),
        )

        assert refreshed(watched)["smoke_alarm", "replacement"].latest_on == date(2026, 2, 28)

    def test_a_system_smoke_detector_has_no_such_life(self, watched, detector):
        assert ("smoke", "replacement") not in refreshed(watched)

    def test_a_battery_of_the_2010_edition_lives_five_years_from_manufacture(self, watched, system):
        factories.DeviceFactory(
            system=system,
            kind="battery",
            installed_on=date(2021, 6, 1),
            manufactured_on=date(2021, 3, 1),
        )

        found = refreshed(watched)
        assert found["battery_vrla", "replacement"].latest_on == date(2026, 3, 1)
        assert {"charger", "discharge", "load"} <= {task for c, task in found if "batt" in c}


class TestSoftware:
    def test_what_it_touched_and_a_tenth_of_the_rest_fall_due_at_once(
        self, watched, system, office
    ):
        # 10 percent, at most 50: 14.4.2.4 (2013), restated in a forum; check value 28.
        devices = [
            factories.DeviceFactory(system=system, address=f"{1 + n % 3}-{n:03d}")
            for n in range(32)
        ]
        services.record_software_change(
            system=system,
            kind="site",
            changed_on=date(2026, 11, 20),
            what="Labels of level 3, by T. Varsk (invented)",
            affected=[devices[0].pk, devices[1].pk],
            member=office,
            now=NOON,
        )
        services.refresh_building(building=watched, today=TODAY)

        dues = Due.objects.filter(task="reacceptance").select_related("device")
        assert len(dues) == 2 + 3
        assert {due.latest_on for due in dues} == {date(2026, 11, 20)}
        sampled = [d.device for d in dues if d.device_id not in (devices[0].pk, devices[1].pk)]
        assert {device.circuit_name for device in sampled} == {"1", "2", "3"}

    def test_a_test_after_it_ends_it_and_one_before_does_not(self, watched, system, office):
        device = factories.DeviceFactory(system=system)
        change = {
            "system": system,
            "kind": "executive",
            "what": "Version 4.2 (invented)",
            "affected": [device.pk],
            "member": office,
            "now": NOON,
        }
        services.record_software_change(changed_on=date(2026, 11, 20), **change)
        done(watched, "functional", date(2026, 11, 19), device)
        assert ("smoke", "reacceptance") in refreshed(watched)
        done(watched, "functional", date(2026, 11, 21), device)
        assert ("smoke", "reacceptance") not in refreshed(watched)

    def test_refuses_what_is_still_to_come(self, watched, system, office):
        with pytest.raises(services.UnableToChange, match="still to come"):
            services.record_software_change(
                system=system,
                kind="site",
                changed_on=date(2026, 12, 24),
                what="x",
                affected=[],
                member=office,
                now=NOON,
            )
