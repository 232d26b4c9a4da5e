"""Make backups, return from them, and prove that one can."""

from contractor.operations.services.checking import Checked, check
from contractor.operations.services.drilling import drill
from contractor.operations.services.looking import give_sign, look, look_at_all
from contractor.operations.services.returning import restore
from contractor.operations.services.taking import Taken, take
from contractor.operations.services.telling import note, note_failed_sign_in, note_refusal

__all__ = [
    "Checked",
    "Taken",
    "check",
    "drill",
    "give_sign",
    "look",
    "look_at_all",
    "note",
    "note_failed_sign_in",
    "note_refusal",
    "restore",
    "take",
]
