"""Invented print-outs of many shapes: every cell right or asked, none silently wrong."""

import json
import math
from datetime import date, datetime
from pathlib import Path

import pytest

from contractor.engine import layouts

PRINTOUTS = Path(__file__).parent / "data" / "printouts"
INVENTED = sorted(p for p in PRINTOUTS.iterdir() if p.name[0] in "imnoq" and p.suffix != ".json")
#: What cannot be known from these files alone, and is therefore asked, column by column.
ASKED = {
    "i07-tight.txt": ["date_order"],
    "i11-no-heading.csv": ["meaning", "meaning", "meaning"],
    "i21-no-unit-metric.csv": ["unit", "unit"],
    "m01-terse.csv": ["meaning", "meaning"],
    "m04-leaders.txt": ["meaning"],
    "n14-sheet-of-shares.xlsx": ["meaning"],  # a share of the setting: of what, it does not say
}
NOT_TAKEN = {
    "i11-no-heading.csv": {"setting", "now", "drift"},
    "i21-no-unit-metric.csv": {"setting", "drift"},
    "m04-leaders.txt": {"setting"},
}


def same(got, wanted):
    if isinstance(wanted, float) and isinstance(got, float):
        return math.isclose(got, wanted, rel_tol=1e-6, abs_tol=1e-4)
    return (got.isoformat() if isinstance(got, date) else got) == wanted


@pytest.mark.parametrize("path", INVENTED, ids=lambda path: path.name)
class TestInvented:
    def test_every_cell_is_right_or_asked(self, path):
        expected = json.loads(path.with_suffix(".expected.json").read_text("utf-8"))["rows"]
        not_taken = NOT_TAKEN.get(path.name, set())

        printout = layouts.read(path.read_bytes())

        assert len(printout.rows) == len(expected)
        wrong = [
            (wanted["address"], key, value, getattr(row, key))
            for row, wanted in zip(printout.rows, expected, strict=True)
            for key, value in wanted.items()
            if not same(getattr(row, key), None if key in not_taken else value)
        ]
        assert wrong == []

    def test_only_what_cannot_be_known_is_asked(self, path):
        printout = layouts.read(path.read_bytes())

        assert [question.about for question in printout.asked] == ASKED.get(path.name, [])


class TestMapping:
    """What a person decides stands above every guess, and is remembered."""

    def read(self, **options):
        return layouts.read((PRINTOUTS / "i11-no-heading.csv").read_bytes(), **options)

    def test_takes_the_meaning_chosen_for_a_column_without_a_heading(self):
        unread = self.read()
        chosen = {"#5": {"meaning": "setting", "unit": "%/ft"}, "#6": "now", "#7": "drift"}

        printout = self.read(mapping=chosen)

        first = next(i for i, row in enumerate(printout.rows) if row.kind == "smoke")
        cells = printout.rows[first].cells
        assert (unread.rows[first].setting, unread.rows[first].drift) == (None, None)
        row = printout.rows[first]
        assert (row.setting, row.now, row.drift) == tuple(float(cell) for cell in cells[4:7])
        assert printout.asked == ()
        assert printout.columns[4].confidence == 100

    def test_gives_a_mapping_that_reads_the_next_file_the_same(self):
        chosen = {"#5": {"meaning": "setting", "unit": "%/ft"}, "#6": "now", "#7": "drift"}
        first = self.read(mapping=chosen)

        again = self.read(mapping=json.loads(json.dumps(first.mapping)))

        assert again.rows == first.rows
        assert again.asked == ()

    def test_leaves_a_column_out_whose_meaning_is_chosen_as_none(self):
        data = (PRINTOUTS / "p1.csv").read_bytes()

        printout = layouts.read(data, mapping={"present level [%/ft]": ""})

        assert {row.now for row in printout.rows} == {None}
        assert {row.drift for row in printout.rows} != {None}

    def test_reads_another_unit_if_that_is_chosen(self):
        data = (PRINTOUTS / "i21-no-unit-metric.csv").read_bytes()
        chosen = {
            "schwelle": {"meaning": "setting", "unit": "%/m"},
            "drift": {"meaning": "drift", "unit": "%/m"},
        }

        rows = layouts.read(data, mapping=chosen).rows

        # 2.5 %/m is 100 * (1 - 0.975 ** 0.3048) %/ft by Bouguer's law.
        assert rows[0].setting == pytest.approx(100 * (1 - 0.975**0.3048))


class TestKnownAddresses:
    def test_gives_an_address_as_the_device_list_has_it(self):
        lines = ["Address,Type,Setting %/ft", *(f"01-D00{n},smoke,2.4" for n in (1, 2, 3))]
        data = "\n".join(lines).encode()

        plain = layouts.read(data)
        known = layouts.read(data, known_addresses=["1-001", "1-002", "1-009"])

        assert [row.address for row in plain.rows] == [
            "01-D001",
            "01-D002",
            "01-D003",
        ]
        assert [row.address for row in known.rows] == ["1-001", "1-002", "01-D003"]


class TestOtherKinds:
    def test_reads_an_event_log_in_columns(self):
        data = (
            b"EVENT HISTORY                  PRINTED 18 Nov 2026 09:00\n\n"
            b"DATE        TIME      EVENT            ADDRESS   TEXT\n"
            b"17 Nov 2026 23:14:05  ALARM            1-014     CANTEEN STORE\n"
            b"17 Nov 2026 23:20:11  SYSTEM RESET               CONTROL UNIT\n"
            b"16 Nov 2026 04:02:55  CLEANING DUE     1-022     GATEHOUSE\n"
            b"15 Nov 2026 13:30:00  TROUBLE          1-014     CANTEEN STORE\n"
        )

        printout = layouts.read(data)

        assert printout.kind == "event_log"
        assert printout.problems == ()
        assert [(row.address, row.event) for row in printout.rows] == [
            ("1-014", "alarm"), ("", "restore"), ("1-022", "maintenance"), ("1-014", "trouble"),
        ]  # fmt: skip
        assert printout.rows[0].at == datetime(2026, 11, 17, 23, 14, 5)

    def test_reads_an_event_log_of_bare_lines(self):
        data = (
            b"2026-11-17 23:14:05 1-014 Smoke ALARM Canteen store\n"
            b"2026-11-17 23:20:11 1-014 Smoke RESTORED Canteen store\n"
            b"2026-11-16 04:02:55 1-022 Smoke MAINTENANCE Gatehouse\n"
        )

        printout = layouts.read(data)

        assert (printout.kind, printout.layout) == ("event_log", "lines")
        assert [(row.address, row.event) for row in printout.rows] == [
            ("1-014", "alarm"), ("1-014", "restore"), ("1-022", "maintenance"),
        ]  # fmt: skip

    def test_reads_a_device_list(self):
        data = (
            b"Address,Device Type,Model,Serial,Area,Location,Installed\n"
            b"1-001,Smoke detector,HD-3,88001,Floor 1,Canteen store,2021-04-03\n"
            b"1-002,Heat detector,HT-1,88002,Floor 1,Plant room,2021-04-03\n"
            b"1-003,Pull station,PS-2,88003,Floor 2,Stairs B,2021-04-03\n"
        )

        printout = layouts.read(data)

        assert printout.kind == "device_list"
        row = printout.rows[2]
        assert (row.kind, row.product, row.serial, row.area, row.label) == (
            "other",
            "PS-2",
            "88003",
            "Floor 2",
            "Stairs B",
        )
        assert row.installed_on == date(2021, 4, 3)
        assert row.taken_on is None
