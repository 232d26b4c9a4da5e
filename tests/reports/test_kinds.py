"""Every kind of report, before and after signing: claims of PDF/UA-1, content, hostile text."""

import io
import socket
from datetime import UTC, datetime

import pdfplumber
import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject

from contractor.reports import kinds, pdf, signing
from contractor.reports.foreseeing import foresee
from tests.reports import sample
from tests.reports.test_sheets import follow, kids, walk

KINDS = ["visit", "sensitivity", "findings", "devices"]
#: Each in every free field: HTML, files, addresses, style, drawings, templates of ours.
HOSTILE = [
    '<img src="http://192.0.2.1/a.png" onerror="x">',
    '<link rel="stylesheet" href="file:///etc/passwd">',
    "</style><style>@import url(http://192.0.2.1/a.css);</style>",
    '<svg xmlns="http://www.w3.org/2000/svg"><image href="file:///etc/hostname"/></svg>',
    '"><script>alert(1)</script>{{ record }}{% include "x" %}',
]


def read(data: bytes) -> str:
    with pdfplumber.open(io.BytesIO(data)) as opened:
        return "\n".join(page.extract_text() for page in opened.pages)


def list_faults(data: bytes) -> list[str]:
    """List what ISO 14289-1 asks for and this file lacks, of what a program can see."""
    reader = PdfReader(io.BytesIO(data))
    root, faults = reader.trailer["/Root"], []
    if not root.get("/MarkInfo", {}).get("/Marked"):
        faults.append("7.1: not marked")
    if not root.get("/Lang"):
        faults.append("7.2: no language")
    if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
        faults.append("7.1: the title is not shown")
    if b"pdfuaid:part" not in root["/Metadata"].get_data():
        faults.append("5: no claim")
    faults += [f"7.21: {name} is not embedded" for name in _loose_fonts(reader)]
    for number, page in enumerate(reader.pages, start=1):
        if _has_loose_content(page):
            faults.append(f"7.1: page {number} draws outside marks")
        for annotation in page.get("/Annots", []):
            thing = annotation.get_object()
            if "/StructParent" not in thing and not thing.get("/F", 0) & 2:
                faults.append(f"7.18: page {number} has an annotation without a tag")
    faults += _faults_of_tags(root["/StructTreeRoot"])
    return faults


def _loose_fonts(reader) -> set[str]:
    found = set()
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            font = font.get_object()
            inner = font["/DescendantFonts"][0].get_object()
            described = inner["/FontDescriptor"].get_object()
            if not {"/FontFile2", "/FontFile3", "/FontFile"} & set(described):
                found.add(str(font["/BaseFont"]))
            if "/ToUnicode" not in font:
                found.add(str(font["/BaseFont"]))
    return found


def _has_loose_content(page) -> bool:
    depth = 0
    for _, operator in page.get_contents().operations:
        if operator in (b"BDC", b"BMC"):
            depth += 1
        elif operator == b"EMC":
            depth -= 1
        elif operator in (b"Tj", b"TJ", b"f", b"S", b"B", b"f*", b"Do") and depth < 1:
            return True
    return False


def _faults_of_tags(root) -> list[str]:
    faults, level = [], 0
    for node in walk(root):
        kind = node["/S"]
        if kind == "/Figure" and not str(node.get("/Alt", "")):
            faults.append("7.3: a figure without words")
        if kind in ("/H1", "/H2", "/H3", "/H4"):
            if int(kind[2]) > level + 1:
                faults.append(f"7.4: {kind} after level {level}")
            level = int(kind[2])
        if kind == "/Table":
            wide = {
                sum(int(follow(c.get("/A", {})).get("/ColSpan", 1)) for c in map(follow, kids(row)))
                for row in walk(node)
                if row["/S"] == "/TR"
            }
            if len(wide) != 1:
                faults.append(f"7.5: a table with rows of {sorted(wide)} cells")
        if kind in ("/TD", "/TH") and follow(node["/P"])["/S"] != "/TR":
            faults.append("7.5: a cell outside a row")
        if not isinstance(node.get("/P"), IndirectObject | DictionaryObject):
            faults.append("7.1: an element without a parent")
    return faults


@pytest.fixture(scope="module")
def identity():
    return signing.make_identity(name="Tarnbeck", now=datetime.now(UTC)).pkcs12


@pytest.fixture(scope="module", params=KINDS)
def printed(request):
    record = sample.record(devices=64, zones=2, paper="a4")
    return (
        request.param,
        record,
        pdf.render(record=record, sealed=sample.seal(), kind=request.param),
    )


class TestEveryKind:
    def test_it_lacks_nothing_of_what_it_claims_before_and_after_signing(self, printed, identity):
        _, _, paper = printed
        assert list_faults(paper.data) == []
        signed = signing.sign(paper.data, identity=identity, reason="x")
        assert list_faults(signed) == []

    def test_it_says_what_to_what_by_whom_with_what_result_and_who_decides(self, printed):
        _, record, paper = printed
        text = read(paper.data).replace("\n", " ")
        for said in (
            "Tarnbeck Alarm Service",
            "Quillmarsh House",
            "14 Saltgate Row",
            "11 Mar 2026",
            "unctional test, sensitivity test",
            "NFPA 72, 2013 edition",
            "T. Varsk",
            "Saltgate Estates",
            "KH0Q-QR2J-V3SH",
            record["statement"][:40],
        ):
            assert said in text, said

    def test_it_never_says_what_only_an_authority_may_say(self, printed):
        text = read(printed[2].data).lower()
        assert "certified" not in text
        assert "compliant" not in text

    def test_each_page_bears_fingerprint_and_code(self, printed):
        with pdfplumber.open(io.BytesIO(printed[2].data)) as opened:
            for page in opened.pages:
                text = page.extract_text()
                assert "code KH0Q-QR2J-V3SH" in text
                assert "9c41 7be0 52d8 f316" in text

    def test_its_seal_never_stands_alone_on_a_page(self, printed):
        head = "Is this report genuine?"
        with pdfplumber.open(io.BytesIO(printed[2].data)) as opened:
            (text,) = [t for page in opened.pages if head in (t := page.extract_text())]
        assert len(text.partition(head)[0].splitlines()) >= 2

    def test_nothing_runs_off_the_paper(self, printed):
        with pdfplumber.open(io.BytesIO(printed[2].data)) as opened:
            for page in opened.pages:
                assert max(char["x1"] for char in page.chars) < page.width - 20
                assert min(char["x0"] for char in page.chars) > 20


