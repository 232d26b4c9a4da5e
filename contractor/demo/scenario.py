"""The invented scenario: two firms, their buildings, and what went on there.

Every name, address, product and person is made up. Days are told as distance from today, so that
the demo looks the same whenever it is filled.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta

PASSWORD = "heron-gate-lantern"


@dataclass(frozen=True)
class Person:
    """Someone who can sign in."""

    email: str
    name: str
    role: str
    licence: str = ""


@dataclass(frozen=True)
class Family:
    """An invented family of detectors. [%/ft]"""

    make: str
    model: str
    kind: str
    principle: str = ""
    marked_low: str | None = None
    marked_high: str | None = None
    compensation_limit: str | None = None
    is_adjustable: bool = False


@dataclass(frozen=True)
class Zone:
    """One zone: how many detectors, in which rooms, how fast they soil."""

    name: str
    description: str
    detectors: int
    rooms: tuple[str, ...]
    soiling: float = 1.0  # against the building's own rate


@dataclass(frozen=True)
class Premises:
    """One building with its system, its code and its past."""

    name: str
    street: str
    town: str
    customer: str
    edition: str
    zones: tuple[Zone, ...]
    family: str
    others: dict[str, int]  # kind -> how many
    installed_years: float
    visit_months_ago: int  # the latest yearly test
    rate: float  # median soiling [%/ft per year]
    settings: tuple[float, ...] = (2.5,)
    address: str = "{loop}-{number:03d}"
    jurisdiction: str = ""
    authority: str = ""
    instructions: str = ""
    releasing: str = ""
    access_held_by: str = ""
    second_test_rule: str = "code"
    use_extension: bool = True
    keeps_log: bool = True
    skipped_years: tuple[int, ...] = ()  # yearly visits that did not take place, 0 the latest
    alarms: tuple[tuple[str, float, str, bool, str], ...] = ()  # zone, months ago, cause, …
    owned: bool = False  # the demo's owner sees it
    is_signed: bool = False  # its latest yearly visit stands as a signed one


@dataclass(frozen=True)
class Contractor:
    """One firm with its people."""

    slug: str
    name: str
    address: str
    telephone: str
    licence: str
    paper: str
    people: tuple[Person, ...]
    owner: Person
    premises: tuple[Premises, ...] = field(default_factory=tuple)


FAMILIES = {
    "P2": Family("Ostrel", "P2", "smoke", "photoelectric", "1.0", "3.5", "1.00"),
    "P4": Family("Ostrel", "P4", "smoke", "photoelectric", "0.5", "4.0", None, True),
    "C7": Family("Verrin", "C7", "smoke_heat", "photoelectric and thermal", "1.2", "3.9"),
    "D1": Family("Verrin", "D1", "duct", "photoelectric", "1.0", "3.6"),
    "H3": Family("Ostrel", "H3", "heat", "rate of rise and fixed 57 °C"),
    "M1": Family("Ostrel", "M1", "manual"),
    "X2": Family("Verrin", "X2", "module"),
    "A5": Family("Hallowby", "A5", "audible"),
    "W1": Family("Hallowby", "W1", "waterflow"),
    "V1": Family("Hallowby", "V1", "tamper"),
    "B18": Family("Coldwell", "B18", "battery", "sealed lead-acid, 18 Ah"),
    "N9": Family("Ostrel", "N9", "control_unit"),
}
FAMILY_OF_KIND = {
    "heat": "H3",
    "manual": "M1",
    "module": "X2",
    "audible": "A5",
    "waterflow": "W1",
    "tamper": "V1",
    "duct": "D1",
    "battery": "B18",
    "control_unit": "N9",
}

_OFFICE = ("Entrance lobby", "Reception", "Office", "Corridor, west", "Corridor, east", "Stair")
_PLANT = ("Boiler room", "Plant corridor", "Switch room", "Store", "Riser", "Workshop bench")
_HALL = ("Kitchen corridor", "Hall, bay", "Servery", "Cloakroom", "Stage left", "Dish room")
_CARE = ("Ward bay", "Treatment room", "Linen store", "Nurses' desk", "Waiting room", "Pharmacy")
_COLD = ("Cold room, aisle", "Loading dock", "Packing line", "Battery charging", "Canteen store")
_CLASS = ("Classroom", "Corridor", "Science room", "Library corner", "Sports store", "Staff room")
_WORK = ("Bay", "Paint store", "Welding shop", "Tool crib", "Compressor room", "Drawing office")
_BOOKS = ("Stacks, row", "Reading room", "Archive", "Map room", "Bindery", "Returns desk")

TARNBECK = Contractor(
    slug="tarnbeck",
    name="Tarnbeck Alarm Service",
    address="2 Ferry Lane\nPort Ellory",
    telephone="555 0134",
    licence="FA-20418 (invented)",
    paper="letter",
    people=(
        Person("principal@tarnbeck.example", "R. Osterby", "principal", "FA-20418 (invented)"),
        Person("office@tarnbeck.example", "I. Tarrowby", "office"),
        Person("technician@tarnbeck.example", "T. Varsk", "technician", "T-7731 (invented)"),
        Person("second@tarnbeck.example", "J. Fennimore", "technician", "T-8102 (invented)"),
    ),
    owner=Person("owner@quillmarsh.example", "M. Lund-Avery", "owner"),
    premises=(
        Premises(
            name="Quillmarsh House",
            street="14 Saltgate Row",
            town="Port Ellory",
            customer="Saltgate Estates",
            edition="nfpa72-2013",
            jurisdiction="Port Ellory (invented)",
            authority="Port Ellory Fire Prevention Bureau (invented)",
            instructions="Keys at the desk, ask for M. Lund-Avery. No sounders before 17:00.",
            releasing="Kitchen hood suppression on loop 2. Elevator recall from lobby detectors.",
            access_held_by="Passwords: M. Lund-Avery, sealed envelope in the key safe at the desk."
            " Site software and its last backup: this firm, and a copy with the owner.",
            zones=(
                Zone("Zone 1", "Basement and plant", 26, _PLANT, 1.3),
                Zone("Zone 2", "Level 1, kitchen and hall", 38, _HALL, 1.7),
                Zone("Zone 3", "Level 2", 36, _OFFICE),
                Zone("Zone 4", "Level 3", 34, _OFFICE, 0.8),
                Zone("Zone 5", "Roof and elevator shaft", 14, _PLANT, 0.9),
            ),
            family="P2",
            others={"heat": 18, "manual": 16, "audible": 20, "module": 7, "waterflow": 2}
            | {"battery": 1},
            installed_years=7.7,
            visit_months_ago=8,
            rate=0.07,
            settings=(2.5, 2.5, 3.0),
            alarms=(
                ("Zone 1", 6.5, "nuisance", True, "Steam from the boiler vent."),
                ("Zone 1", 19.0, "nuisance", True, "Steam from the boiler vent."),
                ("Zone 2", 2.5, "nuisance", True, "Burnt toast in the servery."),
                ("Zone 2", 3.4, "nuisance", True, "Dish room steam."),
                ("Zone 2", 3.0, "unintentional", False, "Station knocked by a trolley."),
                ("Zone 2", 15.6, "nuisance", True, "Burnt toast in the servery."),
                ("Zone 2", 16.4, "nuisance", True, "Dish room steam."),
                ("Zone 2", 19.0, "nuisance", True, "Fog machine in the hall."),
                ("Zone 3", 5.5, "malicious", False, "Station pulled; nobody seen."),
                ("Zone 4", 1.4, "unknown", True, "No cause found."),
                ("Zone 4", 15.0, "nuisance", True, "Floor sanding."),
            ),
            owned=True,
            is_signed=True,
        ),
        Premises(
            name="Port Ellory Clinic",
            street="3 Harbour Walk",
            town="Port Ellory",
            customer="Ellory Health Trust",
            edition="nfpa72-2019",
            jurisdiction="Port Ellory (invented)",
            authority="Port Ellory Fire Prevention Bureau (invented)",
            instructions="Permit from the ward manager first. Quiet hours 13:00 to 15:00.",
            zones=(
                Zone("Zone 1", "Ground floor, reception", 30, _CARE),
                Zone("Zone 2", "Level 1, wards A and B", 42, _CARE, 0.8),
                Zone("Zone 3", "Level 2, theatres", 28, _CARE, 0.7),
                Zone("Zone 4", "Laundry and kitchen", 22, _HALL, 1.9),
            ),
            family="C7",
            others={"heat": 10, "manual": 14, "audible": 16, "duct": 6, "battery": 2},
            installed_years=6.4,
            visit_months_ago=10,
            rate=0.07,
            settings=(2.0, 2.5),
            alarms=(
                ("Zone 4", 0.2, "nuisance", True, "Lint in the dryer room."),
                ("Zone 4", 2.1, "nuisance", True, "Lint in the dryer room."),
                ("Zone 4", 4.6, "nuisance", True, "Steam from the press."),
                ("Zone 4", 17.0, "nuisance", True, "Lint in the dryer room."),
                ("Zone 4", 18.5, "nuisance", True, "Burnt milk."),
                ("Zone 1", 11.0, "unintentional", False, "Contractor's drill at a station."),
            ),
        ),
        Premises(
            name="Dunmere Cold Store",
            street="Quay 9",
            town="Dunmere",
            customer="Northquay Logistics",
            edition="nfpa72-2010",
            jurisdiction="Dunmere (invented)",
            authority="Dunmere Fire Marshal (invented)",
            instructions="Hard hats. Cold rooms at -22 °C: tell the shift leader.",
            releasing="Ammonia shut-off relay on module 1-090.",
            zones=(
                Zone("Zone 1", "Cold rooms", 40, _COLD, 0.9),
                Zone("Zone 2", "Docks and packing", 34, _COLD, 1.6),
            ),
            family="P4",
            others={"heat": 8, "manual": 8, "audible": 5, "module": 1, "battery": 1},
            installed_years=6.9,
            visit_months_ago=26,
            rate=0.11,
            settings=(2.5, 2.0),
            use_extension=False,
            keeps_log=False,
        ),
        Premises(
            name="Teasel Street School",
            street="40 Teasel Street",
            town="Port Ellory",
            customer="Ellory School Board",
            edition="nfpa72-2016",
            jurisdiction="Port Ellory (invented)",
            authority="Port Ellory Fire Prevention Bureau (invented)",
            instructions="Term time after 15:30 only.",
            zones=(
                Zone("Zone 1", "Main building", 60, _CLASS),
                Zone("Zone 2", "Science wing", 34, _CLASS, 1.4),
                Zone("Zone 3", "Sports hall", 20, _HALL, 1.1),
            ),
            family="P4",
            others={"heat": 14, "manual": 18, "audible": 24, "battery": 1},
            installed_years=5.3,
            visit_months_ago=11,
            rate=0.06,
            settings=(2.5, 3.0),
            second_test_rule="strict",
            alarms=(("Zone 2", 12.5, "nuisance", True, "Bunsen burner."),),
        ),
        Premises(
            name="Brindle Yard Workshops",
            street="Unit 5, Brindle Yard",
            town="Harrowfen",
            customer="Brindle Yard Holdings",
            edition="nfpa72-2022",
            jurisdiction="Harrowfen (invented)",
            authority="Harrowfen Fire Department (invented)",
            zones=(
                Zone("Zone 1", "Machine hall", 36, _WORK, 1.8),
                Zone("Zone 2", "Offices", 26, _OFFICE, 0.7),
            ),
            family="P2",
            others={"heat": 10, "manual": 8, "audible": 6},
            installed_years=5.1,
            visit_months_ago=12,
            rate=0.12,
            settings=(3.0, 2.5),
        ),
        Premises(
            name="Lanternfield Library",
            street="1 Lantern Square",
            town="Lanternfield",
            customer="Town of Lanternfield",
            edition="nfpa72-2025",
            jurisdiction="Lanternfield (invented)",
            authority="Lanternfield Fire Prevention (invented)",
            instructions="Escort in the archive. Clean-agent release in the archive: see below.",
            releasing="Clean agent in the archive, zone 2: disconnect, tag, count, reconnect.",
            zones=(
                Zone("Zone 1", "Public floors", 44, _BOOKS),
                Zone("Zone 2", "Archive", 24, _BOOKS, 0.5),
                Zone("Zone 3", "Basement", 18, _PLANT, 1.2),
            ),
            family="C7",
            others={"heat": 4, "manual": 9, "audible": 9},
            installed_years=5.6,
            visit_months_ago=7,
            rate=0.05,
            settings=(2.5,),
            alarms=(("Zone 3", 9.0, "nuisance", True, "Dust from shelf building."),),
        ),
        Premises(
            name="Harrowfen Depot",
            street="Ring Road 77",
            town="Harrowfen",
            customer="Fenline Buses",
            edition="nfpa72-2019",
            jurisdiction="Harrowfen (invented)",
            authority="Harrowfen Fire Department (invented)",
            zones=(
                Zone("Zone 1", "Bus hall", 50, _WORK, 1.5),
                Zone("Zone 2", "Offices and canteen", 40, _OFFICE, 0.9),
            ),
            family="P4",
            others={"heat": 16, "manual": 12, "audible": 12, "module": 6, "battery": 1},
            installed_years=6.0,
            visit_months_ago=12,
            rate=0.10,
            settings=(3.0, 2.5),
        ),
        Premises(
            name="Saltgate Tower",
            street="1 Saltgate Row",
            town="Port Ellory",
            customer="Saltgate Estates",
            edition="nfpa72-2022",
            jurisdiction="Port Ellory (invented)",
            authority="Port Ellory Fire Prevention Bureau (invented)",
            instructions="Badge from security. Service elevator only.",
            releasing="Elevator recall on every lobby detector: hold an elevator technician.",
            zones=tuple(
                Zone(f"Zone {level}", f"Level {level}", 16, _OFFICE, 0.7 + 0.1 * (level % 4))
                for level in range(1, 9)
            ),
            family="P2",
            others={"heat": 12, "manual": 24, "audible": 32, "duct": 8, "module": 4, "battery": 2},
            installed_years=5.2,
            visit_months_ago=4,
            rate=0.055,
            settings=(2.5, 3.0),
            alarms=(("Zone 3", 7.0, "nuisance", True, "Hairspray under a detector."),),
            owned=True,
        ),
    ),
)

WEXHOLT = Contractor(
    slug="wexholt",
    name="Wexholt Fire Protection",
    address="Mill Street 8\nWexholt",
    telephone="555 0177",
    licence="FA-31190 (invented)",
    paper="a4",
    people=(
        Person("office@wexholt.example", "D. Marrick", "office"),
        Person("technician@wexholt.example", "S. Ollerby", "technician", "T-9015 (invented)"),
    ),
    owner=Person("owner@gossamer.example", "P. Elling", "owner"),
    premises=(
        Premises(
            name="Gossamer Mill",
            street="Mill Street 20",
            town="Wexholt",
            customer="Gossamer Textiles",
            edition="nfpa72-2019",
            zones=(
                Zone("Zone 1", "Spinning floor", 70, _WORK, 1.6),
                Zone("Zone 2", "Stores", 40, _PLANT),
            ),
            family="P4",
            others={"heat": 20, "manual": 12, "audible": 16},
            installed_years=6.2,
            visit_months_ago=5,
            rate=0.10,
            settings=(2.5, 3.0),
            owned=True,
        ),
        Premises(
            name="Elling Court",
            street="Court Lane 2",
            town="Wexholt",
            customer="Gossamer Textiles",
            edition="can-ulc-s536",
            zones=(
                Zone("Zone 1", "Flats, levels 1 to 4", 64, _OFFICE, 0.8),
                Zone("Zone 2", "Parking and plant", 30, _PLANT, 1.3),
            ),
            family="C7",
            others={"heat": 24, "manual": 10, "audible": 34},
            installed_years=5.4,
            visit_months_ago=3,
            rate=0.06,
            settings=(2.5,),
            owned=True,
        ),
    ),
)

CONTRACTORS = (TARNBECK, WEXHOLT)


def months_before(today: date, months: float) -> date:
    """Tell the day about so many months ago."""
    return today - timedelta(days=round(months * 30.4375))


def count_devices() -> int:
    """Count the devices on the invented device lists."""
    return sum(
        sum(zone.detectors for zone in premises.zones) + sum(premises.others.values())
        for contractor in CONTRACTORS
        for premises in contractor.premises
    )
