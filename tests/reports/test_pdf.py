"""The printed report, read back from its bytes."""

import io
import socket

import pdfplumber
import pytest
from PIL import Image
from pypdf import PdfReader

from contractor.reports import contents, pdf, queries
from contractor.tenancy.models import FirmProfile
from tests.reports import flow, sample, tampering
from tests.reports.test_kinds import list_faults


def read(paper: pdf.Paper) -> list[str]:
    with pdfplumber.open(io.BytesIO(paper.data)) as opened:
        return [page.extract_text() for page in opened.pages]


@pytest.fixture(scope="module")
def printed():
    return pdf.render(record=sample.record(devices=60, zones=2), sealed=sample.seal())


@pytest.fixture(scope="module")
def pages(printed):
    return read(printed)


class TestContent:
    # The seven items that every record must hold. Source: The Joint Commission, EC.02.03.05
    # EP 28, as restated in its published FAQ.
    @pytest.mark.parametrize(
        "item",
        [
            "functional test, sensitivity test",  # activity
            "11 Mar 2026",  # date
            "functional test: annual; sensitivity test: by its interval",  # required frequency
            "T. Varsk, technician, TX-4471",  # who
            "all of Tarnbeck Alarm Service (invented), 555 0100",  # contact and affiliation
            "NFPA 72, 2013 edition",  # standard with edition,
            "Table 14.4.3.2",  # and section
            "Of 60 devices, 56 passed, 2 failed and 2 were not tested.",  # results
        ],
    )
    def test_the_first_pages_hold_each_mandatory_item(self, pages, item):
        assert item in " ".join(pages[:2]).replace("\n", " ")

    def test_every_device_is_named_with_its_place_and_result(self, pages):
        text = "\n".join(pages)
        for at in range(60):
            zone = at * 2 // 60 + 1
            assert f"{zone}-{at:03d} Kitchen corridor {at}" in text

    def test_what_was_not_tested_stands_on_the_first_page_with_its_reason(self, pages):
        assert pages[0].count("not tested Roof closed, ice") == 2

    def test_many_absent_devices_come_before_everything_that_passed(self):
        record = sample.record(devices=200)
        text = read(pdf.render(record=record, sealed=sample.seal()))
        told = next(at for at, page in enumerate(text) if "Each is listed with its reason" in page)
        listed = next(at for at, page in enumerate(text) if page.count("Roof closed, ice") > 8)
        inventory = next(at for at, page in enumerate(text) if "Every device, with" in page)
        assert told < listed < inventory
        assert (
            "\n".join(text[listed:inventory]).count("Roof closed, ice")
            == (record["counts"]["not_tested"])
        )

    def test_each_reading_stands_with_range_share_verdict_and_next_test(self, pages):
        text = "\n".join(pages)
        assert "1-003 Kitchen corridor 3 1.0–3.5 2.5 1.00 80 % nearing 11 Mar 2031" in text

    def test_the_next_test_says_why(self, pages):
        text = " ".join(pages).replace("\n", " ")
        assert "By 11 Mar 2031: 52 detectors, the longer interval of five years" in text
        assert "10 Mar 2020: in range; 11 Mar 2022: in range, the second required test." in text

    def test_instruments_notifications_cautions_and_the_authority_are_printed(self, pages):
        text = " ".join(pages).replace("\n", " ")
        for said in (
            "serial ST-0207: calibrated 15 Jan 2026, to 5 Dec 2026",
            "Before: Station told at 7:42",
            "After: Station told at 15:20",
            "What was not tested is listed with its reason",
            "for the authority having jurisdiction to decide",
            "from memory, check against a licensed copy",
        ):
            assert said in text

    def test_it_never_says_what_only_an_authority_may_say(self, pages):
        text = "\n".join(pages).lower()
        assert "certified" not in text
        assert "compliant" not in text

    def test_an_instrument_or_licence_that_is_missing_is_said_to_be_missing(self):
        record = sample.record(devices=3, zones=1)
        record["instruments"] = []
        text = "\n".join(read(pdf.render(record=record, sealed=sample.seal())))
        assert "No instrument was used on this visit." in text
        assert "no licence on file" in text


