"""The digest: what the office should know on a Monday, or on each working day if asked for."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from uuid import UUID

from django.template.loader import render_to_string
from django.utils.translation import gettext

from contractor.agreements import queries as agreements
from contractor.drift import queries as drift
from contractor.drift.models import DriftNotice
from contractor.findings import queries as findings
from contractor.findings.models import Finding
from contractor.notices import letters, queries
from contractor.notices.models import NoticeKind
from contractor.notices.services import Recipient, object_of_day, owe
from contractor.people import queries as people
from contractor.register import queries as register
from contractor.schedule import lines
from contractor.schedule.lines import Together
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import FirmProfile

WEEK_AHEAD = timedelta(days=7)
LOOK_AHEAD = timedelta(days=30)
AGREEMENTS_AHEAD = timedelta(days=90)
CALIBRATIONS_AHEAD = timedelta(days=60)
AGES = timedelta(days=30)


@dataclass(frozen=True)
class Soiling:
    """Detectors of one building that came near their limit since last week."""

    building: str
    devices: int
    addresses: tuple[str, ...]  # the likeliest first


def _soiling(firm_id: UUID, since: date) -> list[Soiling]:
    found: dict[UUID, list[DriftNotice]] = {}
    for one in drift.list_notices(firm_id=firm_id, since=since):
        found.setdefault(one.building_id, []).append(one)
    return [
        Soiling(
            mine[0].building.name,
            len({one.device_id for one in mine}),
            tuple(dict.fromkeys(one.device.address for one in mine))[:5],
        )
        for mine in found.values()
    ]


@dataclass(frozen=True)
class Week:
    """What the week's digest says."""

    overdue: list[Together]
    soon: list[Together]
    no_record: int
    impairments: list[Finding]
    ageing: list[Finding]
    soiling: list[Soiling]
    agreements: list[object]
    instruments: list[object]
    licences: list[object]
    uncertain: int

    @property
    def is_quiet(self) -> bool:
        """Whether nothing asks for anything."""
        return not (
            self.overdue
            or self.soon
            or self.impairments
            or self.ageing
            or self.soiling
            or self.agreements
            or self.instruments
            or self.licences
            or self.uncertain
        )


def load_week(*, firm_id: UUID, today: date, since: timedelta = WEEK_AHEAD) -> Week:
    """Load what the office should know this Monday, or this day; since: the last digest."""
    falling = lines.list_lines(firm_id=firm_id, today=today, until=today + LOOK_AHEAD)
    known = [line for line in falling if not line.is_unknown]
    opened = list(findings.list_open(firm_id=firm_id))
    states, _ = queries.count_notices(firm_id=firm_id)
    return Week(
        overdue=lines.by_building(line for line in known if line.is_overdue),
        soon=lines.by_building(line for line in known if not line.is_overdue),
        no_record=len({line.building_id for line in falling} - {k.building_id for k in known}),
        impairments=[f for f in opened if f.severity == "impairment"],
        ageing=[f for f in opened if f.severity != "impairment" and today - f.found_on >= AGES],
        soiling=_soiling(firm_id, today - since),
        agreements=list(
            agreements.list_ending(firm_id=firm_id, today=today, until=today + AGREEMENTS_AHEAD)
        ),
        instruments=[
            one
            for one in register.list_instruments(firm_id=firm_id)
            if one.calibration_ends_on and one.calibration_ends_on <= today + CALIBRATIONS_AHEAD
        ],
        licences=list(people.list_ending(firm_id=firm_id, until=today + people.AHEAD[0])),
        uncertain=states.get("unknown", 0) + states.get("failed", 0),
    )


def owe_week(*, firm_id: UUID, profile: FirmProfile, slug: str, today: date, now: datetime) -> int:
    """Owe the week's digest to the office; a quiet week owes nothing."""
    year, number, _ = today.isocalendar()
    return _owe(
        NoticeKind.WEEK,
        f"{year}-W{number:02d}",
        load_week(firm_id=firm_id, today=today),
        tenancy.list_office_addresses(firm_id=firm_id),
        (firm_id, profile, slug, today, now),
    )


def owe_day(*, firm_id: UUID, profile: FirmProfile, slug: str, today: date, now: datetime) -> int:
    """Owe the same digest to those of the office who ask for it daily; a quiet day owes nothing."""
    wishing = queries.list_wishing(firm_id=firm_id, kind=NoticeKind.DAY)
    to = [
        (name, address)
        for name, address in (tenancy.list_office_addresses(firm_id=firm_id) if wishing else ())
        if address.lower() in wishing
    ]
    if not to:
        return 0
    week = load_week(firm_id=firm_id, today=today, since=timedelta(days=1))
    return _owe(NoticeKind.DAY, today.isoformat(), week, to, (firm_id, profile, slug, today, now))


def _owe(
    kind: NoticeKind,
    occurrence: str,
    week: Week,
    to: Iterable[tuple[str, str]],
    about: tuple[UUID, FirmProfile, str, date, datetime],
) -> int:
    firm_id, profile, slug, today, now = about
    if week.is_quiet:
        return 0
    return owe(
        firm_id=firm_id,
        kind=kind,
        object_id=object_of_day(firm_id=firm_id),
        occurrence=occurrence,
        to=[Recipient(address, name) for name, address in to],
        write=partial(_write, kind=kind, week=week, today=today, firm=profile, slug=slug),
        now=now,
    )


def _write(
    *, kind: NoticeKind, week: Week, today: date, firm: FirmProfile, slug: str
) -> letters.Letter:
    when = gettext("This week") if kind == NoticeKind.WEEK else gettext("Today")
    told = {
        "week": week,
        "today": today,
        "firm": firm,
        "link": letters.link_to("schedule:todo", slug),
    }
    return letters.Letter(
        _subject(week, when),
        render_to_string("notices/mail/week.txt", told),
        render_to_string("notices/mail/week.html", told),
    )


def _subject(week: Week, when: str) -> str:
    parts = [
        (gettext("%(n)s out of service"), len(week.impairments)),
        (gettext("%(n)s overdue"), len(week.overdue)),
        (gettext("%(n)s falling due"), len(week.soon)),
    ]
    said = ", ".join(words % {"n": many} for words, many in parts if many)
    return f"{when}: {said}" if said else f"{when}: " + gettext("a few things to look at")
