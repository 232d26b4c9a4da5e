"""What is not sure is asked and left out, and nothing of a file is dropped in silence."""

import io
from datetime import date

import openpyxl
import pytest

from contractor.engine import layouts


def table(headings, *rows):
    return "\n".join([headings, *rows]).encode()


def asked(printout):
    return {
        (printout.columns[q.column].header, q.about) for q in printout.asked if q.column is not None
    }


def saved(book):
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


class TestAsked:
    def test_takes_the_rows_without_figures_for_what_is_answered(self):
        printed = table("Address,Setting %/ft", "A1,2.5", "A2,", "A3,2.0", "A4,2.5")
        (question,) = layouts.read(printed).asked

        told = layouts.read(printed, mapping={layouts.REST_KIND: "heat"})

        assert (question.about, "heat" in question.choices) == ("kind", True)
        assert told.asked == ()
        assert [row.kind for row in told.rows] == ["smoke", "heat", "smoke", "smoke"]

    def test_asks_whether_whole_numbers_are_figures_or_steps(self):
        steps = layouts.read(
            table("Address,Type,Sensitivity", "A1,smoke,3", "A2,smoke,5", "A3,smoke,2")
        )
        figures = layouts.read(
            table("Address,Type,Sensitivity", "A1,smoke,3.0", "A2,smoke,2.5", "A3,smoke,2.0")
        )

        assert asked(steps) == {("Sensitivity", "meaning")}
        assert {row.setting for row in steps.rows} == {None}
        assert (asked(figures), figures.rows[0].setting) == (set(), 3.0)

    @pytest.mark.parametrize(
        ("drifts", "doubted"), [(("0.1", "0.3", "0.4"), False), (("1.5", "0.9", "3.8"), True)]
    )
    def test_asks_of_what_a_bare_percent_is_when_it_is_large(self, drifts, doubted):
        rows = [f"A{n},smoke,2.4,{d}" for n, d in enumerate(drifts, 1)]

        printout = layouts.read(table("Address,Type,Setting %/ft,Drift %", *rows))

        assert (("Drift %", "meaning") in asked(printout)) is doubted
        assert (printout.rows[0].drift is None) is doubted

    def test_asks_what_words_under_a_heading_of_figures_mean(self):
        printout = layouts.read(
            table(
                "Address,Type,Setting,Drift %/ft",
                "A1,smoke,high,0.1",
                "A2,smoke,low,0.2",
                "A3,smoke,high,0.1",
            )
        )

        assert ("Setting", "meaning") in asked(printout)

    def test_asks_the_unit_where_two_fit(self):
        printout = layouts.read(
            table("Adresse;Art;Schwelle", "A1;Rauch;2,5", "A2;Rauch;3,5", "A3;Rauch;3,0")
        )

        assert asked(printout) == {("Schwelle", "unit")}
        assert {row.setting for row in printout.rows} == {None}

    def test_takes_the_only_unit_that_fits(self):
        # A fire detector's alarm point of 0.15 to 0.2 is only possible in dB/m.
        printout = layouts.read(
            table("Address,Type,Threshold (dB/m)", "A1,smoke,0.15", "A2,smoke,0.20")
        )

        # 0.15 dB/m is 1.047 %/ft: 100 * (1 - 10 ** (-0.015 * 0.3048)), by Bouguer's law.
        assert printout.rows[0].setting == pytest.approx(1.047, abs=5e-4)

    def test_does_not_take_the_last_cleaning_or_test_for_the_day_of_reading(self):
        data = b"Printed 2026-11-20\n" + table(
            "Address,Type,Setting %/ft,Last cleaned,Last test",
            "A1,smoke,2.4,2025-03-01,2025-09-01", "A2,smoke,2.4,2025-03-02,2025-09-01",
        )  # fmt: skip

        assert {row.taken_on for row in layouts.read(data).rows} == {date(2026, 11, 20)}

    def test_quotes_a_kind_that_is_not_known(self):
        printout = layouts.read(
            table("Address,Type,Setting %/ft", "A1,smoke,2.4", "A2,zorp,2.4", "A3,heat,")
        )

        assert [(p.row, p.sentence) for p in printout.problems] == [
            (3, "“zorp” is no kind of device that is known.")
        ]

    def test_reads_kinds_by_the_legend_of_the_print_out(self):
        data = table(
            "Address;Type;Setting %/ft", "A1;X;2.4", "A2;Z;", "A3;X;2.8", "X = smoke; Z = heat"
        )

        assert [row.kind for row in layouts.read(data).rows] == ["smoke", "heat", "smoke"]


class TestDates:
    @pytest.mark.parametrize(
        ("days", "order", "first"),
        [
            (("13/11/2026", "02/11/2026"), "dmy", date(2026, 11, 13)),
            (("11/13/2026", "11/02/2026"), "mdy", date(2026, 11, 13)),
            (("02.11.2026", "03.11.2026"), "dmy", date(2026, 11, 2)),
            (("2026-11-02", "2026-11-03"), "dmy", date(2026, 11, 2)),
            (("2 Nov 2026", "3 Nov 2026"), "dmy", date(2026, 11, 2)),
        ],
    )
    def test_takes_the_order_from_days_that_can_only_be_one(self, days, order, first):
        rows = [f"A{n},smoke,2.4,{day}" for n, day in enumerate(days, 1)]

        printout = layouts.read(table("Address,Type,Measured %/ft,Tested on", *rows))

        assert printout.asked == ()
        assert printout.facts["date_order"] == order
        assert printout.rows[0].taken_on == first

    def test_leaves_a_day_out_where_nothing_tells(self):
        rows = ["A1,smoke,6.4,02/11/2026", "A2,smoke,7.1,03/11/2026"]
        english_metric = layouts.read(table("Address,Type,Measured %/m,Tested on", *rows))
        english_feet = layouts.read(
            table(
                "Address,Type,Measured %/ft,Tested on",
                *(r.replace(",6.4", ",2.4").replace(",7.1", ",2.1") for r in rows),
            )
        )

        assert [q.about for q in english_metric.asked] == ["date_order"]
        assert english_metric.rows[0].taken_on == date(2026, 11, 2)
        assert [q.about for q in english_feet.asked] == ["date_order"]
        assert english_feet.rows[0].taken_on == date(2026, 2, 11)


