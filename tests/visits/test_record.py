"""The frozen record: what it holds, what must not be missing, how it is amended."""

import json
from datetime import date, timedelta

import pytest

from contractor.visits import record, services
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def body(signed):
    return json.loads(signed.body)


class TestBuild:
    def test_holds_what_a_report_needs(self, body):
        assert set(body) >= {
            "format",
            "firm",
            "property",
            "visit",
            "systems",
            "edition",
            "people",
            "instruments",
            "methods",
            "devices",
            "counts",
            "findings",
            "cautions",
            "statement",
            "sealed",
        }
        assert body["format"] == "driftbook-record/1"
        assert body["visit"]["began_on"] == body["visit"]["ended_on"] == "2026-11-25"
        assert body["methods"] == ["listed control equipment"]
        assert body["sealed"]["by"] == "I. Tarrowby"

    def test_never_says_that_anything_is_certified(self, signed):
        assert "certif" not in signed.body.replace("licence or certificate", "").lower()
        assert "complian" not in signed.body.lower()

    def test_names_who_tested_how_many_and_who_signed(self, body):
        assert [(one["name"], one["part"]) for one in body["people"]] == [
            ("T. Varsk", "tested 1 device"),
            ("I. Tarrowby", "reviewed and signed off"),
        ]
        assert body["people"][0]["licence"] == "TX-4471 (invented)"

    def test_cites_the_adopted_edition_with_sections(self, body):
        cited = {
            (one["task"].partition(":")[0], one["clause"]) for one in body["edition"]["clauses"]
        }

        assert body["edition"]["key"] == "nfpa72-2013"
        # NFPA 72, 2013: the second sensitivity test is due in the alternate year (from memory).
        assert ("sensitivity test", "14.4.4.3.2") in cited
        assert any(task == "functional test" for task, _ in cited)

    def test_says_of_each_device_what_was_found(self, body):
        read, locked = body["devices"]

        assert (read["result"], read["tasks"]["sensitivity"]["by"]) == ("pass", "T. Varsk")
        assert read["readings"][0]["drift"] == 0.4
        assert read["readings"][0]["typed"] == {"drift": "0.40"}
        assert (locked["result"], locked["not_tested_reason"]) == ("not_tested", "Room locked")
        assert locked["next"] is None

    def test_counts_add_up(self, body):
        counts = body["counts"]

        assert counts["devices"] == counts["passed"] + counts["failed"] + counts["not_tested"]
        assert counts["in_range"] == 1

    def test_the_history_ends_with_the_visit_and_names_its_runs(
        self, taken, visit, profile, detector, office, now
    ):
        factories.ReadingFactory(device=detector, taken_on=date(2025, 11, 20), drift=0.5)
        factories.ReadingFactory(device=detector, taken_on=date(2027, 1, 5), drift=0.9)
        services.record_sensitivity(**taken, said={"drift": "0.9"}, method="control_unit")
        services.clean(**taken)
        services.record_sensitivity(
            **taken, said={"drift": "0.1"}, stage="as_left", method="control_unit"
        )
        services.hand_in(
            visit=visit, notified_after="told", reason_for_rest="late", member=office, now=now
        )
        sealed = services.sign_off(visit=visit, member=office, now=now)

        history = json.loads(sealed.body)["devices"][0]["history"]
        assert [(one["on"], one["drift"], one["run_cause"]) for one in history] == [
            ("2025-11-20", 0.5, ""),
            ("2026-11-25", 0.9, ""),
            ("2026-11-25", 0.1, "cleaned"),
        ]

    @pytest.mark.parametrize(("days", "warned"), [(0, False), (-1, True)])
    def test_warns_of_an_instrument_out_of_calibration(
        self, taken, visit, firm, office, now, profile, days, warned
    ):
        ends = now.date() + timedelta(days=days)
        instrument = factories.InstrumentFactory(firm=firm, calibration_ends_on=ends)
        services.record_sensitivity(
            **taken, said={"measured": "2.0"}, method="instrument", instrument=instrument
        )
        services.hand_in(
            visit=visit, notified_after="told", reason_for_rest="late", member=office, now=now
        )
        body = json.loads(services.sign_off(visit=visit, member=office, now=now).body)

        assert body["instruments"][0]["serial"] == "ST-0207"
        assert any("its calibration ended" in one for one in body["cautions"]) == warned


class TestListMissing:
    def test_nothing_is_missing_in_a_whole_record(self, body):
        assert record.list_missing(body) == []

    @pytest.mark.parametrize(
        ("part", "key", "said"),
        [
            ("visit", "tasks_in_words", "What was done"),
            ("visit", "began_on", "day of the work"),
            ("visit", "frequency", "required frequency"),
            ("firm", "telephone", "address and telephone"),
            ("edition", "clauses", "names no section"),
            ("property", "address", "address of the property"),
        ],
    )
    def test_asks_for_each_item(self, body, part, key, said):
        body[part][key] = ""

        assert [said in one for one in record.list_missing(body)] == [True]

    def test_asks_for_the_inventory(self, body):
        body["devices"] = []
        assert record.list_missing(body) == ["No device is on the visit's list."]

    def test_asks_who_did_the_work(self, body):
        body["people"] = [one for one in body["people"] if one["part"].startswith("reviewed")]
        assert record.list_missing(body) == ["Nobody is named who did the work."]

    def test_asks_where_a_device_is(self, body):
        body["devices"][0] |= {"label": "", "area": ""}
        assert record.list_missing(body) == ["No label and no area says where to find 2-114."]

    def test_asks_for_a_result_or_a_reason(self, body):
        body["devices"][1]["not_tested_reason"] = ""
        assert record.list_missing(body) == ["Some devices have no result and no reason."]
