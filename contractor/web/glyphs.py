"""Draw every state of the product as one shape on an 18 px grid, and say its one word."""

import functools
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe


class UnknownGlyph(LookupError):
    """A page asks for a shape or a state that nobody has drawn."""


@dataclass(frozen=True, kw_only=True)
class State:
    """One state: its word, its shape, the colour it may use, and what it says in a sentence."""

    word: str
    glyph: str
    tone: str
    means: str


# Strokes are 1.6 and take the colour of the text around them; "solid" parts are filled instead.
SHAPES: dict[str, str] = {
    # A thing between two marks.
    "in_range": '<path d="M2 3v12M16 3v12"/><circle class="solid" cx="9" cy="9" r="3.2"/>',
    "nearing_limit": (
        '<path d="M2 3v12"/><path class="solid" d="M12.2 5.2a3.8 3.8 0 0 0 0 7.6z"/>'
        '<path d="M14.2 3v12" stroke-width="4"/>'
    ),
    "out_of_range": (
        '<path d="M1.6 3v12M7.6 3v12"/><path class="solid" d="M13.4 4.6l3.6 4.4-3.6 4.4L9.8 9z"/>'
    ),
    "not_judged": '<path d="M2 3v12M16 3v12"/><path d="M4.8 9h8.4" stroke-dasharray="1.8 1.5"/>',
    # A thing that waits in a tray.
    "later": '<path d="M2 8v7.2h14V8"/><path d="M4 4h10" stroke-dasharray="2 2"/>',
    "due": '<path d="M2 7v8.2h14V7"/><circle cx="9" cy="7.4" r="3.4" stroke-width="1.8"/>',
    "overdue": (
        '<path d="M1 8.4v6.8h9.4V8.4"/><path d="M14.4 11.6v4" stroke-dasharray="1.6 1.2"/>'
        '<path class="solid" d="M14.4 1.6l3 4.2-3 4.2-3-4.2z"/>'
    ),
    "done": '<path d="M2 7v8.2h14V7"/><path class="solid" d="M4.4 6h9.2v7H4.4z"/>',
    "no_record": (
        '<path d="M2 7v8.2h14V7"/><circle cx="9" cy="7.4" r="3.4" stroke-dasharray="2.1 1.46"/>'
    ),
    # What a test said.
    "not_tested": '<circle cx="9" cy="9" r="6.4" stroke-dasharray="2.6 2.43"/>',
    "pass": '<path d="M2.6 9.6l4.2 4.2 8.6-9" stroke-width="2.4"/>',
    "fail": '<path d="M4 4l10 10M14 4L4 14" stroke-width="2.4"/>',
    # Findings.
    "impairment": (
        '<path d="M.8 9h5.4M11.8 9h5.4" stroke-width="2.2"/><path d="M6.6 4v10M11.4 4v10"/>'
    ),
    "critical_deficiency": (
        '<path d="M2.6 2v15"/><path class="solid" d="M2.6 2.4h14l-4 4 4 4h-14z"/>'
    ),
    "deficiency": '<path d="M2.6 2v15"/><path d="M2.6 3.2h12.6l-3.4 3.4 3.4 3.4H2.6"/>',
    "noncritical": '<path d="M3.6 2v15"/><path d="M3.6 4.6h6.6" stroke-width="3"/>',
    # Where an entry is.
    "not_saved": '<path d="M4 4l10 10M14 4L4 14" stroke-width="2.4"/>',
    "on_tablet": (
        '<rect x="4" y="1.6" width="10" height="14.8" rx="1.6"/>'
        '<circle class="solid" cx="9" cy="9" r="2.2"/>'
    ),
    "sent": '<path d="M2 9v6.8h14V9"/><path d="M9 12.4V2.4M5.4 5.8L9 2.2l3.6 3.6"/>',
    "needs_attention": (
        '<rect x="4" y="1.6" width="10" height="14.8" rx="1.6"/>'
        '<path d="M9 4.8v4.6" stroke-width="2.2"/><circle class="solid" cx="9" cy="12.6" r="1.3"/>'
    ),
    "no_signal": (
        '<path d="M2.4 15v-2.6M6.6 15v-5.2M10.8 15V7M15 15V4"/><path d="M1.6 3l14.8 12"/>'
    ),
    # A row of a print-out, against the list.
    "same": '<path d="M9 2.4v13.2" stroke-width="2.6"/>',
    "changed": '<path d="M5.4 2.4v13.2M12.6 2.4v13.2" stroke-width="2.4"/>',
    "new": '<path d="M9 2.6v12.8M2.6 9h12.8" stroke-width="2.4"/>',
    "problem": '<path class="solid" d="M9 1.6l5 7.4-5 7.4L4 9z"/>',
    # Causes of unwanted alarms.
    "nuisance": '<path class="solid" d="M3 3h12v12H3z"/>',
    "unintentional": '<path d="M3.8 3.8h10.4v10.4H3.8z" stroke-width="1.8"/>',
    "malicious": '<path d="M2.6 4h12.8L9 14.6z" stroke-width="1.8"/>',
    "unknown": '<path d="M3.8 3.8h10.4v10.4H3.8z" stroke-dasharray="2.2 1.95"/>',
    # Marks of the drawings, for their legends.
    "bead": '<circle class="solid" cx="9" cy="9" r="4.8"/>',
    "ring": '<circle cx="9" cy="9" r="4.6" stroke-width="2"/>',
    "window": '<path d="M1.4 4.4v9.2M16.6 4.4v9.2M1.4 9h15.2M9 6.8v4.4"/>',
    "plumb": '<path class="solid" d="M4 4h10l-5 7z"/><path d="M9 10v6"/>',
    "tether": (
        '<path d="M8 9h9" stroke-width="2"/><circle cx="4.8" cy="9" r="3" stroke-width="1.8"/>'
    ),
    "limit": '<path d="M9 2.4v13.2" stroke-width="2"/>',
    "warning": '<path d="M9 2.4v13.2" stroke-dasharray="3 2.2"/>',
    "fan": (
        '<path d="M1 14L8 3M6 14.6L13 3.4M11 15L17 5.4" stroke-width=".8"/>'
        '<path d="M1 12l16-6" stroke-dasharray="3 2"/>'
    ),
    "solid_line": '<path d="M1 13L17 5" stroke-width="2"/>',
    "dashed_line": '<path d="M1 13L17 5" stroke-width="2" stroke-dasharray="4 2.4"/>',
    "thin_line": '<path d="M1 12L17 6" stroke-width=".9"/>',
    "report": '<path class="solid" d="M1.6 4.4h14.8v9.2H1.6z"/>',
    # What one can do.
    "find": '<circle cx="7.6" cy="7.6" r="5"/><path d="M11.4 11.4L16 16" stroke-width="2"/>',
    "scan": '<path d="M2 6V2h4M12 2h4v4M16 12v4h-4M6 16H2v-4M4.6 9h8.8"/>',
    "erase": '<path d="M6 3.6h10.6v10.8H6L1.2 9z"/><path d="M8.6 6.6l4.8 4.8M13.4 6.6l-4.8 4.8"/>',
    "choose": '<path d="M4 6.4l5 5 5-5" stroke-width="2.2"/>',
    "earlier": '<path d="M11.4 3.6L6 9l5.4 5.4" stroke-width="2.2"/>',
    "next": '<path d="M6.6 3.6L12 9l-5.4 5.4" stroke-width="2.2"/>',
}

