"""Fill an empty database with the invented scenario."""

import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
from django.contrib.auth.hashers import make_password
from django.db import transaction

from contractor.agreements.models import AgreedBuilding, Agreement
from contractor.alarms.models import UnwantedAlarm
from contractor.demo import (
    alarm_log,
    arrivals,
    batteries,
    histories,
    mails,
    papers,
    past,
    scenario,
    visits,
)
from contractor.drift import services as drift
from contractor.due import services as due
from contractor.due.models import Due
from contractor.engine import sensitivity
from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.readings import services as readings
from contractor.readings.models import Reading, RunCause, RunStart
from contractor.register.models import (
    Area,
    Building,
    Contact,
    Customer,
    Device,
    Product,
    System,
)
from contractor.tenancy import services as tenancy
from contractor.tenancy.models import Firm, Member, User
from contractor.tenancy.scope import scope

Say = Callable[[str], None]


@dataclass
class Cast:
    """One firm's invented people, as rows."""

    firm: Firm
    members: dict[str, Member] = field(default_factory=dict)
    seat: OwnerSeat | None = None

    def who(self, role: str) -> Member:
        """Give the first member of a role."""
        return next(member for member in self.members.values() if member.role == role)


def fill(*, now: datetime, say: Say) -> None:
    """Fill the scenario, firm by firm, each in one transaction; what stands stays."""
    password = make_password(scenario.PASSWORD)
    for contractor in scenario.CONTRACTORS:
        if Firm.objects.filter(slug=contractor.slug).exists():
            continue
        with transaction.atomic():
            firm = tenancy.found_firm(
                slug=contractor.slug,
                name=contractor.name,
                address=contractor.address,
                telephone=contractor.telephone,
                licence=contractor.licence,
                paper=contractor.paper,
                is_invented=True,
                email=f"office@{contractor.slug}.example",
            )
            with scope(firm.pk):
                _fill_firm(firm=firm, contractor=contractor, password=password, now=now, say=say)


def _fill_firm(
    *, firm: Firm, contractor: scenario.Contractor, password: str, now: datetime, say: Say
) -> None:
    cast = Cast(firm)
    for person in contractor.people:
        user = User.objects.create(email=person.email, name=person.name, password=password)
        cast.members[person.email] = Member.objects.create(
            firm=firm, user=user, name=person.name, role=person.role, licence=person.licence
        )
    user = User.objects.create(
        email=contractor.owner.email, name=contractor.owner.name, password=password
    )
    cast.seat = OwnerSeat.objects.create(firm=firm, user=user, opened_at=now)
    products = {
        key: Product.objects.create(firm=firm, **family.__dict__)
        for key, family in scenario.FAMILIES.items()
    }
    papers.add_instruments(firm=firm, today=now.date())
    papers.add_licences(firm=firm, members=cast.members, today=now.date())
    customers: dict[str, Customer] = {}
    for premises in contractor.premises:
        if premises.customer not in customers:
            customers[premises.customer] = _add_customer(firm, premises, cast, contractor, now)
        say(f"{contractor.name}: {premises.name}")
        _add_building(
            cast=cast,
            customer=customers[premises.customer],
            premises=premises,
            products=products,
            now=now,
        )
    if contractor is scenario.TARNBECK:
        say(f"{contractor.name}: visits, a print-out, an impairment")
        _add_work(cast=cast, now=now)
    _foresee(firm=firm, now=now)
    mails.write_nights(
        firm=firm,
        now=now,
        dates=Due.objects.filter(firm=firm).count(),
        detectors=Device.objects.filter(firm=firm, removed_on=None).count(),
    )
    if contractor is scenario.TARNBECK:
        mails.send_mails(
            firm=firm, office=cast.who("office"), principal=cast.who("principal"), now=now
        )


def _foresee(*, firm: Firm, now: datetime) -> None:
    """Go through the fleet as a night does, after what a year of nights would have kept."""
    for months in (24, 18, 12):
        drift.reckon_back(
            firm_id=firm.pk, said_on=scenario.months_before(now.date(), months), now=now
        )
    drift.sweep_whole(firm_id=firm.pk, today=now.date(), now=now)