def test_the_same_record_gives_the_same_pages():
    record = sample.record(devices=8, zones=2)
    first, again = (pdf.render(record=record, sealed=sample.seal()) for _ in range(2))
    assert read(first) == read(again)
    assert (
        PdfReader(io.BytesIO(first.data)).trailer["/ID"][0]
        == (PdfReader(io.BytesIO(again.data)).trailer["/ID"][0])
    )


@pytest.fixture(scope="module")
def logo():
    target = io.BytesIO()
    Image.new("RGBA", (900, 300), (20, 60, 120, 255)).save(target, "PNG")
    return target.getvalue()


class TestLogo:
    @pytest.mark.parametrize("kind", [*tampering.KINDS])
    def test_it_stands_at_the_head_of_each_kind_named_and_small(self, kind, logo):
        with_it, without = (tampering.print_sample(kind, logo=data) for data in (logo, b""))
        page = PdfReader(io.BytesIO(with_it)).pages[0]
        assert [image.image.size for image in page.images] == [(900, 300)]
        with pdfplumber.open(io.BytesIO(with_it)) as opened:
            [drawn] = opened.pages[0].images
            words = opened.pages[0].extract_text()
        assert drawn["x1"] - drawn["x0"] < 90  # [pt], the width of the margin
        assert "Tarnbeck" in words
        assert list_faults(with_it) == []
        assert not PdfReader(io.BytesIO(without)).pages[0].images

    def test_what_was_sealed_keeps_its_logo_when_the_firm_takes_another(
        self, building, office, technician, now, firm, logo
    ):
        FirmProfile.objects.update(logo=logo)
        record = flow.sign_visit(building=building, office=office, technician=technician, now=now)
        FirmProfile.objects.update(logo=None)

        assert queries.fetch_logo(firm_id=firm.pk, text=record.body) == logo


class TestAmendment:
    def test_it_says_why_what_it_replaces_and_what_changed(self):
        edited = contents.Edited(
            revision=1,
            fingerprint="1234 5678",
            sealed_at=sample.SEALED_AT,
            changes=({"what": "1-005 Kitchen corridor 5", "old": "pass", "new": "fail: soiled"},),
        )
        record = sample.record(devices=10, revision=2, reason="Wrong detector was noted")
        text = read(pdf.render(record=record, sealed=sample.seal(edited=edited)))[0]
        for said in (
            "This is revision 2, an amendment",
            "Why: Wrong detector was noted",
            "It replaces revision 1",
            "1234 5678",
            "1-005 Kitchen corridor 5: was pass; now fail: soiled",
        ):
            assert said in text.replace("\n", " ")

    def test_a_first_revision_names_no_amendment(self, pages):
        assert "amendment" not in "\n".join(pages)


class TestPages:
    def test_each_foot_says_building_day_revision_fingerprint_and_page(self, printed, pages):
        assert printed.pages == len(pages) > 5
        for number, text in enumerate(pages, start=1):
            assert "Quillmarsh House, visit of 11 Mar 2026, revision 1" in text
            assert contents.group(sample.HASH) in text
            assert f"page {number} of {len(pages)}" in text

    # ISO 216: A4 is 210 by 297 mm. ANSI Y14.1: Letter is 8.5 by 11 in. A point is 1/72 in.
    @pytest.mark.parametrize(
        ("paper", "width", "height"), [("a4", 595.28, 841.89), ("letter", 612, 792)]
    )
    def test_the_paper_is_the_firms(self, paper, width, height):
        record = sample.record(devices=5, zones=1, paper=paper)
        page = PdfReader(io.BytesIO(pdf.render(record=record, sealed=sample.seal()).data)).pages[0]
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.5)
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.5)

    def test_heads_repeat_where_a_table_goes_on(self):
        record = sample.record(devices=90, zones=1)
        text = read(pdf.render(record=record, sealed=sample.seal()))
        going_on = [
            page.splitlines()[0] for page in text if "1-0" in page and "Every device" not in page
        ]
        assert sum(line.startswith("address place") for line in going_on) >= 2

    def test_a_long_text_does_not_run_out_of_its_column(self):
        record = sample.record(devices=8, zones=1)
        record["devices"][0]["label"] = "Mittelspannungsschaltanlagenraum" * 4
        record["devices"][1]["address"] = "west-loop-2-114-" * 2
        paper = pdf.render(record=record, sealed=sample.seal())
        with pdfplumber.open(io.BytesIO(paper.data)) as opened:
            for page in opened.pages:
                assert max(char["x1"] for char in page.chars) < page.width - 30