class TestNothingInSilence:
    def test_reads_tables_that_stand_side_by_side(self):
        data = table(
            "Address,Type,Setting %/ft,Address,Type,Setting %/ft",
            "A1,smoke,2.4,B1,smoke,2.8", "A2,smoke,2.4,B2,heat,", "A3,smoke,2.0,B3,smoke,2.8",
        )  # fmt: skip

        rows = layouts.read(data).rows

        assert [row.address for row in rows] == ["A1", "A2", "A3", "B1", "B2", "B3"]
        assert rows[3].setting == 2.8

    def test_a_problem_on_one_side_is_not_the_other_sides(self):
        data = table(
            "Address,Type,Setting %/ft,Address,Type,Setting %/ft",
            "A1,smoke,2.4,B1,smoke,2.8", "A2,smoke,illegible,B2,smoke,2.4",
            "A3,smoke,2.0,B3,smoke,2.8", "A4,smoke,2.0,B4,smoke,2.8",
        )  # fmt: skip

        rows = layouts.read(data).rows

        assert {row.address for row in rows if row.problems} == {"A2"}

    def test_names_the_line_where_another_table_begins(self):
        data = table(
            "Address,Type,Setting %/ft", "A1,smoke,2.4", "A2,smoke,2.4", "A3,smoke,2.0",
            "Address,Label,Drift %/ft", "A4,Hall,0.2",
        )  # fmt: skip

        printout = layouts.read(data)

        assert [row.address for row in printout.rows] == ["A1", "A2", "A3"]
        assert "Line 5 begins another table" in printout.problems[0].sentence

    def test_names_a_sheet_that_is_left_out(self):
        book = openpyxl.Workbook()
        for line in (
            ["Address", "Type", "Setting %/ft"],
            ["A1", "smoke", 2.4],
            ["A2", "smoke", 2.8],
        ):
            book.active.append(line)
        other = book.create_sheet("Annex")
        for line in (
            ["Device", "Where", "Drift %/ft", "Kind"],
            ["B1", "Hall", 0.2, "smoke"],
            ["B2", "Store", 0.1, "smoke"],
        ):
            other.append(line)
        book.create_sheet("Notes").append(["nothing here"])

        printout = layouts.read(saved(book))

        left_out = [p.sentence for p in printout.problems]
        assert len(left_out) == 1
        assert {row.address for row in printout.rows} in ({"A1", "A2"}, {"B1", "B2"})
        assert "also lists devices (2 rows)" in left_out[0]

    @pytest.mark.parametrize("names", [("West", "East"), ("Loop 1", "Loop 2")])
    def test_tells_apart_what_two_sheets_number_alike(self, names):
        book = openpyxl.Workbook()
        for name in names:
            sheet = book.create_sheet(name)
            sheet.append(["Point", "Location", "Type", "Alarm (%/ft)"])
            for n in range(1, 4):
                sheet.append([n, f"Bay {n}", "smoke", 2.4])

        printout = layouts.read(saved(book))

        addresses = [row.address for row in printout.rows]
        if "Loop 1" in names:
            assert addresses == ["1-001", "1-002", "1-003", "2-001", "2-002", "2-003"]
            assert printout.problems == ()
        else:
            assert addresses == ["1", "2", "3"] * 2
            said = "1 stands in the sheets “East” and “West”."
            assert sum(any(said in p for p in row.problems) for row in printout.rows) == 2
            assert all(row.problems for row in printout.rows)

    def test_names_no_kind_while_it_asks_which_column_says_it(self):
        data = table(
            "Address,Where,Sensor,Alarm %/ft",
            *(f"1-{n:03d},Bay {n},{('Smoke', 'Zorpal')[n % 2]},2.4" for n in range(9)),
        )

        printout = layouts.read(data)

        assert [question.choices for question in printout.asked] == [("kind",)]
        assert {row.kind for row in printout.rows} == {""}

    def test_quotes_a_line_among_the_rows_that_it_did_not_understand(self):
        data = table(
            "Address;Type;Setting %/ft",
            "A1;smoke;2.4",
            "A2;smoke;2.4",
            "memory fault at 0x3F",
            "A3;smoke;2.4",
        )

        printout = layouts.read(data)

        assert len(printout.rows) == 3
        assert [p.row for p in printout.problems] == [4]
        assert "“memory fault at 0x3F”" in printout.problems[0].sentence

    @pytest.mark.parametrize(("said", "short"), [(3, False), (4, True)])
    def test_doubts_a_file_whose_footer_counts_more_rows(self, said, short):
        data = table(
            "Address,Type,Setting %/ft",
            "A1,smoke,2.4",
            "A2,smoke,2.4",
            "A3,smoke,2.0",
            f"Total: {said} detectors",
        )

        problems = layouts.read(data).problems

        assert any("cut short" in problem.sentence for problem in problems) is short