def _add_customer(
    firm: Firm,
    premises: scenario.Premises,
    cast: Cast,
    contractor: scenario.Contractor,
    now: datetime,
) -> Customer:
    customer = Customer.objects.create(
        firm=firm, name=premises.customer, notes="Invented for the demo."
    )
    contact = Contact.objects.create(
        firm=firm,
        customer=customer,
        name=contractor.owner.name if premises.owned else "the facilities desk",
        email=contractor.owner.email if premises.owned else "",
        part="facilities manager",
    )
    if premises.owned and cast.seat is not None and cast.seat.contact_id is None:
        cast.seat.contact = contact
        cast.seat.save(update_fields=["contact"])
    number = Agreement.objects.filter(firm=firm).count()
    Agreement.objects.create(
        firm=firm,
        customer=customer,
        number=f"A-{2001 + number}",
        starts_on=date(now.year - 3, 7, 1),
        **papers.terms_of(number=number, today=now.date()),
    )
    return customer


def _add_building(
    *,
    cast: Cast,
    customer: Customer,
    premises: scenario.Premises,
    products: dict[str, Product],
    now: datetime,
) -> Building:
    firm, today = cast.firm, now.date()
    installed_on = today - timedelta(days=round(premises.installed_years * 365.25))
    building = Building.objects.create(
        firm=firm,
        customer=customer,
        name=premises.name,
        street=premises.street,
        town=premises.town,
        edition=premises.edition,
        jurisdiction=premises.jurisdiction,
        authority=premises.authority,
        monitoring="Ellory Central (invented), account 4471, 555 0190",
        instructions=premises.instructions,
        releasing=premises.releasing,
        access_held_by=premises.access_held_by,
        second_test_rule=premises.second_test_rule,
        use_extension=premises.use_extension,
        nuisance_log_since=installed_on if premises.keeps_log else None,
    )
    agreement = Agreement.objects.get(firm=firm, customer=customer)
    AgreedBuilding.objects.create(firm=firm, agreement=agreement, building=building)
    if premises.owned and cast.seat is not None:
        OwnedBuilding.objects.create(firm=firm, seat=cast.seat, building=building)
    system = System.objects.create(
        firm=firm,
        building=building,
        name="Main system",
        control_unit="Ostrel N9 (invented)",
        installed_on=installed_on,
    )
    areas = {
        zone.name: Area.objects.create(
            firm=firm,
            building=building,
            name=zone.name,
            description=zone.description,
            position=position,
        )
        for position, zone in enumerate(premises.zones)
    }
    devices = _Devices(
        cast=cast,
        building=building,
        system=system,
        premises=premises,
        products=products,
        areas=areas,
        installed_on=installed_on,
        now=now,
    )
    devices.write()
    _add_alarms(cast=cast, building=building, premises=premises, areas=areas, now=now)
    alarm_log.keep(
        building=building, area=next(iter(areas.values())), member=cast.who("office"), today=today
    )
    readings.refresh_standing(
        device_ids=list(Device.objects.filter(building=building).values_list("pk", flat=True))
    )
    if premises.is_signed:
        visits.sign_one(
            building=building,
            crew=visits.Crew(office=cast.who("office"), technician=cast.who("technician")),
            day=devices.visits[-1],
            held=devices.held,
        )
        devices.write_extra()
    batteries.fill(building=building, member=cast.who("technician"), now=now)
    past.write(
        building=building,
        visits=devices.visits,
        is_signed=premises.is_signed,
        today=today,
        member=cast.who("office"),
    )
    due.refresh_building(building=building, today=today)
    return building


def _add_work(*, cast: Cast, now: datetime) -> None:
    """Add what is going on this week."""
    today = now.date()
    crew = visits.Crew(office=cast.who("office"), technician=cast.who("technician"))

    def at(name: str) -> Building:
        return Building.objects.get(name=name)

    visits.leave_one_for_review(
        building=at("Brindle Yard Workshops"), crew=crew, day=today - timedelta(days=5)
    )
    visits.leave_one_under_way(building=at("Harrowfen Depot"), crew=crew, now=now)
    visits.plan_two(
        dirty=at("Quillmarsh House"),
        school=at("Teasel Street School"),
        crew=crew,
        today=today,
        now=now,
    )
    visits.impair(building=at("Lanternfield Library"), crew=crew, now=now)
    visits.leave_print_out(firm=cast.firm, building=at("Dunmere Cold Store"), crew=crew, now=now)
    arrivals.leave_log(building=at("Brindle Yard Workshops"), crew=crew, now=now)
    arrivals.leave_evidence(building=at("Harrowfen Depot"), crew=crew, now=now)
    arrivals.leave_one_missing(building=at("Teasel Street School"), crew=crew, now=now)
    papers.add_labels(building=at("Quillmarsh House"), member=crew.office, now=now)
    for name in ("Brindle Yard Workshops", "Harrowfen Depot"):
        due.refresh_building(building=at(name), today=today)


