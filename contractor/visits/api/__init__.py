"""Visits for programs: plan, begin, enter, hand in, review, sign off, amend."""

from contractor.visits.api.closing import (
    Decision,
    HandedIn,
    Records,
    Reviewed,
    SentBack,
    SignedOff,
)
from contractor.visits.api.entering import (
    Cleaned,
    Entries,
    Fail,
    Notes,
    NotTested,
    Pass,
    ReadDevice,
    Replaced,
    TakenBack,
    VisitDevices,
)
from contractor.visits.api.log import LineAsAlarm, LineAside, LogLines, VisitEvidence
from contractor.visits.api.planning import (
    Beginning,
    BuildingVisits,
    Cancellation,
    Visit,
    Visits,
)

__all__ = [
    "Beginning",
    "BuildingVisits",
    "Cancellation",
    "Cleaned",
    "Decision",
    "Entries",
    "Fail",
    "HandedIn",
    "LineAsAlarm",
    "LineAside",
    "LogLines",
    "NotTested",
    "Notes",
    "Pass",
    "ReadDevice",
    "Records",
    "Replaced",
    "Reviewed",
    "SentBack",
    "SignedOff",
    "TakenBack",
    "Visit",
    "VisitDevices",
    "VisitEvidence",
    "Visits",
]
