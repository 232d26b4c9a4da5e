"""Take in print-outs, record and judge readings, keep each detector's standing."""

from contractor.readings.services.accepting import accept
from contractor.readings.services.addresses import (
    UnableToSet,
    find_by_secret,
    mail_address,
    make_secret,
    revoke_secret,
    set_ways,
)
from contractor.readings.services.arriving import (
    Arrived,
    Attachment,
    take_mail,
    take_with_key,
)
from contractor.readings.services.correcting import correct_row, list_choices, shown
from contractor.readings.services.drafts import UnableToAccept, UnableToTakeIn
from contractor.readings.services.intakes import (
    check_size,
    choose_meanings,
    fetch_original,
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
from contractor.readings.services.undoing import DAYS_TO_UNDO, UnableToUndo, may_undo, undo

__all__ = [
    "DAYS_TO_UNDO",
    "Arrived",
    "Attachment",
    "Evidence",
    "UnableToAccept",
    "UnableToDecide",
    "UnableToRecord",
    "UnableToSet",
    "UnableToTakeIn",
    "UnableToUndo",
    "accept",
    "begin_run",
    "cancel_run",
    "check_size",
    "choose_meanings",
    "correct_row",
    "decide_line",
    "fetch_original",
    "find_by_secret",
    "judge_device",
    "list_choices",
    "mail_address",
    "make_secret",
    "may_undo",
    "put_aside",
    "record_reading",
    "refresh_standing",
    "revoke_secret",
    "set_ways",
    "shown",
    "take_in",
    "take_mail",
    "take_with_key",
    "understand_typed",
    "undo",
    "withdraw",
]
