"""What an adopted code is made of: clauses, rows, rules with numbers, and how sure each is."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from contractor.engine.editions.sources import SOURCES, Source

type Standing = Literal["confirmed", "common practice", "from memory", "our reading"]

CONFIRMED: Literal["confirmed"] = "confirmed"
MEMORY: Literal["from memory"] = "from memory"

STANDINGS: Mapping[Standing, str] = {
    "confirmed": "confirmed by a published restatement",
    "common practice": "common practice, no source",
    "from memory": "from memory, check against a licensed copy",
    "our reading": "our reading where the code is silent",
}


class UnknownEdition(ValueError):
    """No edition has this key."""


class NoSensitivityRule(ValueError):
    """The edition asks for no sensitivity test."""


@dataclass(frozen=True, slots=True)
class Cited:
    """Something that the code says, in our words, and how sure we are of it."""

    standing: Standing
    sources: tuple[str, ...]

    @property
    def references(self) -> tuple[Source, ...]:
        return tuple(SOURCES[key] for key in self.sources)

    @property
    def grade(self) -> str:
        """The best grade among the sources (A, B or C), empty without one."""
        return min((source.grade for source in self.references), default="")

    @property
    def is_confirmed(self) -> bool:
        return self.standing == "confirmed"

    @property
    def note(self) -> str:
        """How sure we are, as it stands on the screen beside the rule."""
        titles = "; ".join(f"{source.title} ({source.grade})" for source in self.references)
        if self.is_confirmed:
            return f"confirmed by {titles}"
        said = STANDINGS[self.standing]
        return f"{said}; supported by {titles}" if titles else said


@dataclass(frozen=True, slots=True)
class Clause(Cited):
    """One clause: its number in this edition, and what it asks in our own words."""

    topic: str
    number: str
    says: str

    def __str__(self) -> str:
        return self.number


@dataclass(frozen=True, slots=True)
class Component:
    """A component as the tables of a code know it, and the kind of device that it is."""

    kind: str
    name: str


COMPONENTS: Mapping[str, Component] = {
    "all_equipment": Component("system", "all equipment"),
    "control_unit_monitored": Component("control_unit", "control unit, monitored off the premises"),
    "control_unit_unmonitored": Component("control_unit", "control unit, not monitored"),
    "household": Component("control_unit", "control unit of a household system"),
    "software": Component("change", "site-specific software, after a change"),
    "executive_software": Component("change", "executive software, after a change"),
    "battery_vrla": Component("battery", "battery, sealed lead-acid"),
    "battery_vented": Component("battery", "battery, vented lead-acid"),
    "battery_nicad": Component("battery", "battery, nickel-cadmium"),
    "battery_primary": Component("battery", "battery, primary cells"),
    "smoke": Component("smoke", "smoke detector"),
    "smoke_heat": Component("smoke_heat", "smoke and heat detector"),
    "duct": Component("duct", "duct smoke detector"),
    "beam": Component("other", "beam smoke detector"),
    "aspirating": Component("other", "aspirating smoke detector"),
    "flame": Component("other", "flame detector"),
    "video": Component("other", "video smoke or flame detector"),
    "thermal_image": Component("other", "thermal image detector"),
    "carbon_monoxide": Component("other", "carbon monoxide detector"),
    "smoke_alarm": Component("other", "smoke alarm in a dwelling"),
    "heat_restorable": Component("heat", "heat detector, restorable spot"),
    "heat_line": Component("heat", "heat detector, nonrestorable line"),
    "heat_nonrestorable": Component("heat", "heat detector, nonrestorable spot"),
    "manual": Component("manual", "manual station"),
    "waterflow": Component("waterflow", "waterflow switch"),
    "tamper": Component("tamper", "valve supervisory switch"),
    "air_pressure": Component("other", "air pressure supervisory switch"),
    "water_level": Component("other", "water level supervisory switch"),
    "room_temperature": Component("other", "room temperature supervisory switch"),
    "water_temperature": Component("other", "water temperature supervisory switch"),
    "suppression": Component("other", "suppression system alarm switch"),
    "releasing": Component("other", "releasing device"),
    "audible": Component("audible", "audible appliance"),
    "visible": Component("visible", "visible appliance"),
    "voice": Component("other", "in-building voice equipment"),
    "module": Component("module", "interface module"),
    "annunciator": Component("other", "remote annunciator"),
    "power_extender": Component("other", "remote power supply"),
    "transmitter": Component("other", "transmitter off the premises"),
    "supervising_station": Component("other", "receipt of signals, supervising station"),
    "radio": Component("other", "radio enhancement for responders"),
    "elevator_recall": Component("other", "elevator firefighters' service"),
    "service_visit": Component("system", "service visit"),
    "manual_weekly": Component("system", "weekly test by the user"),
    "owner_daily": Component("system", "daily check by the owner"),
    "owner_monthly": Component("system", "monthly check by the owner"),
}

#: Frequencies that are no window after the last time: a rule with numbers of its own gives the day.
OTHER_FREQUENCIES: Mapping[str, str] = {
    "sensitivity": "by the sensitivity interval",
    "life": "by age",
    "event": "after a change",
    "maker": "by the maker's word",
}


#: Frequencies whose tasks usually fall to the owner's own people: common practice, no source.
OWNERS_FREQUENCIES = ("daily", "weekly", "monthly")

#: What is done, in words, by the key of a row.
TASK_WORDS: Mapping[str, str] = {
    "inspection": "visual inspection",
    "inspection_trouble": "inspection of trouble signals",
    "functional": "functional test",
    "sensitivity": "sensitivity test",
    "charger": "charger test",
    "load": "load voltage test",
    "discharge": "discharge test",
    "capacity": "capacity test",
    "gravity": "specific gravity test",
    "ohmic": "cell ohmic test",
    "sound_public": "sound level, public mode",
    "sound_private": "sound level, private mode",
    "sound_sleeping": "sound level, sleeping areas",
    "low_frequency": "low frequency, sleeping areas",
    "light": "light output",
    "replacement": "replacement",
    "reacceptance": "test after a software change",
}


@dataclass(frozen=True, slots=True)
class Row(Cited):
    """What is done to one component, how often, how, and to how many of them.

    `frequency` is a word of the edition's window rule, or one of OTHER_FREQUENCIES. `part` tells
    several tests of one component apart.
    """

    component: str
    task: Literal["inspect", "test", "replace"]
    part: str
    frequency: str
    method: str
    sample: str
    clause: str

    @property
    def kind(self) -> str:
        """The kind of device that the component is."""
        return COMPONENTS[self.component].kind

    @property
    def key(self) -> str:
        """The task's key: one of TASK_WORDS. A component has each key once at most."""
        if self.task == "inspect":
            return f"inspection_{self.part}" if self.part else "inspection"
        if self.task == "replace":
            return "replacement"
        return self.part or "functional"

    @property
    def words(self) -> str:
        """What is done, in words."""
        return TASK_WORDS[self.key]

    @property
    def how_often(self) -> str:
        """How often, in words."""
        return OTHER_FREQUENCIES.get(self.frequency) or self.frequency.replace("_", "-")

    @property
    def name(self) -> str:
        return COMPONENTS[self.component].name


