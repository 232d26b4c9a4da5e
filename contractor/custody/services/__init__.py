"""What the office and the server do with the firm's data as a whole."""

from contractor.custody.errors import UnableToCarry
from contractor.custody.services.exporting import (
    export_apart,
    export_to,
    make_export,
    note_taken,
    queue_export,
)
from contractor.custody.unpacking import unpack

__all__ = [
    "UnableToCarry",
    "export_apart",
    "export_to",
    "make_export",
    "note_taken",
    "queue_export",
    "unpack",
]
