"""Reasons that can be given with one tap; any other can be typed. Common practice, no source."""

from contractor.visits.models import Task

FAILED: dict[str, tuple[str, ...]] = {
    Task.FUNCTIONAL: (
        "No alarm at the control unit",
        "Wrong address or label reported",
        "No sound or light",
        "Output did not operate",
    ),
    Task.INSPECTION: ("Damaged", "Blocked or covered", "Painted", "Too dirty", "Loose or hanging"),
}
NOT_TESTED = (
    "Room locked",
    "Out of reach",
    "Blocked by goods or furniture",
    "In use, not to be disturbed",
    "Hoistway, no elevator technician",
    "Not found",
)
REPLACED = ("Out of range", "Does not work", "Damaged", "End of life")