@dataclass(frozen=True, slots=True)
class SensitivityRule:
    """The sensitivity intervals of one edition, in months."""

    first_months: int
    repeat_months: int
    extended_months: int | None
    required_tests: int
    # The least distance between two tests that both count as required. The code is silent; the
    # short end of the window of an annual test is our reading.
    counted_gap_months: int
    unmarked_high: float  # [%/ft]
    methods: Mapping[str, str]
    refused_methods: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class CellVoltage(Cited):
    """What one cell of a chemistry shows when it is well. [V]"""

    float_v: float | None
    float_tolerance_v: float | None
    load_v: float


@dataclass(frozen=True, slots=True)
class BatteryRule(Cited):
    """How much standby an edition asks for, and when a battery has had its time.

    Shares are of the rated capacity; None where the edition leaves it to the maker.
    """

    standby_h: float
    alarm_min: float
    voice_alarm_min: float
    margin: float
    clause: str
    margin_clause: str
    replace_at_or_below: float | None = None
    replace_soon_below: float | None = None
    capacity_test_years: int | None = None
    life_years: int | None = None  # from manufacture
    label_years: int | None = None  # from installation to the replacement date on the label
    cells: Mapping[str, CellVoltage] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LifeRule:
    """Samples and lives that an edition gives in numbers."""

    heat_per_circuit: int
    heat_cover_years: int
    heat_life_years: int
    heat_lab_sample: int
    heat_lab_per: int
    heat_lab_repeat_years: int
    smoke_alarm_years: int
    unsafe_months: int
    software_share: float
    software_most: int
    clauses: Mapping[str, Clause]


