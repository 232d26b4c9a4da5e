"""What the office and the server do with the firm's data as a whole."""

from contractor.custody.errors import UnableToCarry, UnableToRemove
from contractor.custody.services.exporting import (
    export_apart,
    export_to,
    make_export,
    note_taken,
    queue_export,
)
from contractor.custody.services.removing import end_hold, hold, lengthen, remove
from contractor.custody.unpacking import unpack

__all__ = [
    "UnableToCarry",
    "UnableToRemove",
    "end_hold",
    "export_apart",
    "export_to",
    "hold",
    "lengthen",
    "make_export",
    "note_taken",
    "queue_export",
    "remove",
    "unpack",
]
