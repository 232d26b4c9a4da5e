"""Tags of the look. They take plain values and never query; loaded for every template."""

import functools
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from html import escape
from typing import Any

from django import template
from django.forms import BoundField
from django.template import Context
from django.utils.functional import Promise
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext

from contractor.web import charts, glyphs, moments
from contractor.web.charts import pen

register = template.Library()
type CountedRow = tuple[str, str, Sequence[str], int, tuple[int, ...]]


@register.simple_tag(takes_context=True)
def state(
    context: Context,
    key: str,
    word: str = "",
    why: str = "",
    count: int | None = None,
    size: int = 18,
    printed: bool = False,
) -> SafeString:
    """Say one state: shape, word and colour together. A count of zero is never coloured.

    `printed` is for PDF, whose drawings do not see the colour of the words around them. On a page
    the meaning is shown on hover, and stands once at the foot of a print; a word of the page's own
    means what the page says.
    """
    said, has_meaning = _say(get_language(), key, plain(word), plain(why), count, size, printed)
    if has_meaning and (request := context.get("request")):
        vars(request).setdefault("states_said", {})[key] = glyphs.find_state(key)
    return said


@register.simple_tag(takes_context=True)
def counted_rows(
    context: Context, rows: Iterable[CountedRow], keys: str, head: str, *words: str
) -> SafeString:
    """Write a list's rows, each with how many of each state it counts, at once.

    A row: its page's address, its name, further texts, how many in all (under `head`, in the
    margin), and the counts, in the order of keys and words.
    """
    language, begins = get_language(), f'<tr><td class="number" data-head="{escape(head)}">'
    written: list[str] = []
    meant: dict[str, glyphs.State] = {}
    for address, name, texts, many, counts in rows:
        cells, said = _say_cells(language, counts, keys, words)
        meant |= said
        said_of = "".join(f"<td>{escape(text)}</td>" for text in texts)
        link = f'<a href="{escape(address)}">{escape(name)}</a>'
        written.append(f'{begins}{many}</td><th scope="row">{link}</th>{said_of}{cells}</tr>')
    if meant and (request := context.get("request")):
        vars(request).setdefault("states_said", {}).update(meant)
    return mark_safe("\n  ".join(written))


@functools.lru_cache(maxsize=4096)
def _say_cells(
    language: str | None, counts: tuple[int, ...], keys: str, words: tuple[str, ...]
) -> tuple[SafeString, dict[str, glyphs.State]]:
    told = [
        (key, *_say(language, key, word, "", count, 18, False))
        for key, word, count in zip(keys.split(), words, counts, strict=True)
    ]
    meant = {key: glyphs.find_state(key) for key, _, has_meaning in told if has_meaning}
    return mark_safe("".join(f"<td>{cell}</td>" for _, cell, _ in told)), meant


def plain(said: Any) -> Any:
    """Say now what is translated only when it is said, so that it can be remembered."""
    return str(said) if isinstance(said, Promise) else said


@functools.lru_cache(maxsize=4096, typed=True)  # typed: text marked safe is not plain text
def _say(
    language: str | None, key: str, word: str, why: str, count: int | None, size: int, printed: bool
) -> tuple[SafeString, bool]:
    found = glyphs.find_state(key)
    own = gettext(found.word)
    said = gettext(word) if word else own
    has_meaning = not printed and (not word or own.startswith(said.partition(" ")[0]))
    about = format_html(' title="{}"', gettext(found.means)) if has_meaning else ""
    if count is not None:
        said = f"{pen.say_count(count)} {said}"
    tone = "ink2" if count == 0 else found.tone
    reason = format_html('<span class="why">{}</span>', why) if why else ""
    drawn = format_html(
        '<span class="state tone-{}"{}>{}<span>{}{}</span></span>',
        tone,
        about,
        glyphs.glyph(found.glyph, size=size, colour=charts.colour(tone) if printed else ""),
        said,
        reason,
    )
    return drawn, has_meaning


