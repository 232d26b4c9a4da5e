"""Fill an empty database with the invented scenario."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

from django.contrib.auth.hashers import make_password
from django.db import transaction

from contractor.agreements.models import AgreedBuilding, Agreement
from contractor.demo import (
    alarm_log,
    arrivals,
    batteries,
    mails,
    papers,
    past,
    scenario,
    visits,
)
from contractor.demo.cast import Cast
from contractor.demo.devices import Devices
from contractor.drift import services as drift
from contractor.due import services as due
from contractor.due.models import Due
from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.readings import services as readings
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
    devices = Devices(
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
    alarm_log.add_alarms(cast=cast, building=building, premises=premises, areas=areas, now=now)
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
