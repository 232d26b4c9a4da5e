"""What a record says in words."""

from datetime import date

import pytest

from contractor.reports import contents, detectors
from tests.reports import sample


class TestAnswer:
    @pytest.mark.parametrize(
        ("passed", "failed", "absent", "said"),
        [
            (3, 0, 0, "All 3 devices passed."),
            (2, 1, 0, "Of 3 devices, 2 passed and 1 failed."),
            (2, 0, 1, "Of 3 devices, 2 passed and 1 was not tested."),
            (0, 1, 2, "Of 3 devices, 0 passed, 1 failed and 2 were not tested."),
        ],
    )
    def test_it_names_what_did_not_pass(self, passed, failed, absent, said):
        record = sample.record(devices=3)
        record["counts"] |= {"passed": passed, "failed": failed, "not_tested": absent}
        assert contents.say_answer(record) == said


class TestAbsent:
    def test_failures_come_before_what_was_not_tested(self):
        found = [one["result"] for one in contents.list_absent(sample.record(devices=60))]
        assert found == ["fail", "fail", "not_tested", "not_tested"]

    def test_a_missing_reason_is_said_to_be_missing(self):
        device = sample.device(1, zone=1, result="not_tested")
        device["not_tested_reason"] = ""
        for state in device["tasks"].values():
            state["reason"] = ""
        assert contents.say_why(device) == "no reason is on the record"


class TestNext:
    def test_detectors_with_one_reason_share_an_entry_and_the_earliest_comes_first(self):
        record = sample.record(devices=4, zones=1)
        record["devices"][2]["next"] = {"due_on": "2027-03-11", "basis": "restart", "reasons": []}
        found = detectors.list_next(record)
        assert [one.due_on for one in found] == [date(2027, 3, 11), date(2031, 3, 11)]
        assert found[0].addresses == ("1-002",)
        assert found[1].reasons[0] == (date(2020, 3, 10), "in range")
        assert found[1].addresses == ("1-000", "1-001", "1-003")


class TestRuns:
    def test_a_cleaning_ends_one_run_and_begins_the_next(self):
        record = sample.record(devices=4, zones=1)
        [(row, drawing)] = detectors.list_soiled(record, on=date(2026, 3, 11))
        assert row.device["address"] == "1-003"
        assert [len(run.points) for run in drawing.runs] == [2, 3]
        assert drawing.runs[0].ended_by == "cleaned"

    def test_the_fullest_comes_first(self):
        found = detectors.list_soiled(sample.record(devices=60), on=date(2026, 3, 11))
        used = [row.reading["used"] for row, _ in found]
        assert used == sorted(used, reverse=True)
        assert used[0] > used[-1]


def test_a_result_that_is_neither_is_never_printed_as_a_pass():
    record = sample.record(devices=1, zones=1)
    record["devices"][0]["result"] = "two_results"
    assert contents.list_zones(record)[0].results == ("not_tested",)


def test_an_instant_is_said_by_the_buildings_clock():
    record = sample.record(devices=1)
    # 12 March 2026 lies in summer time in New York, which began on 8 March (tz database).
    assert contents.say_instant(sample.SEALED_AT, record) == "12 Mar 2026, 05:40 EDT"


def test_a_fingerprint_is_set_in_fours():
    assert contents.group("0123456789ab") == "0123 4567 89ab"


class TestRemarks:
    def test_what_the_numbers_say_already_is_not_said_again(self):
        device = sample.device(3, zone=1, verdict="nearing_limit")
        device["readings"][0]["reason"] = "Drift 1.00 of 1.25"
        record = sample.record(devices=1) | {"devices": [device]}
        assert next(detectors.list_rows(record["devices"])).remarks == []

    def test_one_out_of_range_says_why_and_what_was_left(self):
        device = sample.device(3, zone=1, result="fail", verdict="out_of_range")
        device["readings"].append(sample.reading(at=1, stage="as_left"))
        record = sample.record(devices=1) | {"devices": [device]}
        assert next(detectors.list_rows(record["devices"])).remarks == [
            "The correction is used up",
            "as left: 2.5 %/ft, 0.02 corrected, in range",
        ]

    def test_a_verdict_by_the_technician_names_its_reason(self):
        device = sample.device(3, zone=1)
        device["readings"][0]["override_reason"] = "Tester was cold"
        record = sample.record(devices=1) | {"devices": [device]}
        assert next(detectors.list_rows(record["devices"])).remarks == [
            "verdict by the technician: Tester was cold"
        ]


def test_clauses_are_summed_up_by_how_sure_we_are_of_them():
    record = sample.record(devices=1)
    record["edition"]["clauses"] = [
        {"task": "a", "clause": "1.1", "grade": "from memory, check; supported by X (A)"},
        {"task": "b", "clause": "1.1", "grade": "from memory, check"},
        {"task": "c", "clause": "2.2", "grade": "confirmed by Y (A)"},
    ]
    assert contents.sum_up_clauses(record) == [
        ("from memory, check", ["1.1"]),
        ("confirmed", ["2.2"]),
    ]
