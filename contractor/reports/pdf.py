"""Render a sealed record as a tagged PDF, from nothing but the record and our own files."""

import functools
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import segno
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from contractor.reports import codes, contents, detectors, outages, sheets, tables
from contractor.web.charts.printing import colour, tokens

VISIT, SENSITIVITY, FINDINGS, DEVICES = "visit", "sensitivity", "findings", "devices"
#: Tagged for readers of screens: PDF/UA-1 (ISO 14289-1).
VARIANT = "pdf/ua-1"
_STATIC = Path(__file__).resolve().parents[2] / "static"
_FONTS = (
    "familjen-grotesk.woff2",
    "atkinson-hyperlegible-next.woff2",
    "atkinson-hyperlegible-mono.woff2",
)
LOGO = "driftbook:/logo.png"
_SIZES = {"a4": "A4", "letter": "letter"}
#: The faces of the sheets; paper.css says what each is.
FACES = ("text", "strong", "address", "number", "head", "kind", "note", "title", "part")
Progress = Callable[[int], None]
_GLYPH = re.compile(r'(<svg class="glyph"[^>]*>)')


@dataclass(frozen=True)
class Sealed:
    """What is printed beside the record itself: its seal."""

    record_hash: str
    chain_number: int
    chain_hash: str
    sealed_at: datetime
    edited: contents.Edited | None = None
    verify_at: str = ""  # where anyone may ask whether it is genuine

    @property
    def code(self) -> str:
        """The code that a person types there, in groups."""
        return codes.say_code(codes.make_code(self.record_hash))

    @property
    def square(self) -> SafeString:
        """The address with the code, as a square for a phone's camera."""
        if not self.verify_at:
            return SafeString("")
        address = f"{self.verify_at}?code={codes.make_code(self.record_hash)}"
        drawn = segno.make(address, error="m").svg_inline(scale=1, border=0, dark=colour("ink"))
        size = re.search(r'width="(\d+)"', drawn)
        assert size is not None
        title = "<title>Square code: where this report can be checked</title>"
        drawn = re.sub(
            r"<svg [^>]*>",
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size[1]} {size[1]}"'
            f' width="118" height="118">{title}',
            drawn,
            count=1,
        )
        return mark_safe(drawn)


@dataclass(frozen=True)
class Paper:
    """A rendered report."""

    data: bytes
    pages: int


@cache
def _own_files() -> dict[str, tuple[bytes, str]]:
    """Hold everything that a report may ask for: two style sheets, three faces."""
    rules = "".join(f"{name}:{value};" for name, value in tokens().items())
    files = {
        f"driftbook:/fonts/{name}": ((_STATIC / "vendor" / "fonts" / name).read_bytes(), "font")
        for name in _FONTS
    }
    files["driftbook:/paper.css"] = ((_STATIC / "reports" / "paper.css").read_bytes(), "text/css")
    files["driftbook:/tokens.css"] = (f":root{{{rules}}}".encode(), "text/css")
    for key, size in _SIZES.items():
        files[f"driftbook:/{key}.css"] = (f"@page{{size:{size}}}".encode(), "text/css")
    return files


class OwnFiles(URLFetcher):
    """Serve our own files and the firm's logo from memory, and refuse every other address.

    What people have typed ends in reports; no address in it may reach a disk or a network.
    """

    def __init__(self, logo: bytes = b"") -> None:
        super().__init__()
        self._files = _own_files() | ({LOGO: (logo, "image/png")} if logo else {})

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        """Answer one of our files.

        Raises
        ------
        ValueError
            If it is any other address.
        """
        if url not in self._files:
            raise ValueError(f"A report asks for nothing but its own files, not for {url[:80]}.")
        data, kind = self._files[url]
        kind = "font/woff2" if kind == "font" else kind
        return URLFetcherResponse(url, data, {"Content-Type": kind})


@cache
def _specimen(paper: str) -> str:
    """Write one element in each face of the sheets, on the paper of the report."""
    return render_to_string("reports/paper/specimen.html", {"paper": paper, "faces": FACES})


