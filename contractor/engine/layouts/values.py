"""Read single cells: blanks, numbers with their units, codes, codes' shapes."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

from contractor.engine.layouts import words

_ODD_SPACES = re.compile(r"[\s\u00a0\u2000-\u200b\u202f\ufeff]+")


@lru_cache(maxsize=16384)
def fold(text: str) -> str:
    """Lower the case, drop accents, make every run of spaces one space."""
    text = text.casefold()
    if not text.isascii():
        text = text.replace("œ", "oe").replace("ß", "ss").replace("−", "-").replace("’", "'")
        text = "".join(
            c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c)
        )
    return _ODD_SPACES.sub(" ", text).strip()


def fold_each(text: str) -> str:
    """Fold each character by itself, so that places in the result are places in the text."""
    return "".join(fold(c)[:1] or " " if c != " " else " " for c in text)


_BLANK_WORDS = frozenset((
    "n/a", "na", "n.a.", "n.a", "n. a.", "none", "null", "nil", "nul", "nan", "#n/a", "n/d", "nd",
    "n.d.", "s/o", "s.o.", "s. o.", "so", "s/d", "k.a.", "k.a", "ka", "k. a.", "entf.", "entf",
    "entfallt", "ohne", "aucun", "ninguno", "kein", "leer", "blank", "void", "unknown", "unbekannt",
    "inconnu", "desconocido", "missing", "tbd", "no aplica", "nicht zutreffend", "not applicable",
    "not fitted", "neant", "keine", "ninguna", "aucune", "n/t", "not tested",
    "sin dato", "sin datos", "keine angabe", "sans objet",
))  # fmt: skip
_BLANK_MARKS = re.compile(r"[\s\-–—−_.·…*/~?%]*")


@lru_cache(maxsize=16384)
def is_blank(text: str) -> bool:
    """Tell whether a cell says nothing: empty, dashes, "n/a" and its like in four languages."""
    if not text or text.isspace():
        return True
    if text[0].isdigit():
        return False
    return _BLANK_MARKS.fullmatch(text.casefold()) is not None or fold(text) in _BLANK_WORDS


_PERCENT = r"(?:%|pct\.?|percent|per cent|por ?ciento|pour ?cent|prozent)"
_OBS = r"(?:\s*(?:obs\w*\.?|obscuration|opacite|oscurecimiento|trubung|smoke))?"
_PER = r"\s*(?:/|per\b|por\b|par\b|pro\b|je\b)\s*(?:obs\w*\s*/?\s*)?"
_FOOT = r"(?:ft|foot|feet|pies?|pieds?|pi|fuss)\b\.?"
_METRE = r"(?:m|meters?|metres?|metros?|mtr)\b\.?"
_OD = r"(?:o\.?d\.?|optical density|densidad optica|densite optique|optische dichte|d\.?o\.?)"
UNITS: list[tuple[str, re.Pattern[str]]] = [
    ("%/ft", re.compile(_PERCENT + _OBS + _PER + _FOOT)),
    ("%/m", re.compile(_PERCENT + _OBS + _PER + _METRE)),
    ("dB/m", re.compile(r"\bdb" + _PER + _METRE)),
    ("OD/ft", re.compile(r"\b" + _OD + _PER + _FOOT)),
    ("OD/m", re.compile(r"\b" + _OD + _PER + _METRE)),
    ("1/m", re.compile(r"(?<![\w%])(?:1\s*/\s*m\b|m\s*\^?-1\b|per metre extinction)")),
    ("%/ft", re.compile(r"\bobs\w*" + _PER + _FOOT)),
    ("%/ft", re.compile(r"\b(?:pct|percent|perc|obs)[ _](?:per[ _])?(?:ft|foot)\b")),
    ("%/m", re.compile(r"\b(?:pct|percent|perc|obs)[ _](?:per[ _])?(?:m|metre|meter)\b")),
    ("%/m", re.compile(r"\bobs\w*" + _PER + _METRE)),
    ("°F", re.compile(r"°\s*f\b|\bdeg\.?\s*f\b|\bfahrenheit\b")),
    ("°C", re.compile(r"°\s*c\b|\bdeg\.?\s*c\b|\bcelsius\b|\bcentigrade\b")),
]
_OF_SETTING = re.compile(
    _PERCENT
    + r"\s*(?:of|de|du|des|vom|von|del|of the|de la|der)?\s*(?:l'|la |the )?(?:alarm\w*|alarma|"
    r"alarme|setting|threshold|umbral|seuil|schwelle|alarmschwelle)\b"
)
_OF_ALLOWANCE = re.compile(
    _PERCENT
    + r"\s*(?:of|de|du|des|vom|von|der|del|of the)?\s*(?:l'|la |the )?(?:allowance|comp\w*|"
    r"limit\w*|used|range|kompensation|grenze|max\w*)\b"
)
_BARE_PERCENT = re.compile(_PERCENT)


@lru_cache(maxsize=8192)
def unit_in(folded: str) -> str:
    """Find the unit stated in folded text; "%" where only percent is said; empty where none is."""
    if not folded:
        return ""
    for unit, pattern in UNITS:
        if pattern.search(folded):
            return unit
    if _OF_SETTING.search(folded):
        return "% of setting"
    if _OF_ALLOWANCE.search(folded):
        return "% of limit"
    return "%" if _BARE_PERCENT.search(folded) else ""


@lru_cache(maxsize=8192)
def without_units(folded: str) -> str:
    """Give folded header text without its unit and marks, for the words alone."""
    for _unit, pattern in UNITS:
        folded = pattern.sub(" ", folded)
    folded = _BARE_PERCENT.sub(" ", folded)
    folded = re.sub(r"[^\w°/#+ -]+", " ", folded)
    folded = re.sub(r"(?<!\w)[/-]+|[/-]+(?!\w)|_", " ", folded)
    return " ".join(folded.split())


class Number(NamedTuple):
    """A number as printed: its value, the unit beside it, and a mark such as "<" before it."""

    value: float
    unit: str
    bound: str


_NUMBER = re.compile(
    r"(?P<bound>[<>≤≥~≈]?=?)\s*"
    r"(?P<sign>[+\-−–]?)\s*"
    r"(?P<digits>\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?:[.,]\d+)?|\d{1,3}(?:,\d{3}){2,}(?:\.\d+)?|"
    r"\d{1,3}(?:\.\d{3}){2,}(?:,\d+)?|"
    r"\d{1,3},\d{3}\.\d+|\d{1,3}\.\d{3},\d+|\d*[.,]?\d+[.,]?)"
    r"(?P<exponent>[eE][+-]?\d{1,2})?"
    r"\s*(?P<rest>\D*(?:\bm\s*\^?-1)?(?:\([^()]*\))?)"
)
_OF_HUNDRED = re.compile(r"\s*(\d{1,3}(?:[.,]\d+)?)\s*(?:of|out of|sur|von|de|/)\s*100\s*")
_REMARK = re.compile(r"\s*\([^()]*\)$")  # such as "2.4 %/ft (level 3)"
_REST_MARKS = re.compile(r"^[*!†#]{1,2}$")
_REST_UNITS = frozenset(
    ["c", "f", "°", "ma", "v", "counts", "cts", "ct", "k", "db", "od", "% obs", "obs", "ft", "m"]
)


@lru_cache(maxsize=32768)
def number_in(text: str, decimal: str = ".") -> Number | None:
    """Read a whole cell as one number, or give None. `decimal` decides a lone "1,234".

    >>> number_in("3,2 %/m", ",")
    Number(value=3.2, unit='%/m', bound='')
    """
    hundredths = _OF_HUNDRED.fullmatch(text)
    match = _NUMBER.fullmatch(hundredths[1] + " %" if hundredths else text.strip())
    if match is None:
        return None
    rest = match["rest"].strip()
    unit = ""
    if rest.endswith(")"):
        rest = _REMARK.sub("", rest)
    if rest:
        folded = fold(rest)
        unit = unit_in(folded)
        if not unit and not _REST_MARKS.match(rest) and folded not in _REST_UNITS:
            if len(folded) > 1 and words.verdict_of(folded):
                rest = folded = ""  # "2.68 ok"
            else:
                return None
        if unit and len(folded) > 24:
            return None
        if not unit and folded in ("c", "f"):
            unit = "°" + folded.upper()
    value = _value(match["digits"], decimal)
    if value is None:
        return None
    if match["exponent"]:
        value *= 10.0 ** int(match["exponent"][1:])
    if match["sign"] in ("-", "−", "–") and match["sign"]:
        value = -value
    return Number(value, unit, match["bound"])


def _value(digits: str, decimal: str) -> float | None:
    digits = re.sub(r"[ \u00a0\u202f'’]", "", digits)
    commas, points = digits.count(","), digits.count(".")
    if commas and points:
        thousands = "," if digits.rindex(",") < digits.rindex(".") else "."
        digits = digits.replace(thousands, "").replace(",", ".")
    elif commas > 1:
        digits = digits.replace(",", "")
    elif points > 1:
        digits = digits.replace(".", "")
    elif commas:
        whole, _, part = digits.partition(",")
        thousands_like = len(part) == 3 and decimal == "." and whole not in ("", "0")
        digits = whole + part if thousands_like else f"{whole or 0}.{part or 0}"
    elif points and decimal == ",":
        whole, _, part = digits.partition(".")
        if len(part) == 3 and whole not in ("", "0"):
            digits = whole + part
    try:
        return float(digits)
    except ValueError:
        return None


_LONE_COMMA = re.compile(r"\d,\d")
_LONE_POINT = re.compile(r"\d\.\d")


def decimal_mark(cells: list[str]) -> str:
    """Find which mark sets off decimals in these cells: "," or "." ("." where none shows)."""
    commas = sum(
        1
        for cell in cells
        if _LONE_COMMA.search(cell) and "." not in cell
        and not re.search(r"[1-9]\d{0,2},\d{3}(?!\d)", cell)
    )  # fmt: skip
    points = sum(1 for cell in cells if _LONE_POINT.search(cell) and "," not in cell)
    return "," if commas > points else "."


_RANGE = re.compile(
    r"\s*(?:from |von |de |desde )?(\d+(?:[.,]\d+)?)\s*(%[^\d\-–/]*)?\s*(?:[/–—-]|\.\.+|"
    r"(?<=\s)(?:to|bis|a|à|hasta|and|et|y|und|up to)(?=\s))\s*(\d+(?:[.,]\d+)?)\s*(\D*)"
)


@lru_cache(maxsize=8192)
def range_in(text: str) -> tuple[float, float, str] | None:
    """Read a cell such as "1.0/3.5" or "1,0 bis 3,5 %/m": low, high and the unit beside them."""
    match = _RANGE.fullmatch(text.strip().casefold())
    if match is None:
        return None
    unit_text = fold((match[2] or "") + " " + (match[4] or ""))
    unit = unit_in(unit_text)
    if unit_text and not unit:
        return None
    low, high = (float(match[i].replace(",", ".")) for i in (1, 3))
    return low, high, unit


_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 .:/\\\-_#()]{0,23}")
_BRACKETED = re.compile(r"^[\[(<{]\s*(.*?)\s*[\])>}]$")
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")


@lru_cache(maxsize=4096)
def heading_words(text: str) -> str:
    """Fold a heading, with the words of names such as alarm_pct_ft and alarmLevel set apart."""
    if "_" in text:
        text = text.replace("_", " ")
    elif text.isalpha() and len(text) > 5:
        text = _HUMP.sub(" ", text)
    return fold(text)


def bare_code(text: str) -> str:
    """Take the brackets and the odd spaces off an address."""
    text = _ODD_SPACES.sub(" ", text).strip()
    match = _BRACKETED.match(text)
    return (match[1] if match else text).strip(" :;,")


@lru_cache(maxsize=32768)
def is_code(text: str) -> bool:
    """Tell whether a cell looks like an address: short, with a digit, hardly any words."""
    text = bare_code(text)
    if not _CODE.fullmatch(text) or not any(c.isdigit() for c in text):
        return False
    if text.count(" ") > 2 or re.search(r"[a-z]{4,}|[A-Z]{5,}", text):
        return False
    return re.search(r"[A-Za-z]{2,} \d|\d [A-Za-z]{3,}", text) is None or bool(
        re.fullmatch(r"(?i)(?:[a-z]{1,3} ?\d{1,4}[ :./-]?){1,4}", text)
    )


@lru_cache(maxsize=32768)
def mask(text: str) -> str:
    """Give the outline of a code: letters as A, runs of digits as 9."""
    return re.sub(r"\d+", "9", re.sub(r"[A-Za-z]", "A", text))


_RUNS = re.compile(r"[a-z]+|\d+")
_LOOPS = frozenset(("l", "lp", *words.LOOP.split("|")))
_DEVICES = frozenset(("d", *words.DEVICE.split("|")))


@lru_cache(maxsize=32768)  # each address of a file is asked for several times
def same_address(text: str) -> str:
    """Give the form under which two ways to write one address meet.

    Marks, blanks, case and leading zeros do not count, nor do a word or letter that only says
    that a loop's or a device's number follows, where both numbers stand there. Any other letter
    counts: it may set detectors and modules of one number apart.

    Parameters
    ----------
    text : str
        An address as printed, as typed or as on a list.

    Returns
    -------
    str
        The form, for comparing only.

    Examples
    --------
    >>> same_address("1-014"), same_address("Loop 1, device 14"), same_address("l01 d14")
    ('1.14', '1.14', '1.14')
    >>> same_address("1-M014"), same_address("1014"), same_address("D014")
    ('1.m.14', '1014', 'd.14')
    """
    runs = _RUNS.findall(fold(text))
    numbers = [at for at, run in enumerate(runs) if run.isdecimal()]
    if len(numbers) > 1:
        loops, device = {at - 1 for at in numbers[:-1]}, numbers[-1] - 1
        runs = [
            run
            for at, run in enumerate(runs)
            if not ((at in loops and run in _LOOPS) or (at == device and run in _DEVICES))
        ]
    return ".".join(run.lstrip("0") or "0" if run.isdecimal() else run for run in runs)
