"""Plan visits, enter what was found, hand in, review, sign off, amend."""

from contractor.visits.services.arriving import settle, take_back_sent
from contractor.visits.services.closing import (
    UnableToClose,
    hand_in,
    resolve,
    send_back,
    sign_off,
    what_is_missing,
)
from contractor.visits.services.entering import (
    pass_device,
    record_not_tested,
    record_result,
    record_sensitivity,
)
from contractor.visits.services.entry import Sent, UnableToEnter
from contractor.visits.services.measuring import record_measurement
from contractor.visits.services.mending import add_found, clean, note, replace, take_back
from contractor.visits.services.planning import (
    UnableToPlan,
    begin_visit,
    cancel_visit,
    change_plan,
    plan_visit,
)
from contractor.visits.services.sealing import (
    Amendment,
    UnableToAmend,
    amend,
    list_differences,
    verify_chain,
)

__all__ = [
    "Amendment",
    "Sent",
    "UnableToAmend",
    "UnableToClose",
    "UnableToEnter",
    "UnableToPlan",
    "add_found",
    "amend",
    "begin_visit",
    "cancel_visit",
    "change_plan",
    "clean",
    "hand_in",
    "list_differences",
    "note",
    "pass_device",
    "plan_visit",
    "record_measurement",
    "record_not_tested",
    "record_result",
    "record_sensitivity",
    "replace",
    "resolve",
    "send_back",
    "settle",
    "sign_off",
    "take_back",
    "take_back_sent",
    "verify_chain",
    "what_is_missing",
]