def choose_paper(record: contents.Record) -> str:
    """Choose the firm's paper; what is unknown is Letter."""
    paper = record["firm"].get("paper") or "letter"
    return paper if paper in _SIZES else "letter"


def list_sheets(
    record: contents.Record, *, kind: str = VISIT, foreseen: Mapping[str, Any] | None = None
) -> list[sheets.Sheet]:
    """List the long tables of a report, in their order."""
    if kind == SENSITIVITY:
        return [tables.sensitivity(record, foreseen)]
    if kind == DEVICES:
        return [tables.devices(record)]
    if kind == FINDINGS:
        return []
    found = [tables.inventory(record)]
    if record["counts"]["failed"] + record["counts"]["not_tested"] > contents.MOST_ON_COVER:
        found.insert(0, tables.absent(record))
    if any(one.get("readings") for one in record["devices"]):
        found.append(tables.sensitivity(record))
    return found


def count_rows(record: contents.Record, *, kind: str = VISIT) -> int:
    """Count the rows of a report's long tables, for its progress."""
    read = sum(bool(one.get("readings")) for one in record["devices"])
    listed = len(record["devices"])
    return {SENSITIVITY: read, DEVICES: listed, FINDINGS: 0}.get(kind, listed + read)


def write_html(
    *,
    record: contents.Record,
    sealed: Sealed,
    composed: Sequence[sheets.Composed] = (),
    kind: str = VISIT,
    foreseen: Mapping[str, Any] | None = None,
    has_logo: bool = False,
) -> str:
    """Write a report as HTML; every text in it is escaped by the templates.

    Each page of a composed sheet gets an empty place.
    """
    on, began = contents.day_of(record), contents.as_day(record["visit"]["began_on"])
    absent, soiled = contents.list_absent(record), []
    if kind in (VISIT, SENSITIVITY):
        soiled = detectors.list_soiled(record, on=on, foreseen=foreseen)
    zones, nexts = contents.list_zones(record), detectors.list_next(record)
    paper, wrong = choose_paper(record), contents.list_wrong(record)
    context = {
        "record": record,
        "sealed": sealed,
        "has_logo": has_logo,
        "paper": paper,
        "fingerprint": contents.group(sealed.record_hash),
        "sealed_at": contents.say_instant(sealed.sealed_at, record),
        "edited_at": contents.say_instant(sealed.edited.sealed_at, record) if sealed.edited else "",
        "chain": contents.group(sealed.chain_hash),
        "on": on,
        "began": began if began != on else None,
        "answer": contents.say_answer(record),
        "readings_answer": detectors.say_readings(record),
        "is_foreseen": foreseen is not None,
        "strokes": contents.strokes(zones),
        # The drawing is as wide as the page's text: A4 and Letter differ.
        "wide": 540 if paper == "a4" else 562,
        "detectors": sum(bool(one.get("readings")) for one in record["devices"]),
        "absent": [
            (device, contents.say_why(device)) for device in absent[: contents.MOST_ON_COVER]
        ],
        "absent_count": len(absent),
        "most_on_cover": contents.MOST_ON_COVER,
        "nexts": nexts,
        "most": max(nexts, key=lambda one: len(one.addresses), default=None),
        "most_addresses": contents.MOST_ADDRESSES,
        "soiled": soiled[: detectors.MOST_DRAWINGS],
        "soiled_left_out": soiled[detectors.MOST_DRAWINGS :],
        "cover_clauses": contents.sum_up_clauses(record),
        "clauses": contents.list_clauses(record),
        "tools": contents.list_tools(record),
        "absent_left": len(absent) - contents.MOST_ON_COVER,
        "findings": wrong,
        "outages": outages.list_outages(record),
        "open_findings": [one for one in wrong if one.corrected is None],
        "closed_findings": [one for one in wrong if one.corrected is not None],
        "impaired": any(one.shape == "impairment" and one.corrected is None for one in wrong),
        **_places(composed),
    }
    return name_glyphs(render_to_string(f"reports/paper/{kind}.html", context))


