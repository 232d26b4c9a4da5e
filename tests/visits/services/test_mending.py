"""Cleaning, replacing, adding, taking back, noting."""

import pytest

from contractor.findings.models import Finding
from contractor.readings.models import Reading, RunStart
from contractor.register.models import Device
from contractor.tenancy.keys import uuid7
from contractor.visits import queries, services
from contractor.visits.models import Entry

pytestmark = pytest.mark.django_db


def place(visit, device):
    return queries.load_round(visit=visit).find(device.pk)


def read(taken, drift, **more):
    return services.record_sensitivity(
        **taken, said={"drift": drift}, method="control_unit", **more
    )


class TestClean:
    def test_begins_a_run_and_mends_no_failure(self, taken, visit, detector):
        found = read(taken, "1.30")
        services.clean(**taken)
        read(taken, "0.02", stage="as_left")

        state = place(visit, detector).state.tasks["sensitivity"]
        assert found.result == "fail"
        assert (state.outcome, [one.result for one in state.as_left]) == ("fail", ["pass"])
        assert RunStart.objects.get(device=detector).cause == "cleaned"
        detector.refresh_from_db()
        assert (detector.latest_verdict, detector.latest_drift) == ("in_range", 0.02)

    def test_the_finding_is_corrected_by_the_reading_as_left_only(self, taken):
        read(taken, "1.30")
        services.clean(**taken)
        assert Finding.objects.get().is_open

        read(taken, "1.28", stage="as_left")
        assert Finding.objects.get().is_open

        read(taken, "0.02", stage="as_left")
        finding = Finding.objects.get()
        assert not finding.is_open
        assert finding.correction.startswith("Cleaned and read again as left")

    def test_needs_the_reading_as_found(self, taken):
        with pytest.raises(services.UnableToEnter, match="as found first"):
            services.clean(**taken)

    def test_twice_is_once(self, taken):
        read(taken, "0.9")
        for _ in range(2):
            services.clean(**taken)

        assert Entry.objects.filter(kind="cleaned").count() == 1


class TestReplace:
    def test_the_new_one_joins_the_visit_and_is_tested_on_it(self, taken, visit, detector, now):
        new = services.replace(**taken, serial="N-1", reason="Cracked")

        detector.refresh_from_db()
        assert detector.removed_on == now.date()
        assert (new.address, new.installed_on) == (detector.address, now.date())
        assert place(visit, new).state.missing == ("functional", "sensitivity")

    def test_the_old_one_is_not_tested_because_it_was_replaced(self, taken, visit, detector):
        services.replace(**taken, reason="Cracked")

        state = place(visit, detector).state
        assert (state.outcome, state.reason) == (
            "not_tested",
            "Replaced before it was tested: Cracked",
        )

    def test_corrects_what_was_wrong_with_the_old_one(self, taken, detector):
        read(taken, "1.30")
        services.replace(**taken, reason="Out of range")

        assert Finding.objects.get().correction == "The device was replaced."

    def test_twice_with_one_key_is_once(self, taken, detector):
        key = uuid7()
        new = {services.replace(**taken, reason="Cracked", entry_id=key).pk for _ in range(2)}

        assert len(new) == 1
        assert Device.objects.filter(replaces=detector).count() == 1

    def test_needs_a_reason(self, taken):
        with pytest.raises(services.UnableToEnter, match="why it was replaced"):
            services.replace(**taken)


class TestAddFound:
    def test_joins_the_list_and_the_visit(self, visit, system, zone, technician, now):
        device = services.add_found(
            visit=visit,
            system=system,
            area=zone,
            address="2-299",
            kind="manual",
            member=technician,
            now=now,
        )

        assert place(visit, device).state.missing == ("functional",)

    def test_refuses_an_address_that_is_taken(self, visit, system, detector, technician, now):
        with pytest.raises(services.UnableToEnter, match="on the list"):
            services.add_found(
                visit=visit,
                system=system,
                address=detector.address,
                kind="smoke",
                member=technician,
                now=now,
            )


class TestTakeBack:
    def test_makes_it_untouched_again_and_keeps_everything(self, taken, visit, detector):
        entry = services.record_result(**taken, task="functional", result="fail", reason="x")
        services.take_back(**taken, entries=[entry.pk])

        found = place(visit, detector)
        assert found.state.missing == ("functional", "sensitivity")
        assert [one.kind for one in found.entries] == ["result", "taken_back"]
        assert Finding.objects.get().correction == "The result that opened this was taken back."

    def test_a_reading_no_longer_counts(self, taken, detector):
        entry = read(taken, "0.4")
        services.take_back(**taken, entries=[entry.pk])

        assert not Reading.objects.filter(withdrawal=None).exists()
        detector.refresh_from_db()
        assert detector.latest_on is None

    def test_a_cleaning_ends_the_run_that_it_began(self, taken, detector):
        read(taken, "0.9")
        entry = services.clean(**taken)
        services.take_back(**taken, entries=[entry.pk])

        assert not RunStart.objects.exists()

    def test_as_found_stays_while_as_left_stands(self, taken):
        found = read(taken, "0.9")
        services.clean(**taken)
        read(taken, "0.1", stage="as_left")
        with pytest.raises(services.UnableToEnter, match="as left back first"):
            services.take_back(**taken, entries=[found.pk])

    def test_refuses_what_does_not_stand_any_more(self, taken):
        entry = services.record_result(**taken, task="functional", result="pass")
        services.record_result(**taken, task="functional", result="fail", reason="x")
        with pytest.raises(services.UnableToEnter, match="does not stand"):
            services.take_back(**taken, entries=[entry.pk])

    def test_a_replacement_stays(self, taken, visit, detector):
        services.replace(**taken, reason="Cracked")
        entry = Entry.objects.get(kind="replaced")
        with pytest.raises(services.UnableToEnter, match="stays"):
            services.take_back(**taken, entries=[entry.pk])


class TestNote:
    def test_stands_beside_the_results(self, taken, visit, detector):
        services.note(**taken, text="Ceiling tile missing")

        found = place(visit, detector)
        assert [one.text for one in found.standing] == ["Ceiling tile missing"]
        assert not found.state.is_touched
