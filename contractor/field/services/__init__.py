"""Enrol tablets, give them packs, take in what they send, review it."""

from contractor.field.services.blobs import (
    MOST_BYTES,
    PIECE,
    UnableToTake,
    draw_photo,
    drop_photos,
    fetch_photo,
    find_offset,
    take_piece,
)
from contractor.field.services.enrolling import (
    Announced,
    UnableToEnrol,
    enrol,
    get_ledger,
    greet,
    hash_key,
    hold,
    make_code,
    note_backup,
    note_restore,
    revoke,
)
from contractor.field.services.entering import AT_ONCE, apply_stored
from contractor.field.services.rescue import Rescued, UnableToOpen, get_public_key, open_file
from contractor.field.services.reviewing import UnableToDecide, excuse, resolve
from contractor.field.services.taking_in import (
    FORMS,
    MOST_ENTRIES,
    Answer,
    read_batch,
    take_in,
)

__all__ = [
    "AT_ONCE",
    "FORMS",
    "MOST_BYTES",
    "MOST_ENTRIES",
    "PIECE",
    "Announced",
    "Answer",
    "Rescued",
    "UnableToDecide",
    "UnableToEnrol",
    "UnableToOpen",
    "UnableToTake",
    "apply_stored",
    "draw_photo",
    "drop_photos",
    "enrol",
    "excuse",
    "fetch_photo",
    "find_offset",
    "get_ledger",
    "get_public_key",
    "greet",
    "hash_key",
    "hold",
    "make_code",
    "note_backup",
    "note_restore",
    "open_file",
    "read_batch",
    "resolve",
    "revoke",
    "take_in",
    "take_piece",
]
