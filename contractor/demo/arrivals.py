"""What came in by itself: logs by mail, and a weekly print-out that did not come. All invented."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from contractor.demo.visits import Crew
from contractor.readings import services as readings
from contractor.readings.models import CameBy, Intake
from contractor.register import queries as register
from contractor.register.models import Building, Device, System
from contractor.visits import queries as visits

PANEL = "panel@brindle-yard.example"


def expect(*, system: System, crew: Crew, now: datetime, days: int, senders: list[str]) -> None:
    """Give a system its address, and expect a print-out of it every so many days."""
    readings.make_secret(system=system, member=crew.office, now=now)
    readings.set_ways(
        system=system,
        senders=senders,
        accepts_alone=False,
        expected_days=days,
        member=crew.office,
        now=now,
        today=now.date(),
    )


def leave_one_missing(*, building: Building, crew: Crew, now: datetime) -> None:
    """Let a weekly print-out be missing: the last one came, and was put aside, 17 days ago."""
    system = register.list_systems(building=building)[0]
    then = now - timedelta(days=17)
    expect(system=system, crew=crew, now=then, days=7, senders=["panel@teasel-street.example"])
    detectors = list(register.list_detectors(building=building)[:40])
    lines = [f"# Teasel Street School, printed {then:%Y-%m-%d} (invented)"]
    lines.append("Head,Place,Type,Corrected [%/ft]")
    lines += [f"{one.address},{one.label},optical,{one.latest_drift or 0:.2f}" for one in detectors]
    intake = readings.take_in(
        building=building,
        system=system,
        filename="teasel_week.csv",
        data="\n".join(lines).encode(),
        member=None,
        now=then,
        came_by=CameBy.MAIL,
        sender="panel@teasel-street.example",
        sender_is_known=True,
        message_id="<week@teasel-street.example>",
    )
    readings.put_aside(intake=intake, member=crew.office, now=then)


def leave_log(*, building: Building, crew: Crew, now: datetime) -> None:
    """Leave an event log that came by mail, to be accepted."""
    detectors = list(register.list_detectors(building=building))
    kitchen = next((one for one in detectors if "itchen" in one.label), detectors[3])
    hall, store = detectors[0], detectors[len(detectors) // 2]
    signals = [
        (-6.4, "ALARM", kitchen),
        (-6.39, "RESTORED", kitchen),
        (-4.1, "TROUBLE", store),
        (-4.05, "RESTORED", store),
        (-2.8, "ALARM", kitchen),
        (-2.79, "RESTORED", kitchen),
        (-1.5, "MAINTENANCE", hall),
        (-0.6, "AC POWER LOSS", None),
        (-0.59, "AC POWER RESTORED", None),
    ]
    _take_log(
        building=building,
        name="brindle_history.txt",
        title="Brindle Yard Workshops, event history (invented)",
        signals=[(now + timedelta(days=days), what, device) for days, what, device in signals],
        now=now,
    )


def leave_evidence(*, building: Building, crew: Crew, now: datetime) -> None:
    """Accept a log of the time of a visit that is under way: evidence to be confirmed."""
    visit = next(
        one
        for one in visits.list_visits(firm_id=building.firm_id, states=("under_way",))
        if one.building_id == building.pk
    )
    waiting = [
        place.device
        for place in visits.load_round(visit=visit).places
        if place.device.is_sensitive and not place.entries
    ][:6]
    signals = [
        (now - timedelta(minutes=5 * place), "ALARM", device)
        for place, device in enumerate(reversed(waiting))
    ]
    log = _take_log(
        building=building,
        name="harrowfen_today.txt",
        title="Harrowfen Depot, event history (invented)",
        signals=sorted(signals, key=lambda signal: signal[0]),
        now=now,
    )
    readings.accept(intake=log, member=crew.office, now=now)


def _take_log(
    *,
    building: Building,
    name: str,
    title: str,
    signals: list[tuple[datetime, str, Device | None]],
    now: datetime,
) -> Intake:
    zone = ZoneInfo(building.time_zone)
    lines = [title, ""]
    for at, what, device in signals:
        about = f"{device.address:<10}{device.label}" if device else ""
        lines.append(f"{at.astimezone(zone):%Y-%m-%d %H:%M:%S}  {what:<18}{about}".rstrip())
    return readings.take_in(
        building=building,
        system=register.list_systems(building=building)[0],
        filename=name,
        data="\n".join(lines).encode(),
        member=None,
        now=now,
        came_by=CameBy.MAIL,
        sender=PANEL,
        sender_is_known=name.startswith("brindle"),
        message_id=f"<{name}@driftbook.example>",
    )
