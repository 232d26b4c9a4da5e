"""What is where: customers, buildings, areas, systems, products, devices, instruments."""

import re

from django.db import models
from django.db.models import Q

from contractor.engine.editions.model import COMPONENTS
from contractor.tenancy.clocks import Zoned
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel


class Customer(FirmModel):
    """Who has the agreement."""

    name = models.CharField(max_length=160)
    address = models.TextField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    notes = models.TextField(blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints]

    def __str__(self) -> str:
        return self.name


class Topic(models.TextChoices):
    """What a contact is told of."""

    VISITS = "visits", "visits to come"
    FINDINGS = "findings", "deficiencies and what they cost"
    IMPAIRMENTS = "impairments", "protection out of service, at once"
    REPORTS = "reports", "reports of what was tested"
    BILLS = "bills", "agreements and bills"


def every_topic() -> list[str]:
    """List all topics: a contact is told of everything unless somebody says less."""
    return list(Topic.values)


class Contact(FirmModel):
    """A person of the customer's to tell."""

    customer = models.ForeignKey(Customer, models.CASCADE, db_constraint=False, db_index=False)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    part = models.CharField(max_length=80, blank=True)  # "facilities manager"
    told_of = models.JSONField(default=every_topic)  # keys of Topic
    left_on = models.DateField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("customer")]
        indexes = [models.Index(fields=["firm", "customer"], name="contact_by_customer")]

    def __str__(self) -> str:
        return self.name

    @property
    def topic_words(self) -> list[str]:
        """What they are told of, in words."""
        return [topic.label for topic in Topic if topic.value in self.told_of]


class SecondTestRule(models.TextChoices):
    """Which tests earn the five-year interval."""

    CODE = "code", "the tests of year 1 and of the alternate year"
    STRICT = "strict", "two alternate-year tests"


class YearRule(models.TextChoices):
    """Which years an increase of nuisance alarms is counted over."""

    ROLLING = "rolling", "any twelve months"
    CALENDAR = "calendar", "calendar years to date"


def usual_places() -> list[str]:
    """List whose rules of notice hold unless somebody says otherwise."""
    return ["nfpa72"]


def usual_limits() -> list[str]:
    """List which limits of an outage hold unless somebody says otherwise."""
    return ["nfpa72"]


