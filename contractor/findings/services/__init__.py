"""Open, follow and correct findings."""

from contractor.findings.services.disposing import (
    add_step,
    give_notice,
    inform_owner,
    record_owner_answer,
)
from contractor.findings.services.errors import UnableToChange
from contractor.findings.services.impairing import add_round, change_outage, restore
from contractor.findings.services.naming import (
    TitleFacts,
    add_title,
    change_title,
    end_title,
    own_titles,
)
from contractor.findings.services.opening import correct_finding, open_finding

__all__ = [
    "TitleFacts",
    "UnableToChange",
    "add_round",
    "add_step",
    "add_title",
    "change_outage",
    "change_title",
    "correct_finding",
    "end_title",
    "give_notice",
    "inform_owner",
    "open_finding",
    "own_titles",
    "record_owner_answer",
    "restore",
]