class _Devices:
    """The device list of one building with everything read of it, written in bulk."""

    def __init__(
        self,
        *,
        cast: Cast,
        building: Building,
        system: System,
        premises: scenario.Premises,
        products: dict[str, Product],
        areas: dict[str, Area],
        installed_on: date,
        now: datetime,
    ) -> None:
        self.cast, self.building, self.system, self.premises = cast, building, system, premises
        self.products, self.areas, self.installed_on = products, areas, installed_on
        self.today, self.now = now.date(), now
        # Not hash(): that differs from one process to the next.
        self.random = np.random.default_rng(zlib.crc32(premises.name.encode()))
        self.devices: list[Device] = []
        self.runs: list[RunStart] = []
        self.rows: list[dict[str, Any]] = []
        self.later: list[dict[str, Any]] = []  # read after the signed visit
        self.held: list[visits.Held] = []
        self.number = 0
        latest = scenario.months_before(self.today, premises.visit_months_ago)
        self.visits = histories.yearly_visits(
            latest=latest, installed_on=installed_on, skipped=premises.skipped_years
        )
        week_ago = self.today - timedelta(days=7)
        self.extra = [week_ago] if (self.today - latest).days > 60 else []

    def write(self) -> None:
        """Write devices, run starts and readings."""
        for zone in self.premises.zones:
            for at in range(zone.detectors):
                self._add_detector(zone, at)
        zones = list(self.areas.values())
        for kind, count in self.premises.others.items():
            for at in range(count):
                area = zones[at % len(zones)]
                if kind == "duct":
                    self._add_place("duct", area, "Duct, air handler", at, 0.8)
                else:
                    self._add_other(kind, area, at)
        Device.objects.bulk_create(self.devices, batch_size=500)
        RunStart.objects.bulk_create(self.runs, batch_size=1000)
        Reading.objects.bulk_create(self._judged(), batch_size=1000)

    def _next_address(self) -> str:
        self.number += 1
        loop, number = divmod(self.number - 1, 130)
        return self.premises.address.format(loop=loop + 1, number=number + 1)

    def _add_detector(self, zone: scenario.Zone, at: int) -> None:
        room = zone.rooms[at % len(zone.rooms)]
        kind = scenario.FAMILIES[self.premises.family].kind
        self._add_place(kind, self.areas[zone.name], room, at // len(zone.rooms), zone.soiling)

    def _add_place(self, kind: str, area: Area, room: str, at: int, soiling: float) -> None:
        family = "D1" if kind == "duct" else self.premises.family
        product = self.products[family]
        setting = float(self.random.choice(self.premises.settings))
        limit = float(product.compensation_limit or 0.5 * setting)
        address = self._next_address()
        before: Device | None = None
        for life in histories.lives(
            random=self.random,
            installed_on=self.installed_on,
            visits=self.visits,
            rate=self.premises.rate * soiling,
            limit=limit,
            extra=self.extra,
        ):
            device = self._device(kind, area, f"{room} {at + 1}", product, address)
            device.installed_on, device.removed_on = life.installed_on, life.removed_on
            device.setting = f"{setting:.2f}"
            device.replaces = before
            self.devices.append(device)
            before = device
            seen_bulk, cleaned_bulk = self._hold(device, life)
            for day in (life.installed_on, *cleaned_bulk):
                cause = RunCause.INSTALLED if day == life.installed_on else RunCause.CLEANED
                self.runs.append(
                    RunStart(
                        firm=self.cast.firm,
                        device=device,
                        started_on=day,
                        cause=cause,
                        recorded_at=_at(day),
                    )
                )
            for seen in seen_bulk:
                row = {"device": device, "seen": seen, "setting": setting, "limit": limit}
                is_later = self.premises.is_signed and seen.on > self.visits[-1]
                (self.later if is_later else self.rows).append(row | {"product": product})

    def _hold(
        self, device: Device, life: histories.Life
    ) -> tuple[list[histories.Seen], list[date]]:
        """Hold back what the signed visit enters itself; give what is written in bulk."""
        if not self.premises.is_signed or device.removed_on is not None:
            return life.seen, life.cleaned_on
        day = self.visits[-1]
        mine = {seen.stage: seen.drift for seen in life.seen if seen.on == day}
        if "as_found" in mine:
            self.held.append(visits.Held(device, mine["as_found"], mine.get("as_left")))
        return (
            [seen for seen in life.seen if seen.on != day],
            [cleaned for cleaned in life.cleaned_on if cleaned != day],
        )

    def write_extra(self) -> None:
        """Write what was read after the signed visit, and renew where detectors stand."""
        self.rows, self.later = self.later, []
        Reading.objects.bulk_create(self._judged(), batch_size=1000)
        readings.refresh_standing(
            device_ids=list(
                Device.objects.filter(building=self.building).values_list("pk", flat=True)
            )
        )

    def _add_other(self, kind: str, area: Area, at: int) -> None:
        key = scenario.FAMILY_OF_KIND[kind]
        words = dict(Device._meta.get_field("kind").choices or [])[kind]
        device = self._device(
            kind,
            area,
            f"{str(words).capitalize()} {at + 1}",
            self.products[key],
            self._next_address(),
        )
        device.installed_on = self.installed_on
        self.devices.append(device)

    def _device(self, kind: str, area: Area, label: str, product: Product, address: str) -> Device:
        return Device(
            firm=self.cast.firm,
            building=self.building,
            system=self.system,
            area=area,
            product=product,
            kind=kind,
            label=label,
            address=address,
            position=self.number,
        )

    def _judged(self) -> list[Reading]:
        office = self.cast.who("office")
        made = []
        for number, row in enumerate(self.rows, start=1):
            seen, product = row["seen"], row["product"]
            verdict = sensitivity.judge(
                setting=row["setting"],
                drift=seen.drift,
                marked_low=product.marked_low,
                marked_high=product.marked_high,
                compensation_limit=row["limit"],
                nearing_share=product.nearing_share,
            )
            made.append(
                Reading(
                    firm=self.cast.firm,
                    device=row["device"],
                    taken_on=seen.on,
                    stage=seen.stage,
                    is_test=seen.is_test,
                    method="control_unit",
                    setting=row["setting"],
                    drift=seen.drift,
                    limit=row["limit"],
                    used=verdict.allowance_used,
                    marked_low=float(product.marked_low),
                    marked_high=float(product.marked_high),
                    typed={"drift": f"{seen.drift:.2f}", "unit": "%/ft"},
                    verdict=str(verdict.state),
                    rule=verdict.rule,
                    reason=verdict.reason,
                    source=f"print-out, row {number}",
                    recorded_at=_at(seen.on),
                    recorded_by=office,
                )
            )
        return made


def _add_alarms(
    *,
    cast: Cast,
    building: Building,
    premises: scenario.Premises,
    areas: dict[str, Area],
    now: datetime,
) -> None:
    rows = []
    for zone, months, cause, by_detector, words in premises.alarms:
        day = scenario.months_before(now.date(), months)
        rows.append(
            UnwantedAlarm(
                firm=cast.firm,
                building=building,
                area=areas[zone],
                device=alarm_log.find_device(
                    area=areas[zone], words=words, by_detector=by_detector
                ),
                happened_at=_at(day),
                happened_on=day,
                cause=cause,
                by_detector=by_detector,
                circumstances=words,
                judged_by=cast.who("technician").name,
                recorded_by=cast.who("office"),
                recorded_by_name=cast.who("office").name,
                recorded_at=_at(day) + timedelta(hours=3),
            )
        )
    UnwantedAlarm.objects.bulk_create(rows)


def _at(day: date) -> datetime:
    return datetime.combine(day, time(15, 0), tzinfo=UTC)
