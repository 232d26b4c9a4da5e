"""BS 5839-1: service visits by half-years, no routine measurement of sensitivity."""

from contractor.engine.editions.model import Clause, Edition

_CLAUSES = (
    Clause(
        "from memory",
        ("bs_2017",),
        "sensitivity",
        "45.3",
        "A functional test lets smoke reach the chamber; measuring sensitivity is not routine.",
    ),
    Clause(
        "confirmed",
        ("iet_2025",),
        "service_visit",
        "45.3",
        "Service visits are five to seven months apart (2017: at most six months).",
    ),
)

EDITION = Edition(
    key="bs5839-1",
    code="BS 5839-1",
    title="BS 5839-1:2025",
    year=2025,
    country="GB",
    clauses={clause.topic: clause for clause in _CLAUSES},
    window_rule="bs5839-1",
)
