"""Hand the database many rows at once.

COPY into a walled table is refused by PostgreSQL. A temporary table has no wall, and what is
inserted from it passes the wall as any other row.
"""

import gc
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from django.db import connection


@contextmanager
def joined_by_hash() -> Iterator[None]:
    """Have PostgreSQL join many rows by hash, and plan anew how it checks their keys.

    A table that grew in this very transaction has no statistics yet. The planner takes it for a
    few rows and loops over it, and ten thousand rows then take minutes. How a key is checked is
    planned once in a session: where the table was small then, each check goes through all of it.
    """
    with connection.cursor() as cursor:
        cursor.execute("discard plans")
        cursor.execute("set local enable_nestloop to off")
        yield
        cursor.execute("set local enable_nestloop to on")


@contextmanager
def uncollected() -> Iterator[None]:
    """Hold back the search for cyclic garbage while many small objects are made and kept.

    Ten thousand rows set it off dozens of times, each time through all that the process holds,
    and find nothing. Whoever held it back first lets it go on, also where threads overlap.
    """
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


@contextmanager
def incoming(columns: Mapping[str, str], rows: Iterable[Sequence[Any]]) -> Iterator[Any]:
    """Copy rows into a temporary table named `incoming` and answer a cursor to go on with.

    columns: names and PostgreSQL types. JSON comes as text. The table is gone afterwards.
    """
    described = ", ".join(f'"{name}" {kind}' for name, kind in columns.items())
    with connection.cursor() as cursor:
        cursor.execute("drop table if exists pg_temp.incoming")
        cursor.execute(f"create temp table incoming ({described}) on commit drop")
        with cursor.copy("copy pg_temp.incoming from stdin") as copy:
            for row in rows:
                copy.write_row(row)
        # Not analyzed: the planner sees its size, and a join by hash needs no more.
        with joined_by_hash():
            yield cursor
        # A scope inside another ends without a commit (tests), so do not wait for one.
        cursor.execute("drop table pg_temp.incoming")
