"""What an adopted code is made of: clauses, rows, rules with numbers, and how sure each is."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from contractor.engine.editions.sources import SOURCES, Source

type Standing = Literal["confirmed", "common practice", "from memory", "our reading"]

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
class Row(Cited):
    """What is done to one kind of component, how often, how, and to how many of them.

    `frequency` is a frequency that `intervals.window` knows, or one of OTHER_FREQUENCIES.
    `when` is the condition under which the row holds, empty for always.
    """

    component: str
    task: Literal["inspect", "test", "replace"]
    frequency: str
    window: str
    method: str
    sample: str
    clause: str
    when: str = ""

    @property
    def kind(self) -> str:
        """The kind of device that the component is one of."""
        return COMPONENTS[self.component].kind

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
class BatteryRule:
    """How much standby an edition asks for, and when a battery has had its time."""

    standby_h: float
    alarm_min: float
    voice_alarm_min: float
    margin: float
    replace_below: float | None  # share of rated capacity
    replace_soon_below: float | None
    capacity_test_years: float | None
    life_years: float | None  # from manufacture; None: no age limit in the code
    float_v_per_cell: Mapping[str, tuple[float, float]]
    load_v_per_cell: Mapping[str, float]
    standing: Mapping[str, Standing]


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
    notes: tuple[str, ...] = field(default=())

    def clause(self, topic: str) -> Clause:
        """Give the clause on a topic, such as "first_year" or "out_of_range".

        Raises
        ------
        KeyError
            If this edition has no clause on the topic.
        """
        return self.clauses[topic]

    def rows_for(self, kind: str) -> tuple[Row, ...]:
        """List what is done to one kind of device, or to one component."""
        return tuple(row for row in self.rows if kind in (row.kind, row.component))

    def row(self, component: str, task: str, when: str = "") -> Row | None:
        """Find the row of one component and task under one condition."""
        for row in self.rows:
            if (row.component, row.task, row.when) == (component, task, when):
                return row
        return None


@dataclass(frozen=True, slots=True)
class Component:
    """A component as the tables of a code know it, and the kind of device it is one of."""

    kind: str
    name: str


COMPONENTS: Mapping[str, Component] = {}

#: Frequencies that are no window after the last time: the rule named by the row gives the day.
OTHER_FREQUENCIES: Mapping[str, str] = {}