@register.simple_tag(takes_context=True)
def meanings(context: Context, keys: str = "") -> SafeString:
    """Say what states mean: those named, or those that the page has shown so far."""
    said = getattr(context.get("request"), "states_said", {}).values()
    found = [glyphs.find_state(key) for key in keys.split()] if keys else list(said)
    return format_html_join(
        " ", "<span><b>{}</b>: {}</span>", ((gettext(s.word), gettext(s.means)) for s in found)
    )


@register.simple_tag
def glyph(name: str, label: str = "", size: int = 18, printed: str = "") -> SafeString:
    """Draw one shape; without a label it is hidden from readers, so a word must stand by it.

    `printed` is for PDF and names the tone: ink, ink2, deed, ochre or carmine.
    """
    colour = charts.colour(printed) if printed else ""
    return glyphs.glyph(name, label=plain(label), size=size, colour=colour)


@register.simple_tag
def driftbook_mark(size: int = 26) -> SafeString:
    """Draw the product's mark."""
    return glyphs.mark(size=size)


@register.simple_tag
def chart(drawing: Any, width: float | None = None) -> SafeString:
    """Draw a drawing of web/charts; a width makes it fixed, for PDF."""
    return charts.draw(drawing, width=width)


@register.inclusion_tag("web/components/due_year.html")
def due_year(year: charts.DueYear) -> dict[str, Any]:
    """Show a year of due work: names in the margin, windows, words."""
    return {
        "year": year,
        "axis": charts.draw_once(charts.draw_due_axis, year),
        "rows": [(row, charts.draw_once(charts.draw_due_row, year, row)) for row in year.rows],
    }


@register.inclusion_tag("web/components/zones.html")
def zones(zones: charts.Zones) -> dict[str, Any]:
    """Show a building's detectors zone by zone, with totals in words."""
    rows = [
        (row, [charts.draw_once(charts.draw_ten, row, first, marks) for first, marks in row.tens])
        for row in zones.rows
    ]
    return {"zones": zones, "rows": rows}


@register.inclusion_tag("web/components/unwanted_alarms.html")
def unwanted_alarms(alarms: charts.UnwantedAlarms) -> dict[str, Any]:
    """Show unwanted alarms: zones down, months across, nuisance now after before."""
    return {
        "causes": charts.CAUSES,
        "axis": charts.draw_once(charts.draw_alarm_axis, alarms),
        "rows": [
            (row, charts.draw_once(charts.draw_alarm_row, alarms, row)) for row in alarms.rows
        ],
    }


@register.simple_tag
def confidence(of_100: int) -> SafeString:
    """Say how sure a reading of something is: number, bead on a short rule, word."""
    word, tone = (
        (gettext("sure"), "ink")
        if of_100 >= 90
        else (gettext("look once"), "ochre")
        if of_100 >= 75
        else (gettext("you choose"), "carmine")
    )
    at = 4 + 104 * max(0, min(100, of_100)) / 100
    bead = (
        f'<circle cx="{at:.1f}" cy="9" r="5" class="s-carmine f-paper" stroke-width="1.8"/>'
        if tone == "carmine"
        else f'<circle cx="{at:.1f}" cy="9" r="5.8" class="f-{tone}"/>'
    )
    rule = (
        '<svg class="drawing" width="114" height="20" viewBox="0 0 114 20" aria-hidden="true">'
        '<path d="M4 13v3h104v-3M56 13v3M82 11v5M97.6 11v5" class="s-post" fill="none"'
        f' stroke-width="1.2"/>{bead}</svg>'
    )
    return format_html(
        '<span class="confidence">{}<span class="tone-{}"><b>{}</b> {}</span></span>',
        mark_safe(rule),
        tone,
        of_100,
        word,
    )


