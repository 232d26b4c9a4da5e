"""Compute when each task of each device falls due, and keep it beside it."""

from contractor.due.case import LABORATORY, SENSITIVITY
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
from contractor.due.services.choosing import (
    Chosen,
    Offer,
    Proposal,
    choose_by_hand,
    list_offers,
    propose_tests,
    record_chosen_by_hand,
)
from contractor.due.services.lining import mend_lines, renew_lines
from contractor.due.services.recording import (
    ByHand,
    Performed,
    UnableToRecord,
    record_by_hand,
    record_several_by_hand,
    record_visit,
    withdraw,
    withdraw_entry,
)
from contractor.due.services.refreshing import Refreshed, compute, refresh_building
from contractor.due.services.rules import (
    RuleFacts,
    UnableToRule,
    add_local_rule,
    end_local_rule,
    preview_end,
    preview_local_rule,
)
from contractor.due.services.sweeping import (
    Swept,
    list_coming_into_force,
    list_to_renew,
    sweep,
)

__all__ = [
    "LABORATORY",
    "SENSITIVITY",
    "ByHand",
    "Chosen",
    "Move",
    "Offer",
    "Performed",
    "Preview",
    "Proposal",
    "Refreshed",
    "RuleFacts",
    "Swept",
    "UnableToChange",
    "UnableToRecord",
    "UnableToRule",
    "add_local_rule",
    "apply_change",
    "change_edition",
    "choose_by_hand",
    "compute",
    "end_local_rule",
    "list_coming_into_force",
    "list_offers",
    "list_to_renew",
    "mend_lines",
    "preview_edition",
    "preview_end",
    "preview_local_rule",
    "propose_sample",
    "propose_tests",
    "record_by_hand",
    "record_chosen_by_hand",
    "record_several_by_hand",
    "record_software_change",
    "record_visit",
    "refresh_building",
    "renew_lines",
    "sweep",
    "withdraw",
    "withdraw_change",
    "withdraw_entry",
]
