"""Long tables drawn row by row: that nothing is lost, cut or out of order, and that tags hold."""

import io
import json
from pathlib import Path

import pdfplumber
import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject, NumberObject

from contractor.reports import kinds, pdf, printing
from contractor.reports.sheets import cells
from tests.reports import sample


def render(record) -> bytes:
    return pdf.render(record=record, sealed=sample.seal()).data


def follow(thing):
    return thing.get_object() if isinstance(thing, IndirectObject) else thing


def kids(node):
    found = follow(node.get("/K", []))
    return found if isinstance(found, list) else [found]


def walk(node, depth=0):
    """Give every structure element below a node, in reading order."""
    for kid in kids(node):
        kid = follow(kid)
        if isinstance(kid, DictionaryObject) and "/S" in kid:
            yield kid
            yield from walk(kid, depth + 1)


def read_marks(page) -> dict[int, str]:
    """Read the text of each marked content of a page (pdfminer gives each letter its MCID)."""
    found: dict[int, str] = {}
    for char in page.chars:
        if char.get("mcid") is not None:
            found[char["mcid"]] = found.get(char["mcid"], "") + char["text"]
    return found


class Tagged:
    """A PDF read by its tags alone."""

    def __init__(self, data: bytes) -> None:
        self.reader = PdfReader(io.BytesIO(data))
        self.root = self.reader.trailer["/Root"]["/StructTreeRoot"]
        self.pages = {
            page.indirect_reference.idnum: at for at, page in enumerate(self.reader.pages)
        }
        with pdfplumber.open(io.BytesIO(data)) as opened:
            self.marks = [read_marks(page) for page in opened.pages]

    def text(self, node) -> str:
        """Read what stands under an element, in reading order."""
        said = ""
        for kid in kids(node):
            kid = follow(kid)
            if isinstance(kid, NumberObject):
                page = self.pages[node.raw_get("/Pg").idnum]
                said += self.marks[page].get(int(kid), "")
            elif isinstance(kid, DictionaryObject) and "/S" in kid:
                said += self.text(kid)
        return said

    def tables(self):
        return [node for node in walk(self.root) if node["/S"] == "/Table"]

    def rows(self, table) -> list[list[str]]:
        """Read a table as a reader of screens does."""
        return [
            [self.text(cell) for cell in (follow(kid) for kid in kids(row))]
            for row in walk(table)
            if row["/S"] == "/TR"
        ]


@pytest.fixture(scope="module")
def long_record():
    record = sample.record(devices=130, zones=2)
    record["devices"][3]["label"] = "Mittelspannungsschaltanlagenraum" * 3
    record["devices"][4]["label"] = "غرفة المضخات 12"
    record["devices"][7]["label"] = "חדר מכונות"
    return record


@pytest.fixture(scope="module")
def long(long_record):
    return Tagged(render(long_record))


class TestTags:
    def test_a_table_over_several_pages_is_one_table_with_one_head(self, long):
        inventory = next(t for t in long.tables() if "kind, product" in long.text(t))
        rows = long.rows(inventory)
        assert len(rows) == 1 + 65
        assert rows[0] == [
            "address",
            "place",
            "kind, product, serial",
            "result, and of what",
            "by whom, remarks",
        ]
        pages = {node.raw_get("/Pg").idnum for node in walk(inventory) if "/Pg" in node}
        assert len(pages) > 1

    def test_each_device_is_read_once_and_in_order(self, long, long_record):
        read = [
            row[0]
            for table in long.tables()
            if "kind, product" in long.text(table)
            for row in long.rows(table)[1:]
        ]
        assert read == [device["address"] for device in long_record["devices"]]

    def test_each_reading_is_read_with_its_numbers(self, long, long_record):
        read = {
            row[0]: row
            for table in long.tables()
            if "corrected" in long.text(table)
            for row in long.rows(table)
            if len(row) == 9
        }
        for device in long_record["devices"]:
            if not device["readings"]:
                continue
            row = read[device["address"]]
            assert row[2] == "1.0–3.5"
            assert row[4] == f"{device['readings'][0]['drift']:.2f}"

    def test_heads_name_their_columns_and_rows(self, long):
        for table in long.tables():
            for node in walk(table):
                if node["/S"] == "/TH":
                    said = follow(node["/A"])
                    assert said.get("/Scope") in ("/Column", "/Row") or "/ID" in node

    def test_the_parent_tree_names_the_holder_of_each_mark(self, long):
        # ISO 32000-1, 14.7.4.4: entry n of a page's array is the parent of its content n.
        nums = follow(follow(long.root["/ParentTree"])["/Nums"])
        holders = {int(nums[at]): follow(nums[at + 1]) for at in range(0, len(nums), 2)}
        checked = 0
        for node in walk(long.root):
            for kid in kids(node):
                if isinstance(kid, NumberObject):
                    page = follow(node["/Pg"])
                    held = holders[int(page["/StructParents"])][int(kid)]
                    assert held.idnum == node.indirect_reference.idnum
                    checked += 1
        assert checked > 1500

    def test_every_mark_that_is_drawn_is_held_and_no_other(self, long):
        held = {
            (long.pages[node.raw_get("/Pg").idnum], int(kid))
            for node in walk(long.root)
            for kid in kids(node)
            if isinstance(kid, NumberObject)
        }
        drawn = set()
        for at, page in enumerate(long.reader.pages):
            for operands, operator in page.get_contents().operations:
                if operator == b"BDC" and "/MCID" in operands[1]:
                    drawn.add((at, int(operands[1]["/MCID"])))
        feet = drawn - held
        assert held <= drawn
        # What nobody holds is the foot of each page: place, fingerprint, number.
        assert len(feet) <= 4 * len(long.reader.pages)

    def test_headings_stand_in_the_outline(self, long):
        def flat(items):
            for item in items:
                if isinstance(item, list):
                    yield from flat(item)
                else:
                    yield item.title

        titles = list(flat(long.reader.outline))
        assert "Zone 2, Level 2, kitchen and hall: 65 devices" in titles
        assert any("detectors:" in title for title in titles)


