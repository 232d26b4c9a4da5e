"""Compute when each task of each device falls due, and keep it beside it."""

from contractor.due.services.changes import (
    Move,
    Preview,
    UnableToChange,
    apply_change,
    change_edition,
    preview_edition,
    propose_sample,
    record_software_change,
    withdraw_change,
)
from contractor.due.services.recording import (
    Performed,
    UnableToRecord,
    record_by_hand,
    record_visit,
    withdraw,
)
from contractor.due.services.refreshing import Refreshed, compute, day_in, refresh_building
from contractor.due.services.rules import UnableToRule, add_local_rule, end_local_rule
from contractor.due.services.sweeping import (
    Swept,
    list_coming_into_force,
    list_to_renew,
    sweep,
)
from contractor.due.sums import SENSITIVITY

__all__ = [
    "SENSITIVITY",
    "Move",
    "Performed",
    "Preview",
    "Refreshed",
    "Swept",
    "UnableToChange",
    "UnableToRecord",
    "UnableToRule",
    "add_local_rule",
    "apply_change",
    "change_edition",
    "compute",
    "day_in",
    "end_local_rule",
    "list_coming_into_force",
    "list_to_renew",
    "preview_edition",
    "propose_sample",
    "record_by_hand",
    "record_software_change",
    "record_visit",
    "refresh_building",
    "sweep",
    "withdraw",
    "withdraw_change",
]
