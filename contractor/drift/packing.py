"""Pack numbers by the ten thousand: day numbers, what a database sends, what a snapshot holds."""

import os
from collections.abc import Sequence
from datetime import date
from uuid import UUID

import numpy as np
import numpy.typing as npt

from contractor.tenancy.keys import uuid7

EPOCH = date(2000, 1, 1).toordinal()

MONTHS_AHEAD = (3, 6, 9, 12, 15, 18, 24)
"""How many months after it was said a snapshot gives chances for."""

DAYS_AHEAD = tuple(round(months * 365.25 / 12) for months in MONTHS_AHEAD)

#: One detector of a snapshot: its key, and its chances in steps of 1/65535.
RECORD = np.dtype([("device", "V16"), ("chances", ">u2", (len(MONTHS_AHEAD),))])


def day_number(day: date) -> int:
    """Count a day from 1 Jan 2000."""
    return day.toordinal() - EPOCH


def day_of(number: float) -> date | None:
    """Give the day of a number, None where it lies beyond any calendar worth printing."""
    if not np.isfinite(number) or number > 100 * 365.25:
        return None
    return date.fromordinal(EPOCH + round(number))


def keys_of(column: npt.NDArray[np.void]) -> list[UUID]:
    """Give 16-byte columns as keys."""
    raw = column.tobytes()
    return [UUID(bytes=raw[at : at + 16]) for at in range(0, len(raw), 16)]


def ordered_keys(*, count: int) -> npt.NDArray[np.void]:
    """Make new keys that rise, as uuid7 does, so that their index is filled from one side."""
    made = np.zeros((count, 16), dtype=np.uint8)
    made[:, :6] = np.frombuffer(uuid7().bytes[:6], dtype=np.uint8)
    made[:, 6:8] = np.frombuffer(bytes([0x70, os.urandom(1)[0]]), dtype=np.uint8)
    rising = (np.arange(count) + (1 << 31)).astype(">u4")  # the variant's bits, then the place
    made[:, 8:12] = rising.view(np.uint8).reshape(count, 4)
    made[:, 12:] = np.frombuffer(os.urandom(4 * count), dtype=np.uint8).reshape(count, 4)
    return made.reshape(-1).view("V16")


def pack_chances(*, keys: npt.NDArray[np.void], chances: npt.NDArray[np.floating]) -> bytes:
    """Pack what was said of some detectors; chances are (detectors, MONTHS_AHEAD)."""
    packed = np.empty(keys.size, dtype=RECORD)
    packed["device"] = keys
    packed["chances"] = np.round(np.clip(chances, 0, 1) * 65535)
    return packed.tobytes()


def unpack_chances(
    body: bytes,
) -> tuple[npt.NDArray[np.void], npt.NDArray[np.float64]]:
    """Unpack what was said of some detectors."""
    packed = np.frombuffer(body, dtype=RECORD)
    return packed["device"], packed["chances"] / 65535.0


def chance_after(
    *, chances: npt.NDArray[np.float64], days: npt.NDArray[np.floating]
) -> npt.NDArray[np.float64]:
    """Read packed chances at so many days after they were said, straight between their months."""
    ends = np.concatenate([[0.0], DAYS_AHEAD])
    known = np.concatenate([np.zeros((len(chances), 1)), chances], axis=1)
    at = np.clip(np.searchsorted(ends, days, side="right"), 1, len(ends) - 1)
    rows = np.arange(len(chances))
    share = np.clip((days - ends[at - 1]) / (ends[at] - ends[at - 1]), 0.0, 1.0)
    return known[rows, at - 1] + share * (known[rows, at] - known[rows, at - 1])


def columns_for_copy(columns: Sequence[tuple[str, npt.NDArray[np.generic]]]) -> bytes:
    """Lay columns out as PostgreSQL's binary COPY takes them.

    Each column has a format of numpy's, big-endian and as wide as the type of its field; a date is
    days since 1 Jan 2000 as `>i4`, and a masked entry is NULL.

    Source: PostgreSQL's documentation of COPY, "Binary Format".
    """
    rows = len(columns[0][1])
    masked = [np.ma.getmaskarray(values) for _, values in columns]
    described: list[tuple[str, str]] = [("fields", ">i2")]
    for at, (kind, _) in enumerate(columns):
        described += [(f"n{at}", ">i4"), (f"v{at}", kind)]
    whole = np.empty(rows, dtype=described)
    whole["fields"] = len(columns)
    for at, (kind, values) in enumerate(columns):
        whole[f"n{at}"] = np.dtype(kind).itemsize
        whole[f"v{at}"] = np.ma.getdata(values)
    holes = np.stack(masked) if rows else np.zeros((0, 0), dtype=bool)
    body = whole.tobytes() if not holes.any() else _with_holes(whole, columns, holes)
    return b"PGCOPY\n\xff\r\n\0" + bytes(8) + body + b"\xff\xff"


def _with_holes(
    whole: npt.NDArray[np.void],
    columns: Sequence[tuple[str, npt.NDArray[np.generic]]],
    holes: npt.NDArray[np.bool_],
) -> bytes:
    """Leave the bytes of NULLs out: their length is -1, and nothing follows."""
    kept = np.ones((len(whole), whole.dtype.itemsize), dtype=bool)
    place = 2
    for at, (kind, _) in enumerate(columns):
        wide = np.dtype(kind).itemsize
        whole[f"n{at}"][holes[at]] = -1
        kept[holes[at], place + 4 : place + 4 + wide] = False
        place += 4 + wide
    raw = whole.view(np.uint8).reshape(len(whole), -1)
    return raw[kept].tobytes()
