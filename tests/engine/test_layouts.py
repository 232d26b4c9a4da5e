"""The practice print-outs, and files that are not right."""

import io
import json
import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from contractor.engine import layouts
from tests.engine import old_workbook

PRINTOUTS = Path(__file__).parent / "data" / "printouts"
PRACTICE = sorted(p for p in PRINTOUTS.iterdir() if p.stem in {"p1", "p2", "p3", "p4", "p5"})
KEYS = (
    "address", "label", "kind", "setting", "now", "drift", "used",
    "measured", "marked_low", "marked_high", "taken_on",
)  # fmt: skip


def as_expected(row):
    values = {key: getattr(row, key) for key in KEYS}
    return values | {"taken_on": values["taken_on"] and values["taken_on"].isoformat()}


def csv_of(*lines):
    return "\n".join(("Address,Label,Type,Setting %/ft,Level %/ft,Drift %/ft", *lines)).encode()


GOOD = [f"1-{n:03d},Corridor {n},smoke,2.4,0.1,0.2" for n in range(1, 9)]


class TestPractice:
    @pytest.mark.parametrize("path", PRACTICE, ids=lambda path: path.name)
    def test_reads_every_cell_as_a_careful_reader_does(self, path):
        expected = json.loads(path.with_suffix(".expected.json").read_text("utf-8"))["rows"]

        printout = layouts.read(path.read_bytes(), filename=path.name)

        assert [as_expected(row) for row in printout.rows] == expected
        assert printout.problems == ()
        assert printout.kind == "sensitivity"

    def test_asks_which_comes_first_in_a_day_that_could_be_two(self):
        printout = layouts.read((PRINTOUTS / "p2.txt").read_bytes())

        assert [question.about for question in printout.asked] == ["date_order"]
        assert "11 February 2026 or 2 November 2026" in printout.asked[0].sentence

    @pytest.mark.parametrize(
        ("order", "day"), [("mdy", date(2026, 11, 2)), ("dmy", date(2026, 2, 11))]
    )
    def test_keeps_the_buildings_order_of_day_and_month(self, order, day):
        printout = layouts.read((PRINTOUTS / "p2.txt").read_bytes(), date_order=order)

        assert printout.asked == ()
        assert {row.taken_on for row in printout.rows} == {day}


class TestUnreadable:
    @pytest.mark.parametrize(
        ("data", "sentence"),
        [
            (b"", "empty"),
            (b" \r\n\r\n", "only blank lines"),
            (b"\x00" * 64, "nothing but NUL bytes"),
            (b"%PDF-1.7 ...", "a PDF"),
            (b"\x89PNG\r\n\x1a\n....", "a picture"),
            (b"\x1f\x8b\x08\x00....", "gzip"),
            (b"<!DOCTYPE html><html></html>", "web page"),
            (b'<?xml version="1.0"?><a/>', "XML"),
            (b"PK\x03\x04 and then nothing", "cut short or damaged"),
            (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "damaged or of another kind"),
            (b"\xff\xfeA\x00B", "does not fit"),
            (b"Dear all,\n\nthe list follows tomorrow.\n\nA. Tarrowby\n", "No table of devices"),
            (b"Address,Label,Type,Setting %/ft\n", "headings but no rows"),
            (b"a" * 30_000, "characters"),
            (b"," * 10_000 + b"\n" + b"," * 10_000, "columns"),
            (b"x" * (layouts.limits.MAX_FILE_BYTES + 1), "at most 20 MB"),
        ],
        ids=lambda value: repr(value[:12]),
    )
    def test_says_in_one_sentence_why(self, data, sentence):
        with pytest.raises(layouts.Unreadable, match=sentence):
            layouts.read(data)

    def test_names_the_line_of_the_first_nul_in_good_text(self):
        data = csv_of(*GOOD).replace(b"Corridor 3", b"Corr\x00dor 3")

        with pytest.raises(layouts.Unreadable, match="1 NUL bytes, the first in line 4"):
            layouts.read(data)

    @pytest.mark.parametrize(("rows", "refused"), [(50_000, False), (50_001, True)])
    def test_refuses_more_rows_than_the_limit(self, rows, refused):
        data = csv_of(*(f"{n // 200}-{n % 200:03d},Aisle,smoke,2.4,0.1,0.2" for n in range(rows)))

        if refused:
            with pytest.raises(layouts.Unreadable, match="50,001 rows; at most 50,000"):
                layouts.read(data)
        else:
            assert len(layouts.read(data).rows) == rows


