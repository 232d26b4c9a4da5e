"""Invented licences, instruments and labels: what planning looks at before somebody goes."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from contractor.labels import services as labels
from contractor.labels.stocks import STOCKS
from contractor.people.models import Licence
from contractor.register.models import (
    SENSITIVE_KINDS,
    Building,
    Device,
    Instrument,
    InstrumentKind,
)
from contractor.tenancy.models import Firm, Member

#: How many detectors of the demo's first building bear a label.
LABELLED = 24


@dataclass(frozen=True)
class Paper:
    """One licence: whose (their mail address; "": the firm's own), where it holds, until when."""

    whose: str
    kind: str
    number: str
    jurisdiction: str
    ends_in: int | None  # from today [days]


#: Where each holds is written as the buildings write it.
LICENCES = {
    "tarnbeck": (
        Paper("", "Fire alarm contractor", "FA-20418 (invented)", "Port Ellory (invented)", 410),
        Paper("", "Fire alarm contractor", "FA-20977 (invented)", "Harrowfen (invented)", 41),
        Paper(
            "technician@tarnbeck.example",
            "Fire alarm technician, level II",
            "T-7731 (invented)",
            "Port Ellory (invented)",
            300,
        ),
        Paper(
            "technician@tarnbeck.example",
            "Fire alarm technician",
            "DM-118 (invented)",
            "Dunmere (invented)",
            19,
        ),
        Paper(
            "technician@tarnbeck.example",
            "Fire alarm technician",
            "H-2204 (invented)",
            "Harrowfen (invented)",
            190,
        ),
        Paper(
            "second@tarnbeck.example",
            "Fire alarm technician, level I",
            "T-8102 (invented)",
            "Port Ellory (invented)",
            620,
        ),
        Paper(
            "second@tarnbeck.example",
            "Fire alarm technician",
            "LF-77 (invented)",
            "Lanternfield (invented)",
            None,
        ),
        Paper(
            "principal@tarnbeck.example",
            "Fire alarm planner",
            "P-0412 (invented)",
            "",
            505,
        ),
    ),
    "wexholt": (
        Paper("", "Fire alarm contractor", "FA-31190 (invented)", "", 260),
        Paper("technician@wexholt.example", "Fire alarm technician", "T-9015 (invented)", "", 33),
    ),
}
#: name, kind, serial number, calibrated so long ago, calibration ends in [days]
INSTRUMENTS = (
    ("Sensitivity tester no. 1", InstrumentKind.SENSITIVITY, "ST-0201", 280, 85),
    ("Sensitivity tester no. 2", InstrumentKind.SENSITIVITY, "ST-0202", 220, 145),
    ("Sound level meter", InstrumentKind.SOUND, "SL-0031", 351, 14),
    ("Battery tester", InstrumentKind.BATTERY, "BT-0108", 130, 235),
)

#: What the first agreements of a firm say; the rest follow the last.
TERMS: tuple[dict[str, Any], ...] = (
    {
        "ends_in": 74,
        "price": 4860,
        "billing": "quarterly",
        "renewal_months": 12,
        "notice_days": 60,
        "instructions": "Keys at the gatehouse. An escort above level 4; tests before 09:00.",
        "elevator": "The customer brings one; 555 0161 (invented).",
        "insurance": "General liability of 2,000,000; certificate to the facilities desk.",
        "licences": "Technicians carry the licence of the town.",
    },
    {
        "ends_in": 212,
        "price": 2390,
        "billing": "visit",
        "renewal_months": None,
        "notice_days": 90,
        "tasks": ["functional", "sensitivity"],
        "instructions": "Badges for everyone; freezer clothing is theirs.",
    },
    {
        "ends_in": 947,
        "price": 3120,
        "billing": "yearly",
        "renewal_months": 24,
        "notice_days": 120,
    },
)


def terms_of(*, number: int, today: date) -> dict[str, Any]:
    """Give what the firm's agreement of a number, from 0 on, says."""
    terms = dict(TERMS[min(number, len(TERMS) - 1)])
    ends_on = today + timedelta(days=terms.pop("ends_in"))
    return {"tasks": ["inspection", "functional", "sensitivity"], "ends_on": ends_on, **terms}


def add_instruments(*, firm: Firm, today: date) -> None:
    """Give a firm its instruments; one calibration ends soon."""
    for name, kind, serial, ago, ahead in INSTRUMENTS:
        Instrument.objects.create(
            firm=firm,
            name=name,
            kind=kind,
            serial=serial,
            calibrated_on=today - timedelta(days=ago),
            calibration_ends_on=today + timedelta(days=ahead),
        )


def add_licences(*, firm: Firm, members: dict[str, Member], today: date) -> None:
    """Give a firm and its people their licences; one ends soon."""
    for paper in LICENCES[firm.slug]:
        Licence.objects.create(
            firm=firm,
            member=members[paper.whose] if paper.whose else None,
            kind=paper.kind,
            number=paper.number,
            jurisdiction=paper.jurisdiction,
            ends_on=today + timedelta(days=paper.ends_in) if paper.ends_in else None,
        )


def add_labels(*, building: Building, member: Member, now: datetime) -> None:
    """Print labels for the first detectors of a building."""
    detectors = Device.objects.filter(
        firm_id=building.firm_id, building=building, kind__in=SENSITIVE_KINDS
    ).order_by("address", "pk")
    labels.print_labels(
        firm_id=building.firm_id,
        building=building,
        devices=list(detectors[:LABELLED]),
        empty=0,
        stock=next(iter(STOCKS)),
        first=1,
        reason="",
        member=member,
        now=now,
    )