class TestWords:
    def test_a_word_longer_than_its_column_is_broken_not_cut(self, long):
        said = next(
            row[1] for t in long.tables() for row in long.rows(t) if row and row[0] == "1-003"
        )
        assert said == "Mittelspannungsschaltanlagenraum" * 3

    @pytest.mark.parametrize(("address", "letter"), [("1-004", "غ"), ("1-007", "ח")])
    def test_scripts_from_right_to_left_are_set_by_a_font_that_has_them(
        self, long, address, letter
    ):
        said = next(
            row[1] for t in long.tables() for row in long.rows(t) if row and row[0] == address
        )
        assert letter in said
        assert "\ufffd" not in said

    def test_controls_and_marks_of_direction_do_not_reach_the_page(self):
        record = sample.record(devices=2, zones=1)
        record["devices"][0]["label"] = "Hall\x00\x07 \u202eevil\u202c end"
        text = Tagged(render(record))
        row = next(r for t in text.tables() for r in text.rows(t) if r and r[0] == "1-000")
        assert row[1] == "Hall evil end"

    def test_nothing_leaves_the_paper_or_meets_the_foot(self, long_record):
        with pdfplumber.open(io.BytesIO(render(long_record))) as opened:
            for page in opened.pages[2:]:
                chars = [char for char in page.chars if char["mcid"] is not None]
                assert max(char["x1"] for char in chars) < page.width - 30
                foot = page.height - 74 * 0.75
                body = [char for char in chars if char["size"] > 8.3]
                assert all(char["bottom"] <= foot + 1 for char in body)


class TestTallRows:
    @pytest.mark.parametrize("where", ["cell", "across"])
    def test_a_row_taller_than_a_page_goes_on_and_loses_no_word(self, where):
        words = [f"w{number:04d}" for number in range(4000)]
        record = sample.record(devices=6, zones=1)
        if where == "cell":
            record["devices"][2]["actions"] = [" ".join(words)]
        else:
            record["devices"][2]["readings"][0]["override_reason"] = " ".join(words)
        data = render(record)
        read = Tagged(data)
        text = "".join(read.text(table) for table in read.tables())
        assert [word for word in words if word not in text] == []
        assert text.index(words[0]) < text.index(words[2000]) < text.index(words[-1])
        with pdfplumber.open(io.BytesIO(data)) as opened:
            for page in opened.pages:
                foot = page.height - 74 * 0.75
                body = [char for char in page.chars if char["size"] > 8.3]
                assert all(char["bottom"] <= foot + 1 for char in body)

    def test_the_faces_of_cells_have_the_leading_that_rows_are_cut_by(self):
        shaper = pdf._shaper("a4")
        for face in ("text", "strong", "address", "number", "note", "head"):
            assert shaper.faces[face].leading == cells.LEADING


class TestApart:
    def order(self, record, **more):
        return {
            "kind": "visit",
            "record": json.dumps(record),
            "sealed": kinds.write_seal(sample.seal()),
        } | more

    def test_it_prints_the_same_bytes_as_within(self, tmp_path, monkeypatch):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", "946684800")
        record = sample.record(devices=12, zones=1)
        data, pages = printing.print_apart(**self.order(record), turns=tmp_path)
        within = pdf.render(record=record, sealed=sample.seal())
        assert (data, pages) == (within.data, within.pages)

    def test_it_says_how_far_it_is(self, tmp_path):
        said = []
        record = sample.record(devices=250, zones=1)
        printing.print_apart(
            **self.order(record),
            turns=tmp_path,
            progress=lambda rows, of: said.append((rows, of)),
        )
        assert said
        assert [rows for rows, _ in said] == sorted(rows for rows, _ in said)
        assert {of for _, of in said} == {pdf.count_rows(record)}

    def test_a_record_that_cannot_be_printed_is_said_so(self, tmp_path, caplog):
        with pytest.raises(printing.PrintingFailed, match="KeyError"):
            printing.print_apart(**self.order({"firm": {}, "devices": []}), turns=tmp_path)
        assert "Traceback" in caplog.text

    def test_no_more_print_at_once_than_there_are_cores(self, tmp_path, monkeypatch):
        import fcntl

        monkeypatch.setattr(printing.os, "sched_getaffinity", lambda _: {0})
        waited = []
        taken = open(Path(tmp_path) / "turn-0", "a")  # noqa: SIM115
        fcntl.flock(taken, fcntl.LOCK_EX)

        def progress(rows, of):
            waited.append((rows, of))
            taken.close()  # the other has ended

        printing.print_apart(
            **self.order(sample.record(devices=2, zones=1)), turns=tmp_path, progress=progress
        )
        assert waited[0] == (0, 0)

    def test_the_process_knows_no_secret(self, monkeypatch):
        monkeypatch.setenv("SECRET_KEY", "hidden")
        monkeypatch.setenv("DATABASE_URL", "postgresql://hidden")
        assert "hidden" not in str(printing._environment())