class TestWorkbookRefused:
    def workbook(self, **extra):
        """Pack a small workbook again with some of its parts changed or added."""
        source = zipfile.ZipFile(io.BytesIO(small_workbook()))
        parts = {name: source.read(name) for name in source.namelist()} | extra
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
            for name, content in parts.items():
                target.writestr(name, content)
        return packed.getvalue()

    def test_refuses_one_that_is_cut_short(self):
        data = small_workbook()

        for length in (100, len(data) // 2, len(data) - 30):
            with pytest.raises(layouts.Unreadable, match=r"cut short|damaged"):
                layouts.read(data[:length])

    def test_refuses_one_that_unpacks_to_too_much(self):
        bomb = self.workbook(**{"xl/media/a.bin": bytes(130 * 2**20)})

        assert len(bomb) < 300_000
        with pytest.raises(layouts.Unreadable, match="unpacks to more than 128 MB"):
            layouts.read(bomb)

    def test_refuses_one_whose_directory_hides_its_real_size(self):
        bomb = self.workbook(**{"xl/media/a.bin": bytes(130 * 2**20)})
        lying = bomb.replace((130 * 2**20).to_bytes(4, "little"), (1000).to_bytes(4, "little"))

        assert lying != bomb
        with pytest.raises(layouts.Unreadable, match="unpacks to"):
            layouts.read(lying)

    def test_refuses_a_part_packed_beyond_what_readings_allow(self):
        with pytest.raises(layouts.Unreadable, match="times its size"):
            layouts.read(self.workbook(**{"xl/media/a.bin": bytes(5 * 2**20)}))

    def test_refuses_entities_of_its_own(self):
        trick = (
            b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'
            b"<sst>&b;</sst>"
        )

        with pytest.raises(layouts.Unreadable, match="entities"):
            layouts.read(self.workbook(**{"xl/sharedStrings.xml": trick}))

    @pytest.mark.parametrize(
        ("cell", "what"), [("XFD2", "column 16,384"), ("A1048576", "row 1,048,576")]
    )
    def test_refuses_a_cell_far_out(self, cell, what):
        book = openpyxl.load_workbook(io.BytesIO(small_workbook()))
        book.active[cell] = 1
        packed = io.BytesIO()
        book.save(packed)

        with pytest.raises(layouts.Unreadable, match=what):
            layouts.read(packed.getvalue())

    def test_refuses_a_plain_archive_and_a_text_document(self):
        for name, sentence in (
            ("a.csv", "a zip archive"),
            ("word/document.xml", "a text document"),
        ):
            packed = io.BytesIO()
            with zipfile.ZipFile(packed, "w") as target:
                target.writestr(name, "x")
            with pytest.raises(layouts.Unreadable, match=sentence):
                layouts.read(packed.getvalue())


def small_workbook():
    book = openpyxl.Workbook()
    book.active.append(["Address", "Label", "Type", "Setting %/ft", "Drift %/ft"])
    for n in range(1, 9):
        book.active.append([f"1-{n:03d}", f"Corridor {n}", "smoke", 2.4, 0.1])
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


class TestOldWorkbook:
    def test_reads_the_binary_kind(self):
        rows = [["Address", "Label", "Type", "Setting %/ft", "Drift %/ft"]]
        rows += [[f"1-00{n}", f"Café {n}", "smoke", 2.4, 0.1 * n] for n in range(1, 6)]

        printout = layouts.read(old_workbook.workbook([*rows, ["1-009", "Boiler", "heat", "", ""]]))

        assert (printout.layout, len(printout.rows)) == ("xls", 6)
        assert printout.rows[2][2:6] == ("1-003", "Café 3", "smoke", 2.4)
        assert printout.rows[2].drift == pytest.approx(0.3)
        assert (printout.rows[5].kind, printout.rows[5].setting) == ("heat", None)


class TestRowProblems:
    def problems(self, *lines, **options):
        printout = layouts.read(csv_of(*GOOD, *lines), **options)
        return {(problem.row, problem.sentence) for problem in printout.problems}, printout

    def test_has_none_for_good_rows(self):
        assert self.problems()[0] == set()

    def test_names_both_rows_of_an_address_printed_twice(self):
        problems, printout = self.problems("1-003,Corridor 3,smoke,2.4,0.1,0.3")

        sentence = "1-003 is printed twice: rows 4 and 10. Keep one of them."
        assert problems == {(4, sentence), (10, sentence)}
        assert printout.rows[2].problems == (sentence,)

    @pytest.mark.parametrize(
        ("setting", "wrong"), [("10", False), ("10.1", True), ("47", True), ("0", True)]
    )
    def test_says_that_a_setting_cannot_be(self, setting, wrong):
        problems, printout = self.problems(f"1-009,Hall,smoke,{setting},0.1,0.2")

        assert printout.rows[-1].setting == float(setting)
        assert {row for row, sentence in problems if "cannot be" in sentence} == (
            {10} if wrong else set()
        )

    def test_keeps_a_negative_drift_as_printed(self):
        problems, printout = self.problems("1-009,Hall,smoke,2.4,0.1,-0.3")

        assert printout.rows[-1].drift == -0.3
        assert [row for row, sentence in problems if "negative" in sentence] == [10]

    def test_quotes_what_is_not_a_number(self):
        problems, printout = self.problems("1-009,Hall,smoke,2.4,0.1,####")

        assert printout.rows[-1].drift is None
        assert [row for row, sentence in problems if "“####” is not a number" in sentence] == [10]

    def test_says_that_a_row_has_no_address(self):
        problems, printout = self.problems(",Hall,smoke,2.4,0.1,0.2")

        assert printout.rows[-1].address == ""
        assert [row for row, sentence in problems if "no address" in sentence] == [10]

    def test_takes_dashes_and_not_applicable_as_nothing(self):
        problems, printout = self.problems("1-009,Hall,heat,n/a,--,–")

        row = printout.rows[-1]
        assert (problems, row.kind, row.setting, row.now, row.drift) == (
            set(),
            "heat",
            None,
            None,
            None,
        )

    def test_says_that_two_buildings_are_in_one_file(self):
        first = b"Building: Dunmere Cold Store\n" + csv_of(*GOOD)
        second = b"\nBuilding: Tarn Hall\n" + csv_of(*(line.replace("1-0", "2-0") for line in GOOD))

        printout = layouts.read(first + second)

        assert len(printout.rows) == 16
        assert any(
            "2 buildings: “Dunmere Cold Store” (line 1) and “Tarn Hall”" in p.sentence
            for p in printout.problems
        )

    def test_doubts_a_file_none_of_whose_addresses_is_known(self):
        problems, _printout = self.problems(known_addresses=["7-001", "7-002"])

        assert any("another building" in sentence for _row, sentence in problems)
