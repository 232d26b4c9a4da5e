"""Take in print-outs, record and judge readings, keep each detector's standing."""

from contractor.readings.services.accepting import accept
from contractor.readings.services.correcting import correct_row, list_choices, shown
from contractor.readings.services.drafts import UnableToAccept, UnableToTakeIn
from contractor.readings.services.intakes import (
    check_size,
    choose_meanings,
    put_aside,
    take_in,
)
from contractor.readings.services.judging import Evidence, judge_device
from contractor.readings.services.logs import UnableToDecide, decide_line
from contractor.readings.services.recording import (
    UnableToRecord,
    begin_run,
    cancel_run,
    record_reading,
    understand_typed,
    withdraw,
)
from contractor.readings.services.standing import refresh_standing
from contractor.readings.services.undoing import DAYS_TO_UNDO, UnableToUndo, undo

__all__ = [
    "DAYS_TO_UNDO",
    "Evidence",
    "UnableToAccept",
    "UnableToDecide",
    "UnableToRecord",
    "UnableToTakeIn",
    "UnableToUndo",
    "accept",
    "begin_run",
    "cancel_run",
    "check_size",
    "choose_meanings",
    "correct_row",
    "decide_line",
    "judge_device",
    "list_choices",
    "put_aside",
    "record_reading",
    "refresh_standing",
    "shown",
    "take_in",
    "understand_typed",
    "undo",
    "withdraw",
]
