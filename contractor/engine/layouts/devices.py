"""Tell from the words of a device list what a device is, in English, Spanish, French, German."""

from __future__ import annotations

import re
from functools import lru_cache

from contractor.engine.layouts import words
from contractor.engine.layouts.values import fold

#: Words, the kind of device, and its key in the tables of a code. The first that fits decides.
#: The words are common practice, no source; the keys are those of `editions.COMPONENTS`.
_NAMED: list[tuple[re.Pattern[str], str, str]] = [
    (re.compile(words_), kind, component)
    for words_, kind, component in (
        (r"duct|conducto|gaine|luftungskanal|kanalmelder", "duct", "duct"),
        (r"\bbeam\b|barrera|lineaire de fumee|lineaire|linienrauch|lichtschranke", "other", "beam"),
        (r"aspirat|air sampl|ansaug", "other", "aspirating"),
        (r"flame|flamme|llama", "other", "flame"),
        (r"carbon monox|\bco\b|monoxid|monoxyd", "other", "carbon_monoxide"),
        (
            r"manual|pull|call ?point|\bmcp\b|pulsador|declencheur|handfeuer|handmelder|druckknopf",
            "manual",
            "manual",
        ),
        (r"water ?flow|flow ?switch|flujo|debit d'eau|stromungs", "waterflow", "waterflow"),
        (r"tamper|valve|valvula|vanne|schieber", "tamper", "tamper"),
        (r"low air|air pressure|presion de aire|pression d'air|luftdruck", "other", "air_pressure"),
        (r"voice|speaker|altavoz|haut-parleur|lautsprecher", "other", "voice"),
        (
            r"horn|sounder|bell|siren|chime|campana|cloche|hupe|zumbador|akustisch|\bav\b",
            "audible",
            "audible",
        ),
        (r"strobe|flash|beacon|visible|visual|luz|feu|blitz|optischer alarm", "visible", "visible"),
        (r"annunciator|anunciador|report d'alarme|anzeigetableau", "other", "annunciator"),
        (r"power supply|booster|\bnac ext|fuente|alimentation|netzteil", "other", "power_extender"),
        (
            r"transmit|dialer|communicator|transmisor|transmetteur|ubertragung",
            "other",
            "transmitter",
        ),
        (
            r"modul|relay|rele|relais|monitor|\binput|\boutput|interface|isolat|aislador|koppler|"
            r"\bmm\b|\bcm\b",
            "module",
            "module",
        ),
        (r"lead.?acid|\bvrla\b|\bsla\b|\bagm\b|plomo|plomb|blei", "battery", "battery_vrla"),
        (r"ni.?cad|ni.?cd|nickel", "battery", "battery_nicad"),
        (r"batter|bateria|akku", "battery", ""),
        (
            r"control unit|\bpanel\b|\bfacp\b|\bfacu\b|central\b|centrale|zentrale",
            "control_unit",
            "",
        ),
    )
]
_HEAT: list[tuple[re.Pattern[str], str]] = [
    (
        re.compile(r"line(ar)?[ -]?type|linear heat|sensor lineal|cable thermo|sensorkabel"),
        "heat_line",
    ),
    (re.compile(r"non.?restor|fusible|no rearmable"), "heat_nonrestorable"),
]


@lru_cache(maxsize=4096)
def name_device(text: str) -> tuple[str, str]:
    """Tell the kind of device and its component in a code's tables; empty where nothing tells.

    Examples
    --------
    >>> name_device("Pull station"), name_device("Photoelectric smoke"), name_device("Koppler")
    (('manual', 'manual'), ('smoke', 'smoke'), ('module', 'module'))
    >>> name_device("Fixed temp heat"), name_device("Beam detector"), name_device("gadget")
    (('heat', ''), ('other', 'beam'), ('', ''))
    """
    folded = fold(text)
    detector = words.kind_of(folded)
    if detector in ("smoke", "heat", "smoke+heat") and not re.search(
        r"duct|conducto|gaine|kanalmelder|\bbeam|barrera|lineaire|linienrauch|lichtschr|aspirat|"
        r"air sampl|ansaug|\blinear|line.?type|strobe|sounder|horn|modul|relay|relais",
        folded,
    ):
        if detector == "heat":
            return "heat", next((key for found, key in _HEAT if found.search(folded)), "")
        return ("smoke_heat", "smoke_heat") if detector == "smoke+heat" else ("smoke", "smoke")
    for found, key in _HEAT:
        if detector == "heat" and found.search(folded):
            return "heat", key
    for found, kind, component in _NAMED:
        if found.search(folded):
            return kind, component
    return "", ""
