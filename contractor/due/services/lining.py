"""Keep the lines of a building's due dates: lists of a firm read these, not every date."""

from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db import connection, transaction

_COLUMNS = """building_id, task, name, frequency, basis, is_extended, latest_on, earliest_on,
    target_on, last_done_on, anchor_on, by_local_rule, components, devices, due_id"""
_RIGHT = """
    select building_id, task, name, frequency, basis, is_extended, latest_on, max(earliest_on),
           min(target_on), max(last_done_on), min(anchor_on), count(local_rule) > 0,
           string_agg(distinct component, ' ' order by component), count(device_id)::int,
           min(id::text)::uuid
    from due_due
    where firm_id = %(firm)s {there}
    group by building_id, task, name, frequency, basis, is_extended, latest_on
"""
_THERE = "and building_id = any(%(buildings)s)"
_LOCK = """
    select id from register_building where firm_id = %(firm)s and id = any(%(buildings)s)
    order by id for no key update
"""
_FORGET = "delete from due_dueline where firm_id = %(firm)s and building_id = any(%(buildings)s)"
_WRITE = """
    insert into due_dueline (id, firm_id, {columns})
    select gen_random_uuid(), %(firm)s, l.* from ({right}) l
"""
_WRONG = """
    with kept as (select {columns} from due_dueline where firm_id = %(firm)s),
         wanted as ({right})
    select building_id from (table kept except table wanted) k
    union select building_id from (table wanted except table kept) w
    order by building_id
"""


def lock_buildings(*, firm_id: UUID, building_ids: Collection[UUID]) -> None:
    """Lock buildings, always in one order, as whoever writes their due dates does."""
    with connection.cursor() as cursor:
        cursor.execute(_LOCK, {"firm": firm_id, "buildings": sorted(building_ids)})


@transaction.atomic
def renew_lines(*, firm_id: UUID, building_ids: Collection[UUID]) -> None:
    """Write the lines of some buildings anew from their due dates."""
    lock_buildings(firm_id=firm_id, building_ids=building_ids)
    write_lines(firm_id=firm_id, building_ids=building_ids)


def write_lines(*, firm_id: UUID, building_ids: Collection[UUID]) -> None:
    """Write the lines of some buildings anew; the buildings are locked already."""
    said: dict[str, Any] = {"firm": firm_id, "buildings": list(building_ids)}
    right = _RIGHT.format(there=_THERE)
    with connection.cursor() as cursor:  # after the lock: both see whatever was written before it
        cursor.execute(f"{_FORGET}; {_WRITE.format(columns=_COLUMNS, right=right)}", said)


def mend_lines(*, firm_id: UUID) -> int:
    """Renew the lines that are not as the firm's due dates ask; tell of how many buildings."""
    with connection.cursor() as cursor:
        cursor.execute(
            _WRONG.format(columns=_COLUMNS, right=_RIGHT.format(there="")), {"firm": firm_id}
        )
        wrong = [row[0] for row in cursor.fetchall()]
    if wrong:
        renew_lines(firm_id=firm_id, building_ids=wrong)
    return len(wrong)