@register.inclusion_tag("web/components/field.html")
def field(
    bound: BoundField, unit: str = "", label: str = "", words: bool = True, either: bool = False
) -> dict[str, Any]:
    """Show one form field: label inside above, value, unit at the right, what is wrong below.

    Of fields of which one has to be filled, each is `either`: none of them is said to be optional.
    """
    widget = bound.field.widget
    # The sign-in's library names its fields so; it would vanish as one types, and read as a value.
    quiet: dict[str, str | bool] = {"placeholder": ""} if "placeholder" in widget.attrs else {}
    several = widget.__class__.__name__ in {"RadioSelect", "CheckboxSelectMultiple"}
    if not pen.is_english():
        _speak_choices(widget)
    return {
        "field": bound,
        "input": bound.as_widget(attrs=quiet),
        "unit": unit,
        "label": spoken(label or bound.label),
        "words": words,
        "either": either,
        "tick": getattr(widget, "input_type", "") == "checkbox" and not several,
        "several": several,
    }


def _speak_choices(widget: Any) -> None:
    """Name the choices of a form's own copy of a widget in the page's language."""
    if isinstance(getattr(widget, "choices", None), list):
        widget.choices = [
            (key, named if isinstance(named, list | tuple) else spoken(named))
            for key, named in widget.choices
        ]


@register.filter
def spoken(said: Any) -> Any:
    """Say words that Python keeps in English in the page's language: names of choices, refusals.

    What is no text, and what nobody has translated, stays as it is.
    """
    if said is None or isinstance(said, int | float | date):
        return said
    return gettext(said if isinstance(said, str) else str(said))


@register.filter
def each_spoken(said: str) -> str:
    """Say each of several words, listed with commas, in the page's language."""
    return ", ".join(gettext(one) for one in said.split(", ")) if said else ""


@register.filter
def mail_pieces(address: str) -> SafeString:
    """Write a mail address so that a narrow column breaks it before its @."""
    name, at, host = address.rpartition("@")
    return format_html(
        '<span class="piece">{}</span><span class="piece">{}{}</span>', name, at, host
    )


@register.filter(expects_localtime=True)
def day(value: date | None, zone: str = "") -> str:
    """Say a day as 2 Mar 2027; of a moment, the day by the firm's clock or by a zone's."""
    return pen.say_day(_there(value, zone)) if value else ""


@register.filter(expects_localtime=True)
def short_day(value: date | None, zone: str = "") -> str:
    """Say a day without its year, 2 Mar; of a moment, as `day` does."""
    return pen.say_short(_there(value, zone)) if value else ""


def _there(value: date, zone: str) -> date:
    return moments.at_clock(value, zone) if zone and isinstance(value, datetime) else value


@register.filter
def moment(value: datetime | None, zone: str = "") -> str:
    """Say a moment by the firm's clock or a zone's, and name the clock: 2 Mar 2027, 14:05 EST."""
    return moments.say_moment(value, zone) if value else ""


@register.filter
def short_moment(value: datetime | None, zone: str = "") -> str:
    """Say a moment without its year: 2 Mar, 14:05 EST."""
    return moments.say_short_moment(value, zone) if value else ""


@register.filter
def clock(value: datetime | None, zone: str = "") -> str:
    """Say a moment's time of day, and name the clock: 14:05 EST."""
    return moments.say_clock(value, zone) if value else ""


@register.filter
def second(value: datetime | None, zone: str = "") -> str:
    """Say a moment's time of day to the second: 14:05:09 EST."""
    return moments.say_second(value, zone) if value else ""


@register.filter
def quantity(value: float | str | None) -> str:
    """Say a measured quantity with at least one decimal and at most two."""
    if value is None or value == "":
        return ""
    # What floatformat has written bears the language's decimal sign already.
    return pen.say_number(float(value.replace(",", ".") if isinstance(value, str) else value))


@register.filter
def chance(value: float | None) -> str:
    """Say a chance of 0 to 1 in whole percent."""
    return "" if value is None else charts.say_chance(value)
