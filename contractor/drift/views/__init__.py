"""Pages of drift: one detector, a building, the fleet, cleaning lists, how good forecasts were."""

from contractor.drift.views.accuracy import accuracy, look_back
from contractor.drift.views.cleaning import cleaning, cleaning_export
from contractor.drift.views.device import answer, device
from contractor.drift.views.fleet import building, export, fleet, policy

__all__ = [
    "accuracy",
    "answer",
    "building",
    "cleaning",
    "cleaning_export",
    "device",
    "export",
    "fleet",
    "look_back",
    "policy",
]
