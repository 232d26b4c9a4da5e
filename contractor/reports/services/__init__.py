"""Keep and sign reports, prove them to strangers, and write down who was given which."""

from contractor.reports.services.bundling import make_bundle, queue_bundle
from contractor.reports.services.handing import note_opened, tell_ready, tell_superseded
from contractor.reports.services.keeping import keep_report, queue_again, queue_kind
from contractor.reports.services.keys import bring_key, open_identity, use_generated
from contractor.reports.services.outlooks import (
    freeze_outlook,
    keep_outlook,
    queue_outlook,
)
from contractor.reports.services.proving import Proved, prove_code, prove_file
from contractor.reports.services.witnessing import mail_head

__all__ = [
    "Proved",
    "bring_key",
    "freeze_outlook",
    "keep_outlook",
    "keep_report",
    "mail_head",
    "make_bundle",
    "note_opened",
    "open_identity",
    "prove_code",
    "prove_file",
    "queue_again",
    "queue_bundle",
    "queue_kind",
    "queue_outlook",
    "tell_ready",
    "tell_superseded",
    "use_generated",
]