STATES: dict[str, State] = {
    "in_range": State(
        word="in range",
        glyph="in_range",
        tone="ink",
        means="Its alarm point, as read, lies between the marks on the detector.",
    ),
    "nearing_limit": State(
        word="nearing its limit",
        glyph="nearing_limit",
        tone="ochre",
        means=(
            "Still in range, but most of what it may correct for soiling is used. Clean or "
            "replace it."
        ),
    ),
    "out_of_range": State(
        word="out of range",
        glyph="out_of_range",
        tone="carmine",
        means=(
            "Its alarm point lies beyond a mark, or its correction is used up. Clean it and "
            "read it again, or replace it."
        ),
    ),
    "not_judged": State(
        word="not judged",
        glyph="not_judged",
        tone="ink2",
        means="There is no reading, or nothing is marked to judge it by.",
    ),
    "later": State(
        word="later",
        glyph="later",
        tone="ink2",
        means="Nothing to do yet: its earliest day has not come.",
    ),
    "due": State(
        word="due",
        glyph="due",
        tone="deed",
        means="Somebody has to do this; its latest day has not passed.",
    ),
    "overdue": State(
        word="overdue",
        glyph="overdue",
        tone="carmine",
        means="Its latest day has passed and it was not done.",
    ),
    "done": State(
        word="done",
        glyph="done",
        tone="ink",
        means="Done, and on record.",
    ),
    "no_record": State(
        word="no record",
        glyph="no_record",
        tone="ink2",
        means="Nobody has entered when it was last done, so its next day is not known.",
    ),
    "not_tested": State(
        word="not tested",
        glyph="not_tested",
        tone="ink2",
        means="Nobody measured it. This is never counted as passed.",
    ),
    "pass": State(
        word="pass",
        glyph="pass",
        tone="ink",
        means="It was tested and did what it should.",
    ),
    "fail": State(
        word="fail",
        glyph="fail",
        tone="carmine",
        means="It was tested and did not do what it should.",
    ),
    "impairment": State(
        word="impairment",
        glyph="impairment",
        tone="carmine",
        means="A part of the system does not protect. The owner is told at once.",
    ),
    "critical_deficiency": State(
        word="critical deficiency",
        glyph="critical_deficiency",
        tone="carmine",
        means="A fault that matters to life or property. It is corrected without delay.",
    ),
    "deficiency": State(
        word="deficiency",
        glyph="deficiency",
        tone="ochre",
        means="A fault that does not stop the system from working. It is corrected soon.",
    ),
    "noncritical": State(
        word="noncritical",
        glyph="noncritical",
        tone="ink2",
        means="Something to put right that does not change how the system works.",
    ),
    "not_saved": State(
        word="not saved",
        glyph="not_saved",
        tone="carmine",
        means="It is not kept anywhere yet.",
    ),
    "on_tablet": State(
        word="on this tablet",
        glyph="on_tablet",
        tone="ochre",
        means="Kept on this tablet, and not yet sent to the office.",
    ),
    "sent": State(
        word="sent",
        glyph="sent",
        tone="ink",
        means="The office has it.",
    ),
    "needs_attention": State(
        word="needs attention",
        glyph="needs_attention",
        tone="ochre",
        means="The office has it, and somebody has to look at it.",
    ),
    "same": State(
        word="same",
        glyph="same",
        tone="ink",
        means="The row says what is on file already.",
    ),
    "changed": State(
        word="changed",
        glyph="changed",
        tone="deed",
        means="The row differs from what is on file.",
    ),
    "new": State(
        word="new",
        glyph="new",
        tone="deed",
        means="The row is not on file yet.",
    ),
    "problem": State(
        word="problem",
        glyph="problem",
        tone="carmine",
        means="The row cannot be taken as it is; its reason stands beside it.",
    ),
    "nuisance": State(
        word="nuisance",
        glyph="nuisance",
        tone="ink",
        means="An unwanted alarm from the surroundings or a fault: steam, dust, cooking.",
    ),
    "unintentional": State(
        word="unintentional",
        glyph="unintentional",
        tone="ink",
        means="An unwanted alarm that somebody caused without meaning to.",
    ),
    "malicious": State(
        word="malicious",
        glyph="malicious",
        tone="ink",
        means="An unwanted alarm that somebody caused on purpose.",
    ),
    "unknown": State(
        word="unknown",
        glyph="unknown",
        tone="ink",
        means="An unwanted alarm of which nobody knows the cause.",
    ),
}

