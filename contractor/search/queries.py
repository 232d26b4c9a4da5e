"""Find customers, buildings, devices, visits and findings by words, labels by their codes."""

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db import connection

from contractor.engine import label_codes
from contractor.findings.models import Finding
from contractor.labels.models import Label
from contractor.register.models import Building, Customer, Device
from contractor.visits.models import Visit

#: More words than this narrow nothing further.
MOST_WORDS = 8
LONGEST = 80
_LONGEST_CODE = 300  # as a camera sees it: the address around it
GROUPS = (
    ("label", "Labels"),
    ("building", "Buildings"),
    ("device", "Devices"),
    ("customer", "Customers"),
    ("visit", "Visits"),
    ("finding", "Findings"),
)
_ROWS: dict[str, Any] = {
    "label": lambda: Label.objects.select_related("device", "device__building"),
    "customer": lambda: Customer.objects.all(),
    "building": lambda: Building.objects.select_related("customer"),
    "device": lambda: Device.objects.select_related("building", "area", "product"),
    "visit": lambda: Visit.objects.select_related("building"),
    "finding": lambda: Finding.objects.select_related("building", "device"),
}


@dataclass(frozen=True)
class Found:
    """What was found of each kind, the best first."""

    words: str
    groups: dict[str, list[Any]] = field(default_factory=dict)
    is_loose: bool = False  # nothing held all the words; these are spelled much like them
    most: int = 0

    @property
    def count(self) -> int:
        """How many things in all."""
        return sum(len(rows) for rows in self.groups.values())

    @property
    def sections(self) -> list[tuple[str, str, list[Any], bool]]:
        """The groups that hold something: kind, heading, rows, whether there may be more."""
        return [
            (kind, heading, rows, len(rows) >= self.most)
            for kind, heading in GROUPS
            if (rows := self.groups.get(kind, []))
        ]


def find(*, firm_id: UUID, words: str, most: int = 8) -> Found:
    """Find what holds all the words, or else what is spelled much like them.

    A device, visit or finding is also found by the name of its building: "2-114 quillmarsh". A
    label is found by its code, scanned or typed, or by the last characters of it. The keys come
    from an index; the rows are read behind the wall, as everywhere.
    """
    asked = words.lower()[:LONGEST].replace("\0", " ").split()[:MOST_WORDS]
    if not asked:
        return Found(words)
    keys = _keys(asked, most, code=words.replace("\0", " ").strip()[:_LONGEST_CODE])
    is_loose = not keys and len(" ".join(asked)) > 3
    if is_loose:
        keys = _keys(asked, most)
    groups = {}
    for kind, ids in keys.items():
        rows = {row.pk: row for row in _ROWS[kind]().filter(firm_id=firm_id, pk__in=ids)}
        groups[kind] = [rows[key] for key in ids if key in rows]
    return Found(words, groups, is_loose and bool(groups), most)


def _keys(asked: list[str], most: int, *, code: str | None = None) -> dict[str, list[UUID]]:
    """Ask for keys of what holds the words or is the code; without one, of what is like them."""
    ask = "select kind, id from search_keys(%s, %s, %s)"
    values: list[Any] = [asked, most, code is None]
    if code is not None:
        ask += " union all select 'label', id from label_keys(%s, %s, %s, %s)"
        whole, tail = label_codes.read_scanned(code), label_codes.read_tail(code)
        values += [whole, code.upper(), tail, most]
    found: dict[str, list[UUID]] = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(ask, values)
        for kind, key in cursor.fetchall():
            found[kind].append(key)
    return found


def find_devices(*, firm_id: UUID, words: str, most: int = 50) -> list[Device]:
    """Find devices alone, by address, place, serial number, building and what hangs on them."""
    groups = find(firm_id=firm_id, words=words, most=most).groups
    hung_on = [one.device for one in groups.get("label", []) if one.device is not None]
    labelled = [device for device in hung_on if device.removed_on is None]
    found = {device.pk: device for device in [*labelled, *groups.get("device", [])]}
    return list(found.values())[:most]