def name_glyphs(html: str) -> str:
    """Name each shape: it repeats the word beside it, but tagged as a figure it needs a name."""
    return _GLYPH.sub(r"\1<title>mark</title>", html)


def _places(composed: Sequence[sheets.Composed]) -> dict[str, Any]:
    """Name an empty place for each page of each sheet; what follows stands below the last."""
    rules, places = [], {}
    for sheet in composed:
        places[sheet.key] = [f"leaf-{sheet.key}-{at}" for at in range(len(sheet.leaves))]
        rules.append(f"#{places[sheet.key][-1]}{{height:{sheet.leaves[-1].height:.2f}px}}")
    return {"places": places, "heights": mark_safe("".join(rules))}


@dataclass(frozen=True)
class Draft:
    """A report that is written, its long tables laid out; the record is not needed any more."""

    html: str
    composed: list[sheets.Composed]
    shaper: sheets.Shaper
    identifier: str
    logo: bytes = b""

    def print(self) -> Paper:
        """Lay the pages out and write the PDF."""
        return print_html(
            self.html,
            identifier=self.identifier,
            composed=self.composed,
            shaper=self.shaper,
            logo=self.logo,
        )


def draft(
    *,
    record: contents.Record,
    sealed: Sealed,
    kind: str = VISIT,
    progress: Progress | None = None,
    foreseen: Mapping[str, Any] | None = None,
    logo: bytes = b"",
) -> Draft:
    """Write a record's report of a kind and lay out its long tables.

    `progress` is told how many rows are laid out; `foreseen` is reckoned here if it is not given.
    """
    if kind == SENSITIVITY and foreseen is None:
        # Its arithmetic takes memory that the other kinds do not need.
        from contractor.reports.foreseeing import foresee

        drawn = set(detectors.list_fullest(record))
        foreseen = foresee(record, on=contents.day_of(record), drawn=drawn)
    shaper = _shaper(choose_paper(record))
    composed, done = [], 0
    for sheet in list_sheets(record, kind=kind, foreseen=foreseen):
        said = functools.partial(_add, progress, done) if progress else None
        composed.append(sheets.compose(sheet, shaper, progress=said))
        done += composed[-1].rows
    html = write_html(
        record=record,
        sealed=sealed,
        composed=composed,
        kind=kind,
        foreseen=foreseen,
        has_logo=bool(logo),
    )
    return Draft(html, composed, shaper, sealed.record_hash, logo)


def draft_html(html: str, *, paper: contents.Record, identifier: str, logo: bytes = b"") -> Draft:
    """Make a report of HTML alone ready to print, without long tables."""
    return Draft(html, [], _shaper(choose_paper(paper)), identifier, logo)


def render(
    *, record: contents.Record, sealed: Sealed, kind: str = VISIT, logo: bytes = b""
) -> Paper:
    """Render a record's report; the same record gives the same pages."""
    return draft(record=record, sealed=sealed, kind=kind, logo=logo).print()


def _shaper(paper: str) -> sheets.Shaper:
    return sheets.Shaper(html=_specimen(paper), base_url="driftbook:/", fetcher=OwnFiles())


def _add(progress: Progress, before: int, rows: int) -> None:
    progress(before + rows)


def print_html(
    html: str,
    *,
    identifier: str,
    composed: Sequence[sheets.Composed] = (),
    shaper: sheets.Shaper | None = None,
    logo: bytes = b"",
) -> Paper:
    """Lay HTML out as pages, draw the sheets on theirs, and write the PDF.

    Its identifier is the record's hash.
    """
    faces = shaper.font_config if shaper else FontConfiguration()
    document = HTML(string=html, base_url="driftbook:/", url_fetcher=OwnFiles(logo)).render(
        font_config=faces, pdf_variant=VARIANT, pdf_tags=True
    )
    bound = sheets.Bound(document, list(composed), shaper or _shaper("letter"))
    data = bound.write_pdf(variant=VARIANT, identifier=bytes.fromhex(identifier)[:16])
    return Paper(data=data, pages=len(document.pages))