_STROKE = 'fill="none" stroke="currentColor" stroke-width="1.6"'
_SOLID = 'fill="currentColor" stroke="none"'


def shape(name: str) -> SafeString:
    """Draw one shape at the origin of an 18 px grid, for use inside a drawing."""
    try:
        inner = SHAPES[name]
    except KeyError:
        raise UnknownGlyph(f"No shape is called {name!r}. The shapes are in glyphs.py.") from None
    return mark_safe(inner.replace('class="solid"', _SOLID))


@functools.lru_cache(maxsize=1024, typed=True)
def glyph(name: str, *, label: str = "", size: int = 18, colour: str = "") -> SafeString:
    """Draw one shape as an inline SVG; hidden from readers unless it has a label of its own.

    On a page it takes the colour of the words around it. A PDF draws it apart from the page, so
    there it is given its colour.
    """
    naming = (
        format_html('role="img" aria-label="{}"', label)
        if label
        else mark_safe('aria-hidden="true"')
    )
    return format_html(
        '<svg class="glyph" width="{}" height="{}" viewBox="0 0 18 18"{} {} {}>{}</svg>',
        size,
        size,
        format_html(' color="{}"', colour) if colour else "",
        mark_safe(_STROKE),
        naming,
        shape(name),
    )


def find_state(key: str) -> State:
    """Look up one state by its key."""
    try:
        return STATES[key]
    except KeyError:
        raise UnknownGlyph(f"No state is called {key!r}. The states are in glyphs.py.") from None


def mark(*, size: int = 26) -> SafeString:
    """Draw Driftbook's mark: a bead drawn off between two posts, and where it was."""
    return format_html(
        '<svg class="mark" width="{}" height="{}" viewBox="0 0 26 26" {} aria-hidden="true">'
        '<path d="M2 4v18M24 4v18" stroke-width="2.4"/>'
        '<path d="M4.6 13h8" stroke-width="1.6" stroke-dasharray="2.2 1.8"/>'
        '<circle cx="17" cy="13" r="4.6" {}/></svg>',
        size,
        size,
        mark_safe(_STROKE),
        mark_safe(_SOLID),
    )
