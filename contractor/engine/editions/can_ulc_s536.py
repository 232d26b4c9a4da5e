"""CAN/ULC-S536: every smoke detector is shown to be in its range every year, without extension."""

from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.engine.editions.model import Clause, Edition, Row, SensitivityRule
from contractor.engine.editions.nfpa72 import METHODS, REFUSED_METHODS

_CLAUSES = (
    Clause(
        "confirmed",
        ("alberta_s536",),
        "first_year",
        "CAN/ULC-S536, annual",
        "Each smoke detector is shown to be in its rated operating range within one year.",
    ),
    Clause(
        "confirmed",
        ("alberta_s536",),
        "alternate_year",
        "CAN/ULC-S536, annual",
        "Each smoke detector is shown to be in its rated operating range every year.",
    ),
    Clause(
        "our reading",
        ("alberta_s536",),
        "restart",
        "CAN/ULC-S536, annual",
        "A detector found out of its range and put right is tested again within a year.",
    ),
    Clause(
        "confirmed",
        ("alberta_s536",),
        "marked_range",
        "CAN/ULC-S536, annual",
        "A detector in its rated operating range has passed.",
    ),
    Clause(
        "common practice",
        (),
        "unmarked",
        "CAN/ULC-S536, annual",
        "A detector without a marked range is judged by 4 percent obscuration per foot.",
    ),
    Clause(
        "confirmed",
        ("alberta_s536",),
        "methods",
        "CAN/ULC-S536, annual",
        "The method of the test is stated.",
    ),
    Clause(
        "from memory",
        (),
        "out_of_range",
        "CAN/ULC-S536, annual",
        "A detector out of its range is cleaned, recalibrated or replaced.",
    ),
)

EDITION = Edition(
    key="can-ulc-s536",
    code="CAN/ULC-S536",
    title="CAN/ULC-S536, as of the 2004 edition",
    year=2004,
    country="CA",
    clauses={clause.topic: clause for clause in _CLAUSES},
    rows=(
        *(
            Row(
                "confirmed",
                ("s536_guide",),
                component=f"owner_{frequency}",
                task="inspect",
                part="",
                frequency=frequency,
                method=f"The {frequency} tasks of the owner; what they are is not held here.",
                sample="all",
                clause=f"CAN/ULC-S536, {frequency}",
            )
            for frequency in ("daily", "monthly")
        ),
        *(
            Row(
                "confirmed" if sensitive else "from memory",
                ("alberta_s536",) if sensitive else ("s536_guide",),
                component=component,
                task="test",
                part="sensitivity" if sensitive else "functional",
                frequency="sensitivity" if sensitive else "annual",
                method="Shown to be in its rated operating range, by a stated method."
                if sensitive
                else "Operated in place.",
                sample="all",
                clause="CAN/ULC-S536, annual",
            )
            for component, sensitive in (
                ("smoke", True),
                ("duct", True),
                ("smoke_heat", True),
                ("smoke", False),
                ("duct", False),
                ("smoke_heat", False),
                ("heat_restorable", False),
                ("manual", False),
                ("audible", False),
                ("visible", False),
            )
        ),
    ),
    window_rule="can-ulc-s536",
    sensitivity=SensitivityRule(
        first_months=12,
        repeat_months=12,
        extended_months=None,
        required_tests=2,
        counted_gap_months=9,
        unmarked_high=UNMARKED_HIGH,
        methods=METHODS,
        refused_methods=REFUSED_METHODS,
    ),
    notes=(
        "The 6th edition, CAN/ULC 536:2024, has not been compared.",
        "Verification of a new or changed system (CAN/ULC-S537) does not stand in for these tests.",
    ),
)