class TestContent:
    def test_the_sensitivity_report_has_its_instruments_dates_and_forecast(self):
        record = sample.record(devices=64, zones=2)
        text = read(pdf.render(record=record, sealed=sample.seal(), kind="sensitivity").data)
        for said in (
            "calibrated 15 Jan 2026, to 5 Dec 2026",
            "Listed control equipment",
            "By 11 Mar 2031",
            "the longer interval of five years",
            "8 of 10 futures lie in the hatching",
            "even ",
        ):
            assert said in text, said

    def test_the_full_report_has_its_impairments_as_a_part_of_their_own(self):
        record = sample.record(devices=3, zones=1)
        text = " ".join(read(pdf.render(record=record, sealed=sample.seal()).data).split())
        for said in (
            "Impairments",
            "from 3 Feb 2026, 07:40 EST to 3 Feb 2026, 18:10 EST, 10.5 hours",
            "Cable spliced in ceiling 3.12",
            "20 rounds, 3 Feb 2026, 08:00 EST to 3 Feb 2026, 17:30 EST, by O. Brandt, K. Liss",
            "Port Ellory fire prevention office, 3 Feb 2026, 07:50 EST",
            "All 41 devices of the loop tested again",
        ):
            assert said in text, said

    def test_the_findings_letter_parts_open_from_put_right(self):
        record = sample.record(devices=9, zones=1)
        record["findings"].append(
            record["findings"][0]
            | {
                "title": "Horn silent",
                "severity": "impairment",
                "severity_words": "impairment",
                "corrected_on": "2026-03-11",
                "correction": "new horn, heard",
            }
        )
        text = read(pdf.render(record=record, sealed=sample.seal(), kind="findings").data)
        assert "1 thing to be put right." in text
        assert "put right 11 Mar 2026: new horn, heard" in text.replace("\n", " ")
        assert "fire watch" not in text

    def test_only_what_there_is_is_offered(self):
        record = sample.record(devices=7, zones=1)
        assert kinds.list_kinds(record) == KINDS
        for device in record["devices"]:
            device["readings"], device["result"] = [], "pass"
        record["findings"] = []
        assert kinds.list_kinds(record) == ["visit", "devices"]


class TestForecast:
    def test_it_rests_on_the_record_alone_and_is_the_same_each_time(self):
        record = sample.record(devices=64, zones=2)
        on = datetime(2026, 3, 11).date()
        drawn = {record["devices"][3]["id"]}
        one, two = (foresee(record, on=on, drawn=drawn) for _ in range(2))
        assert one == two
        said = one[record["devices"][3]["id"]]
        assert said.p10 <= said.p50 <= said.p90
        assert said.p50 > on
        assert len(said.future) > 5

    def test_a_detector_at_its_limit_is_not_foreseen(self):
        record = sample.record(devices=64, zones=2)
        said = foresee(record, on=datetime(2026, 3, 11).date(), drawn=set())
        assert record["devices"][5]["id"] not in said

    def test_a_record_without_readings_has_no_forecast(self):
        record = sample.record(devices=3, zones=1)
        for device in record["devices"]:
            device["history"] = []
        assert foresee(record, on=datetime(2026, 3, 11).date(), drawn=set()) == {}


def poison(value, text):
    """Put a hostile text into every free field of a record."""
    kept = {"id", "result", "stage", "verdict", "severity", "kind", "format", "time_zone", "paper"}
    if isinstance(value, dict):
        return {k: v if k in kept or _is_day(v) else poison(v, text) for k, v in value.items()}
    if isinstance(value, list):
        return [poison(one, text) for one in value]
    return text if isinstance(value, str) and value else value


def _is_day(value) -> bool:
    return isinstance(value, str) and value[:4].isdigit() and value[4:5] == "-"


class TestHostile:
    @pytest.mark.parametrize("kind", KINDS)
    @pytest.mark.parametrize("text", HOSTILE)
    def test_it_is_printed_as_it_stands_and_nothing_is_fetched(self, kind, text, monkeypatch):
        def refuse(*address, **_):
            raise AssertionError(f"a report opened {address}")

        asked = []
        fetch = pdf.OwnFiles.fetch

        def watched(self, url, headers=None):
            asked.append(url)
            return fetch(self, url, headers)

        monkeypatch.setattr(socket.socket, "connect", refuse)
        monkeypatch.setattr(socket, "create_connection", refuse)
        monkeypatch.setattr(pdf.OwnFiles, "fetch", watched)
        record = poison(sample.record(devices=4, zones=1), text)
        paper = pdf.render(record=record, sealed=sample.seal(), kind=kind)
        assert {url.split(":")[0] for url in asked} == {"driftbook"}
        plain = "".join(read(paper.data).split())
        assert "".join(text.split())[:14] in plain
        assert b"root:" not in paper.data
