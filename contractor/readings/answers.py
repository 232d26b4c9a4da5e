"""What the API says of print-outs, their rows and readings."""

from typing import Any

from django.conf import settings

from contractor.programs.shapes import Shape
from contractor.readings import queries

INTAKE = Shape(
    "PrintOut",
    id="id",
    building_id="id",
    system_id="id",
    filename="text",
    kind="text",
    came_by="text",
    sha256="text",
    size="whole",
    state="text",
    waits_because="text",
    printed_on="day?",
    received_at="instant",
    accepted_at="instant?",
    undone_at="instant?",
    is_test="flag",
)
UNDERSTOOD = Shape(
    "PrintOutUnderstood",
    id="id",
    page="text",
    system="text",
    filename="text",
    sha256="text",
    kind="text",
    state="text",
    waits_because="text",
    printed_on="day?",
    rows="any",
    columns="any",
    asked="words",
    problems="words",
)
ROW = Shape(
    "PrintOutRow",
    id="id",
    number="whole",
    cells="any",
    understood="any",
    corrected="any",
    outcome="text",
    differs="words",
    device_id="id?",
    verdict="text",
    is_left_out="flag",
)
READING = Shape(
    "Reading",
    id="id",
    device_id="id",
    taken_on="day",
    stage="text",
    is_test="flag",
    method="text",
    instrument_id="id?",
    measured="number?",
    setting="number?",
    present="number?",
    drift="number?",
    limit="number?",
    used="number?",
    marked_low="number?",
    marked_high="number?",
    control_unit_says="flag?",
    verdict="text",
    rule="text",
    reason="text",
    override_reason="text",
    source="text",
    intake_id="id?",
    visit_id="id?",
    recorded_at="instant",
)


def describe(intake: Any, slug: str) -> dict[str, Any]:
    """Say what was understood of a file, and where people look at it."""
    outcomes = queries.list_outcomes(intake=intake)
    return {
        "id": str(intake.pk),
        "page": f"{settings.BASE_URL}/f/{slug}/print-outs/{intake.pk}/",
        "system": intake.system.name,
        "filename": intake.filename,
        "sha256": intake.sha256,
        "kind": intake.kind,
        "state": intake.state,
        "waits_because": intake.waits_because,
        "printed_on": intake.printed_on.isoformat() if intake.printed_on else None,
        "rows": {key: outcomes.count(key) for key in ("new", "changed", "same", "problem")},
        "columns": [
            {key: column[key] for key in ("header", "meaning", "unit", "confidence")}
            for column in intake.columns
        ],
        "asked": [p["sentence"] for p in intake.problems if p["kind"] == "asked"],
        "problems": [p["sentence"] for p in intake.problems if p["kind"] != "asked"],
    }
