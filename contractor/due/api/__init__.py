"""Due dates with their reasons, and what moves them, for programs."""

from contractor.due.api.dates import BuildingDue, DeviceDue, OneDue
from contractor.due.api.done import BuildingDone, DoneWithdrawn
from contractor.due.api.rules import (
    EditionChanges,
    EditionChangeWithdrawn,
    EditionPreview,
    LocalRuleEnded,
    LocalRulePreview,
    LocalRules,
)
from contractor.due.api.software import SoftwareChanges, SoftwarePreview

__all__ = [
    "BuildingDone",
    "BuildingDue",
    "DeviceDue",
    "DoneWithdrawn",
    "EditionChangeWithdrawn",
    "EditionChanges",
    "EditionPreview",
    "LocalRuleEnded",
    "LocalRulePreview",
    "LocalRules",
    "OneDue",
    "SoftwareChanges",
    "SoftwarePreview",
]
