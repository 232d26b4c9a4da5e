"""Accepting while others work on the same list, and what is written. All files are invented."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection

from contractor.readings import queries, services
from contractor.readings.models import IntakeRow, Reading
from contractor.register.models import Device
from tests import factories
from tests.readings.conftest import GOOD, HEAD, PRINTED

pytestmark = pytest.mark.django_db


@pytest.fixture
def accept(office, now):
    def accept(intake, **more):
        said = {"taken_on": PRINTED, "member": office, "now": now}
        return services.accept(intake=intake, **said | more)

    return accept


class TestKeys:
    def test_are_checked_by_index_though_the_session_met_small_tables(self, taken, accept):
        def scanned():
            with connection.cursor() as cursor:
                cursor.execute(
                    "select coalesce(sum(seq_scan), 0) from pg_stat_xact_user_tables"
                    " where relname in ('register_device', 'readings_reading')"
                )
                return cursor.fetchone()[0]

        index_scans = ("enable_indexscan", "enable_indexonlyscan", "enable_bitmapscan")
        with connection.cursor() as cursor:  # planned as where the tables are small
            cursor.execute("; ".join(f"set local {one} to off" for one in index_scans))
        few = "".join(f"8-{n:03d},Lobby,smoke,2.5,0.4\n" for n in range(20))
        accept(taken(HEAD + few))  # after five checks the plan is kept
        with connection.cursor() as cursor:
            cursor.execute("; ".join(f"set local {one} to on" for one in index_scans))
        many = taken(HEAD + "".join(f"9-{n:03d},Lobby,smoke,2.5,0.4\n" for n in range(400)))
        before = scanned()
        accept(many)

        assert Reading.objects.count() == 420
        assert scanned() - before < 50


class TestTheListHasChanged:
    def test_a_second_draft_of_the_same_new_devices_reads_those_of_the_first(self, taken, accept):
        first, second = taken(HEAD + GOOD), taken(HEAD + GOOD.replace("0.9", "0.8"))
        accept(first)
        accept(second)

        assert Device.objects.count() == 3
        assert Reading.objects.count() == 6
        assert not IntakeRow.objects.filter(intake=second, understood__has_key="made").exists()

    def test_a_row_that_is_a_problem_now_is_refused_and_shown(self, taken, accept, system, zone):
        intake = taken(HEAD + GOOD)
        factories.DeviceFactory(system=system, area=zone, address="1-002", kind="heat")
        with pytest.raises(services.UnableToAccept, match="Row 2, 1-002: The list has 1-002"):
            accept(intake)

        assert not Reading.objects.exists()
        assert queries.list_outcomes(intake=intake) == ["new", "problem", "new"]
        accept(intake)
        assert Reading.objects.count() == 2

    def test_a_label_changed_meanwhile_is_not_overwritten_unseen(self, taken, accept, system, zone):
        device = factories.DeviceFactory(system=system, area=zone, address="1-001", label="Lobby")
        intake = taken(HEAD + GOOD)
        Device.objects.filter(pk=device.pk).update(label="Lobby, north")
        with pytest.raises(services.UnableToAccept, match="Label was “Lobby, north”"):
            accept(intake)

        device.refresh_from_db()
        assert device.label == "Lobby, north"

    def test_a_device_taken_down_meanwhile_is_new_again(self, taken, accept, system, zone):
        device = factories.DeviceFactory(system=system, area=zone, address="1-001", label="Lobby")
        intake = taken(HEAD + GOOD)
        Device.objects.filter(pk=device.pk).update(removed_on=PRINTED)
        accept(intake)

        assert Device.objects.filter(address="1-001").count() == 2
        assert not Reading.objects.filter(device=device).exists()


class TestWritten:
    def test_a_row_left_out_or_of_a_heat_detector_writes_no_reading(
        self, taken, accept, corrected, system, zone
    ):
        factories.DeviceFactory(system=system, area=zone, address="1-001", kind="heat")
        intake = taken(HEAD + GOOD)
        corrected(intake, 2, leave_out="yes")
        accept(intake)

        assert list(Reading.objects.values_list("device__address", flat=True)) == ["1-003"]
        assert not Device.objects.filter(address="1-002").exists()

    def test_keeps_everything_beside_the_reading(self, taken, accept, office, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-003", label="Store")
        intake = accept(taken(HEAD + GOOD), is_test=True, method="control_unit")
        reading = Reading.objects.get(device__address="1-003")

        assert reading.typed == {"cells": ["1-003", "Store", "smoke", "2.5", "0.9"]}
        assert (reading.setting, reading.drift, reading.limit) == (2.5, 0.9, 1.25)
        assert reading.used == pytest.approx(0.72)
        assert (reading.marked_low, reading.marked_high) == (1.0, 3.5)
        assert (reading.verdict, reading.rule) == ("in_range", "share_of_setting")
        assert reading.reason.startswith("Drift 0.9 %/ft; at most 1.25 %/ft may be corrected")
        assert (reading.taken_on, reading.stage, reading.source) == (
            PRINTED,
            "as_found",
            "print-out, row 3",
        )
        assert (reading.intake, reading.recorded_by) == (intake, office)

    def test_printed_marks_are_those_judged_by(self, taken, accept, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-001", label="Lobby")
        head = "address,label,kind,measured %/ft,marked low %/ft,marked high %/ft\n"
        accept(taken(head + "1-001,Lobby,smoke,3.8,1.2,3.9\n1-002,Stair,smoke,2.0,1.2,3.9\n"))
        reading = Reading.objects.get(device__address="1-001")

        assert (reading.marked_low, reading.marked_high) == (1.2, 3.9)
        assert reading.verdict == "in_range"

    def test_gives_new_devices_their_place_kind_and_setting(self, taken, accept, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="9-001", position=7)
        accept(taken(HEAD + GOOD))
        made = Device.objects.filter(address__startswith="1-").order_by("position")

        assert [(d.address, d.label, d.kind, float(d.setting), d.position) for d in made] == [
            ("1-001", "Lobby", "smoke", 2.5, 8),
            ("1-002", "Stair", "smoke", 2.5, 9),
            ("1-003", "Store", "smoke", 2.5, 10),
        ]
        assert {str(device.product) for device in made} == {"Ostrel P2"}

    def test_a_corrected_day_counts_and_a_bad_rows_day_does_not(self, taken, accept, corrected):
        # 1-003 is dated after the acceptance, so it has to be corrected or left out.
        head = "address,label,kind,setting %/ft,drift %/ft,date\n"
        rows = [f"{line},2026-11-20\n" for line in GOOD.splitlines()]
        rows[2] = rows[2].replace("2026-11-20", "2026-12-20")
        intake = taken(head + "".join(rows))
        with pytest.raises(services.UnableToAccept, match="20 Dec 2026 is still to come"):
            accept(intake)

        corrected(intake, 3, taken_on="2026-11-19")
        accept(intake)
        assert str(Reading.objects.get(device__address="1-003").taken_on) == "2026-11-19"


class TestStanding:
    """What accepting writes beside a device is what its readings give when they are read anew."""

    LATEST = (
        "latest_on",
        "latest_verdict",
        "latest_reason",
        "latest_point",
        "latest_drift",
        "latest_limit",
        "latest_used",
        "run_started_on",
    )
    FULL = (
        "address,label,kind,setting %/ft,drift %/ft,alarm point %/ft,as left %/ft\n"
        "1-001,Lobby,smoke,2.5,0.1,,\n"
        "1-002,Stair,smoke,2.5,1.3,2.4,2.1\n"
        "1-003,Store,smoke,2.4,0.9,4.2,\n"
    )

    def standing(self):
        return sorted(Device.objects.values_list("address", *self.LATEST))

    def check(self):
        written = self.standing()
        services.refresh_standing(device_ids=list(Device.objects.values_list("pk", flat=True)))
        assert written == self.standing()
        return {address: rest for address, *rest in written}

    def test_of_new_devices(self, taken, accept):
        accept(taken(self.FULL))
        written = self.check()
        assert written["1-001"][0] == PRINTED
        assert written["1-001"][4] == 0.1
        assert len({rest[1] for rest in written.values()}) > 1

    @pytest.mark.parametrize("count", [3, 120])
    def test_of_known_devices_with_what_changes_of_them(self, taken, accept, count):
        def printed(setting, label):
            return HEAD + "".join(
                f"1-{n:03d},{label} {n},smoke,{setting},{n / 100}\n" for n in range(1, count + 1)
            )

        accept(taken(printed(2.5, "Room")))
        before = self.check()
        accept(taken(printed(2.25, "Hall")), taken_on=PRINTED + timedelta(days=1), is_sure=True)
        after = self.check()

        assert before["1-003"][3] == 2.5
        assert after["1-003"][0] == PRINTED + timedelta(days=1)
        assert after["1-003"][3] == 2.25
        assert set(Device.objects.values_list("setting", flat=True)) == {Decimal("2.25")}
        assert Device.objects.filter(label__startswith="Hall").count() == count

    def test_an_older_print_out_does_not_outrank_a_newer_one(self, taken, accept):
        accept(taken(HEAD + GOOD))
        accept(taken(HEAD + GOOD.replace("0.9", "0.3")), taken_on=PRINTED - timedelta(days=90))
        assert self.check()["1-003"][4] == 0.9