class TestTags:
    # ISO 14289-1 (PDF/UA-1): 7.1 marked content and structure, 7.2 language, 5 identification.
    def test_it_is_tagged_and_says_its_language_and_title(self, printed):
        reader = PdfReader(io.BytesIO(printed.data))
        root = reader.trailer["/Root"]
        assert "/StructTreeRoot" in root
        assert root["/MarkInfo"]["/Marked"]
        assert root["/Lang"] == "en"
        assert root["/ViewerPreferences"]["/DisplayDocTitle"]
        assert reader.metadata.title.startswith("Inspection and test report: Quillmarsh House")
        assert b"pdfuaid:part" in root["/Metadata"].get_data()

    def test_every_figure_is_named(self, printed):
        reader = PdfReader(io.BytesIO(printed.data))
        found, unnamed = 0, 0
        for number in range(1, int(reader.trailer["/Size"])):
            thing = reader.get_object(number)
            if isinstance(thing, dict) and thing.get("/S") == "/Figure":
                found += 1
                unnamed += not str(thing.get("/Alt", ""))
        assert found > 60
        assert unnamed == 0

    def test_tables_have_heads_and_headings_skip_no_level(self, printed):
        reader = PdfReader(io.BytesIO(printed.data))
        kinds = []
        for number in range(1, int(reader.trailer["/Size"])):
            thing = reader.get_object(number)
            if isinstance(thing, dict) and thing.get("/Type") == "/StructElem":
                kinds.append(thing.get("/S"))
        assert {"/Table", "/THead", "/TH", "/TD", "/H1", "/H2"} <= set(kinds)
        assert kinds.count("/H1") == 1


class TestFetching:
    @pytest.mark.parametrize(
        "address",
        [
            "file:///etc/hostname",
            "http://example.org/x.png",
            "https://example.org/x.png",
            "ftp://example.org/x",
            "data:image/png;base64,AAAA",
            "driftbook:/../../etc/hostname",
            "driftbook:/fonts/other.woff2",
        ],
    )
    def test_it_refuses_every_address_but_its_own(self, address):
        with pytest.raises(ValueError, match="nothing but its own files"):
            pdf.OwnFiles().fetch(address)

    def test_it_serves_its_own_faces(self):
        answer = pdf.OwnFiles().fetch("driftbook:/fonts/familjen-grotesk.woff2")
        assert answer.read()[:4] == b"wOF2"

    def test_what_people_typed_is_printed_as_it_stands(self, monkeypatch):
        monkeypatch.setattr(socket, "create_connection", self.refuse)
        record = sample.record(devices=3, zones=1)
        typed = '<img src="http://example.org/a.png"><style>@import "file:///etc/hostname";</style>'
        record["devices"][0]["label"] = typed
        record["visit"]["notified_before"] = typed
        html = pdf.write_html(record=record, sealed=sample.seal())
        assert "<img" not in html
        text = "\n".join(read(pdf.render(record=record, sealed=sample.seal())))
        assert "<img" in text

    def test_even_an_address_that_got_through_reaches_nothing(self, monkeypatch):
        asked = []
        monkeypatch.setattr(socket, "create_connection", self.refuse)
        fetch = pdf.OwnFiles.fetch

        def watched(self, url, headers=None):
            asked.append(url)
            return fetch(self, url, headers)

        monkeypatch.setattr(pdf.OwnFiles, "fetch", watched)
        pdf.print_html(
            '<html lang="en"><title>x</title><style>@import "http://example.org/a.css";</style>'
            '<img alt="x" src="file:///etc/hostname"><img alt="x" src="http://example.org/a.png">',
            identifier=sample.HASH,
        )
        assert "file:///etc/hostname" in asked
        assert "http://example.org/a.png" in asked
        assert "http://example.org/a.css" in asked

    @staticmethod
    def refuse(*address, **_more):
        raise AssertionError(f"a report opened a connection to {address}")