class Building(Zoned, FirmModel):
    """The protected premises, with the code that governs its tests."""

    customer = models.ForeignKey(Customer, models.PROTECT, db_constraint=False, db_index=False)
    name = models.CharField(max_length=160)
    street = models.CharField(max_length=160, blank=True)
    town = models.CharField(max_length=120, blank=True)
    region = models.CharField(max_length=80, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    time_zone = models.CharField(max_length=64, default="America/New_York")
    edition = models.CharField("adopted edition", max_length=40, default="nfpa72-2019")
    jurisdiction = models.CharField(max_length=120, blank=True)
    authority = models.CharField("authority having jurisdiction", max_length=160, blank=True)
    authority_address = models.TextField(blank=True)
    monitoring = models.TextField("supervising station: account, telephone", blank=True)
    instructions = models.TextField("keys, escorts, hours, hazards", blank=True)
    releasing = models.TextField("releasing and elevator circuits to secure", blank=True)
    access_held_by = models.TextField(  # never the secret itself
        "who holds passwords, access codes and site software, and where", blank=True
    )
    second_test_rule = models.CharField(
        max_length=8, choices=SecondTestRule.choices, default=SecondTestRule.CODE
    )
    year_rule = models.CharField(max_length=8, choices=YearRule.choices, default=YearRule.ROLLING)
    use_extension = models.BooleanField("use the five-year interval where earned", default=True)
    nuisance_log_since = models.DateField(
        "unwanted-alarm record unbroken since", null=True, blank=True
    )
    extension_approval = models.CharField(
        "the authority's written approval of the five-year interval: who, when",
        max_length=200,
        blank=True,
    )
    accreditor_windows = models.BooleanField(
        "show the health care accreditor's windows beside", default=False
    )
    places = models.JSONField(  # keys of engine.deadlines.DUTIES
        "whose rules say who is told of a finding", default=usual_places, blank=True
    )
    out_limits = models.JSONField(  # keys of engine.deadlines.OUT_LIMITS
        "which limits hold while protection is out", default=usual_limits, blank=True
    )

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("customer")]
        indexes = [
            models.Index(fields=["firm", "customer"], name="building_by_customer"),
            models.Index(fields=["firm", "name"], name="building_by_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def address(self) -> str:
        """The address in one line."""
        place = " ".join(part for part in (self.region, self.postcode) if part)
        return ", ".join(part for part in (self.street, self.town, place) if part)


class Area(FirmModel):
    """A floor, zone or room; areas nest. A zone is the level that alarm counts use."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    parent = models.ForeignKey(
        "self", models.CASCADE, null=True, blank=True, db_constraint=False, db_index=False
    )
    name = models.CharField(max_length=120)
    description = models.CharField(max_length=160, blank=True)  # "Level 1, kitchen and hall"
    is_zone = models.BooleanField("alarms are counted here", default=True)
    position = models.PositiveIntegerField(default=0)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("parent"),
            models.UniqueConstraint(
                fields=["firm", "building", "name"], name="one_area_per_name_in_a_building"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def words(self) -> str:
        """Its name, and what is there."""
        return ", ".join(part for part in (self.name, self.description) if part)


class System(FirmModel):
    """One fire alarm system with its control unit(s)."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    name = models.CharField(max_length=120)
    control_unit = models.CharField(max_length=160, blank=True)
    installed_on = models.DateField(null=True, blank=True)
    date_order = models.CharField(  # how its print-outs write a date: "mdy", "dmy", "ymd"
        max_length=3, default="mdy"
    )

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("building")]
        indexes = [models.Index(fields=["firm", "building"], name="system_by_building")]

    def __str__(self) -> str:
        return self.name


class Kind(models.TextChoices):
    """What a device is."""

    SMOKE = "smoke", "smoke detector"
    SMOKE_HEAT = "smoke_heat", "smoke and heat detector"
    DUCT = "duct", "duct smoke detector"
    HEAT = "heat", "heat detector"
    MANUAL = "manual", "manual station"
    WATERFLOW = "waterflow", "waterflow switch"
    TAMPER = "tamper", "valve supervisory switch"
    AUDIBLE = "audible", "audible appliance"
    VISIBLE = "visible", "visible appliance"
    MODULE = "module", "module"
    BATTERY = "battery", "battery set"
    CONTROL_UNIT = "control_unit", "control unit"
    OTHER = "other", "other device"


#: Kinds whose sensitivity is tested and whose drift is followed.
SENSITIVE_KINDS = (Kind.SMOKE, Kind.SMOKE_HEAT, Kind.DUCT)

#: What a device is taken for while nobody has said more: common practice, no source.
USUAL_COMPONENTS = {
    Kind.SMOKE: "smoke",
    Kind.SMOKE_HEAT: "smoke_heat",
    Kind.DUCT: "duct",
    Kind.HEAT: "heat_restorable",
    Kind.MANUAL: "manual",
    Kind.WATERFLOW: "waterflow",
    Kind.TAMPER: "tamper",
    Kind.AUDIBLE: "audible",
    Kind.VISIBLE: "visible",
    Kind.MODULE: "module",
    Kind.BATTERY: "battery_vrla",
    Kind.CONTROL_UNIT: "control_unit_monitored",
}


def list_components(kind: str) -> list[tuple[str, str]]:
    """List what a device of a kind may be in the tables of a code, as key and words."""
    return [
        (key, component.name) for key, component in COMPONENTS.items() if component.kind == kind
    ]


class Product(FirmModel):
    """A make and model, with what is marked on it and how it may correct for soiling."""

    make = models.CharField(max_length=80)  # empty while only a list has named it
    model = models.CharField(max_length=80)
    kind = models.CharField(max_length=16, choices=Kind.choices, default=Kind.SMOKE)
    principle = models.CharField(max_length=40, blank=True)  # photoelectric, ionization, …
    marked_low = models.DecimalField(  # [%/ft]
        max_digits=6, decimal_places=3, null=True, blank=True
    )
    marked_high = models.DecimalField(  # [%/ft]
        max_digits=6, decimal_places=3, null=True, blank=True
    )
    is_adjustable = models.BooleanField("sensitivity can be set in the field", default=False)
    compensation_limit = models.DecimalField(  # [%/ft]; when stated it wins over the share
        max_digits=6, decimal_places=3, null=True, blank=True
    )
    limit_share_of_setting = models.DecimalField(max_digits=4, decimal_places=3, default="0.5")
    nearing_share = models.DecimalField(max_digits=4, decimal_places=3, default="0.75")

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            models.UniqueConstraint(fields=["firm", "make", "model"], name="one_product_per_model"),
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.model}".strip()


class VerdictState(models.TextChoices):
    """Where a detector stands."""

    IN_RANGE = "in_range", "in range"
    NEARING = "nearing_limit", "nearing its limit"
    OUT = "out_of_range", "out of range"
    NOT_JUDGED = "not_judged", "not judged"


