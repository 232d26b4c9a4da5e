"""Forecast fleets, keep what was said, ask what looks sudden, choose what to clean."""

from contractor.drift.services.asking import UnableToAnswer, answer, renew_questions
from contractor.drift.services.choosing import (
    CleaningList,
    CleaningRow,
    UnableToPlan,
    change_policy,
    list_cleaning,
    list_to_clean,
    plan_cleaning_visit,
    rows_of,
)
from contractor.drift.services.forecasting import (
    Foreseen,
    Refitted,
    refit,
    renew_constants,
)
from contractor.drift.services.keeping import keep_month, queue_look_back, reckon_back
from contractor.drift.services.sweeping import (
    end_sweep,
    refit_building,
    sweep,
    sweep_firm,
    sweep_whole,
)

__all__ = [
    "CleaningList",
    "CleaningRow",
    "Foreseen",
    "Refitted",
    "UnableToAnswer",
    "UnableToPlan",
    "answer",
    "change_policy",
    "end_sweep",
    "keep_month",
    "list_cleaning",
    "list_to_clean",
    "plan_cleaning_visit",
    "queue_look_back",
    "reckon_back",
    "refit",
    "refit_building",
    "renew_constants",
    "renew_questions",
    "rows_of",
    "sweep",
    "sweep_firm",
    "sweep_whole",
]