@dataclass(frozen=True, slots=True)
class AlarmRule(Cited):
    """From how many unwanted alarms on something must be done about them."""

    says: str
    count: int | None = None
    days: int | None = None
    per_detectors: int | None = None
    small_system: int | None = None  # up to so many detectors `count` alone decides
    from_one_device: int | None = None


class RateBand(NamedTuple):
    """Up to one alarm in a year from so many detectors, in a place of some sort."""

    per_detectors: int
    where: str

    @property
    def per_100(self) -> float:
        """[alarms per 100 detectors and year]"""
        return 100 / self.per_detectors


@dataclass(frozen=True, slots=True)
class RateGuide(Cited):
    """What rates of alarms without fire a code has in mind; guidance under any other code."""

    says: str
    bands: tuple[RateBand, ...]
    service_visit: RateBand  # above it something is done at the service visit
    investigation: RateBand  # from it on an in-depth investigation


@dataclass(frozen=True, slots=True)
class Edition:
    """One edition of one code."""

    key: str
    code: str
    title: str
    year: int
    country: str
    clauses: Mapping[str, Clause]
    rows: tuple[Row, ...] = ()
    window_rule: str = "nfpa72"
    sensitivity: SensitivityRule | None = None
    battery: BatteryRule | None = None
    life: LifeRule | None = None
    alarms: AlarmRule | None = None
    rates: RateGuide | None = None
    notes: tuple[str, ...] = field(default=())

    def clause(self, topic: str) -> Clause:
        """Give the clause on a topic, such as "first_year" or "out_of_range".

        Raises
        ------
        KeyError
            If this edition has no clause on the topic.
        """
        return self.clauses[topic]

    def refusal(self, method: str, *, part: str = "sensitivity") -> str:
        """Say why a method does not do for a test; empty where it does.

        The code names methods for sensitivity only; any other part is the maker's to say.
        """
        rule = self.sensitivity
        if part != "sensitivity" or rule is None or method in rule.methods:
            return ""
        if method in rule.refused_methods:
            return f"Not a sensitivity test: {rule.refused_methods[method]}."
        return f"Not a permitted method. Use {'; '.join(rule.methods.values())}."

    def rows_for(self, kind: str) -> tuple[Row, ...]:
        """List what is done to one kind of device, or to one component."""
        return tuple(row for row in self.rows if kind in (row.kind, row.component))

    def rows_of(self, component: str) -> tuple[Row, ...]:
        """List what is done to one component."""
        return tuple(row for row in self.rows if row.component == component)

    def row(self, component: str, task: str, part: str = "") -> Row | None:
        """Find what is done to a component under a task; None where the edition says nothing."""
        for row in self.rows:
            if (row.component, row.task, row.part) == (component, task, part):
                return row
        return None
