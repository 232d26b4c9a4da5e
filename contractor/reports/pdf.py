"""Render a sealed record as a tagged PDF, from nothing but the record and our own files."""

import re
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from contractor.reports import contents
from contractor.web import charts
from contractor.web.charts.printing import tokens

#: Tagged for readers of screens: PDF/UA-1 (ISO 14289-1).
VARIANT = "pdf/ua-1"
_STATIC = Path(__file__).resolve().parents[2] / "static"
_FONTS = (
    "familjen-grotesk.woff2",
    "atkinson-hyperlegible-next.woff2",
    "atkinson-hyperlegible-mono.woff2",
)
_SIZES = {"a4": "A4", "letter": "letter"}
_GLYPH = re.compile(r'(<svg class="glyph"[^>]*>)')


@dataclass(frozen=True)
class Sealed:
    """What is printed beside the record itself: its seal."""

    record_hash: str
    chain_number: int
    chain_hash: str
    sealed_at: datetime
    edited: contents.Edited | None = None


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
    """Serve our own files from memory and refuse every other address.

    What people have typed ends in reports; no address in it may reach a disk or a network.
    """

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        """Answer one of our files.

        Raises
        ------
        ValueError
            If it is any other address.
        """
        if url not in _own_files():
            raise ValueError(f"A report asks for nothing but its own files, not for {url[:80]}.")
        data, kind = _own_files()[url]
        kind = "font/woff2" if kind == "font" else kind
        return URLFetcherResponse(url, data, {"Content-Type": kind})


def write_html(*, record: contents.Record, sealed: Sealed) -> str:
    """Write the report as HTML; every text in it is escaped by the templates."""
    on, began = contents.day_of(record), contents.as_day(record["visit"]["began_on"])
    absent, soiled = contents.list_absent(record), contents.list_soiled(record, on=on)
    zones, nexts = contents.list_zones(record), contents.list_next(record)
    fingerprint = contents.group(sealed.record_hash)
    paper = record["firm"].get("paper") or "letter"
    context = {
        "record": record,
        "sealed": sealed,
        "paper": paper if paper in _SIZES else "letter",
        "fingerprint": fingerprint,
        "sealed_at": contents.say_instant(sealed.sealed_at, record),
        "edited_at": contents.say_instant(sealed.edited.sealed_at, record) if sealed.edited else "",
        "chain": contents.group(sealed.chain_hash),
        "on": on,
        "began": began if began != on else None,
        "answer": contents.say_answer(record),
        "strokes": contents.strokes(zones),
        # The drawing is as wide as the page's text: A4 and Letter differ.
        "wide": 540 if paper == "a4" else 562,
        "zones": zones,
        "reading_zones": [zone for zone in zones if zone.rows],
        "detectors": sum(len(zone.rows) for zone in zones),
        "absent": [(device, contents.say_why(device)) for device in absent],
        "most_on_cover": contents.MOST_ON_COVER,
        "nexts": nexts,
        "most": max(nexts, key=lambda one: len(one.addresses), default=None),
        "soiled": soiled[: contents.MOST_DRAWINGS],
        "soiled_left_out": soiled[contents.MOST_DRAWINGS :],
        "cover_clauses": contents.sum_up_clauses(record),
        "clauses": contents.list_clauses(record),
        "tools": contents.list_tools(record),
        "findings": contents.list_wrong(record),
        "axis": charts.RangeAxis(),
    }
    html = render_to_string("reports/paper/visit.html", context)
    # A shape repeats the word beside it; tagged as a figure, it must still be named.
    return _GLYPH.sub(r"\1<title>mark</title>", html)


def render(*, record: contents.Record, sealed: Sealed) -> Paper:
    """Render a record's report; the same record gives the same pages."""
    return print_html(
        write_html(record=record, sealed=sealed),
        identifier=sealed.record_hash,
    )


def print_html(html: str, *, identifier: str) -> Paper:
    """Lay HTML out as pages and write the PDF; its identifier is the record's hash."""
    faces = FontConfiguration()
    document = HTML(string=html, base_url="driftbook:/", url_fetcher=OwnFiles()).render(
        font_config=faces, pdf_variant=VARIANT, pdf_tags=True
    )
    data = document.write_pdf(
        pdf_variant=VARIANT, pdf_tags=True, pdf_identifier=bytes.fromhex(identifier)[:16]
    )
    return Paper(data=data, pages=len(document.pages))