class Device(FirmModel):
    """Anything on the device list. A replaced device is a new row.

    The latest_* columns are kept beside the device so that lists need no history; only
    readings.services writes them.
    """

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    system = models.ForeignKey(System, models.CASCADE, db_constraint=False, db_index=False)
    area = models.ForeignKey(
        Area, models.SET_NULL, null=True, blank=True, db_constraint=False, db_index=False
    )
    product = models.ForeignKey(
        Product, models.SET_NULL, null=True, blank=True, db_constraint=False, db_index=False
    )
    address = models.CharField(max_length=40)
    label = models.CharField(max_length=160, blank=True)
    kind = models.CharField(max_length=16, choices=Kind.choices)
    component = models.CharField(  # key of COMPONENTS; empty: what its kind usually is
        "as the code's tables name it", max_length=24, blank=True
    )
    circuit = models.CharField("initiating circuit or loop", max_length=40, blank=True)
    unsafe_agreement = models.CharField(
        "unsafe to reach: who at the authority agreed to wait for a shutdown, and when",
        max_length=200,
        blank=True,
    )
    serial = models.CharField(max_length=60, blank=True)
    position = models.PositiveIntegerField("walking order", default=0)
    installed_on = models.DateField(null=True, blank=True)
    manufactured_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    replaces = models.ForeignKey(
        "self",
        models.SET_NULL,
        null=True,
        blank=True,
        db_constraint=False,
        db_index=False,
        related_name="replaced_by",
    )
    setting = models.DecimalField(  # most sensitive setting, the lower of day and night [%/ft]
        max_digits=6, decimal_places=3, null=True, blank=True
    )

    latest_on = models.DateField(null=True, blank=True)
    latest_verdict = models.CharField(
        max_length=16, choices=VerdictState.choices, default=VerdictState.NOT_JUDGED
    )
    latest_reason = models.TextField(blank=True)
    latest_point = models.FloatField(null=True)  # alarm point, measured or set [%/ft]
    latest_drift = models.FloatField(null=True)  # [%/ft]
    latest_limit = models.FloatField(null=True)  # how far it may correct [%/ft]
    latest_used = models.FloatField(null=True)  # allowance used, 0 to 1
    run_started_on = models.DateField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("system"),
            SameFirm("area"),
            SameFirm("product"),
            SameFirm("replaces"),
            models.UniqueConstraint(
                fields=["firm", "system", "address"],
                condition=Q(removed_on=None),
                name="one_device_per_address",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "address"], name="device_by_building"),
            models.Index(  # how a firm's smoke detectors stand is counted from here alone
                fields=["firm", "building", "latest_verdict", "latest_used"],
                condition=models.Q(removed_on=None, kind__in=SENSITIVE_KINDS),
                name="detector_by_verdict",
            ),
            models.Index(fields=["firm", "area"], name="device_by_area"),
            models.Index(fields=["firm", "product"], name="device_by_product"),
        ]

    def __str__(self) -> str:
        return f"{self.address} {self.label}".strip()

    @property
    def is_sensitive(self) -> bool:
        """Whether its sensitivity is tested."""
        return self.kind in SENSITIVE_KINDS

    @property
    def circuit_name(self) -> str:
        """Its initiating circuit: as entered, else the part of its address before its number.

        A letter before either number that only says what follows is no part of the name, so that
        a loop is one circuit though its devices' addresses were written in two ways.
        """
        if self.circuit:
            return self.circuit
        for pattern in (r"(.*[0-9A-Za-z])[-:./ ][A-Za-z]?\d+", r"([A-Za-z]*\d+)[A-Za-z]+\d+"):
            if found := re.fullmatch(pattern, self.address.strip()):
                return re.sub(r"^[Ll](?=\d+$)", "", found[1])
        return ""

    @property
    def component_key(self) -> str:
        """What it is in the tables of a code; empty where nobody has said."""
        return self.component or self.usual_component

    @property
    def usual_component(self) -> str:
        """What it is taken for while nobody has said more."""
        return USUAL_COMPONENTS.get(Kind(self.kind), "")


class InstrumentKind(models.TextChoices):
    """What an instrument measures."""

    SENSITIVITY = "sensitivity", "sensitivity tester"
    SOUND = "sound", "sound level meter"
    BATTERY = "battery", "battery tester or voltmeter"
    OTHER = "other", "another instrument"


class Instrument(FirmModel):
    """A calibrated instrument; its calibration is printed beside every reading made with it."""

    name = models.CharField(max_length=80)
    kind = models.CharField(
        max_length=12, choices=InstrumentKind.choices, default=InstrumentKind.SENSITIVITY
    )
    serial = models.CharField(max_length=60, blank=True)
    calibrated_on = models.DateField(null=True, blank=True)
    calibration_ends_on = models.DateField(null=True, blank=True)
    out_of_use_on = models.DateField(null=True, blank=True)
    out_of_use_reason = models.CharField(max_length=160, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints]

    def __str__(self) -> str:
        return self.name
