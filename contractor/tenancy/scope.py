"""The active firm: one transaction in which its rows, and no others, can be reached."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any
from uuid import UUID

import structlog
from django.db import connection, models, transaction

_active: ContextVar[UUID | None] = ContextVar("active_firm", default=None)


class NoScope(RuntimeError):
    """A firm's rows were asked for while no firm's scope was open."""


def active_firm() -> UUID:
    """Answer the key of the active firm.

    Raises
    ------
    NoScope
        If no scope is open.
    """
    firm_id = _active.get()
    if firm_id is None:
        raise NoScope("No firm's scope is open. Open one with scope(firm_id).")
    return firm_id


@contextmanager
def scope(firm_id: UUID) -> Iterator[None]:
    """Open one transaction in which the firm's rows, and no others, can be reached."""
    if _active.get() not in (None, firm_id):
        raise NoScope("Another firm's scope is open. Close it first.")
    is_outermost = not connection.in_atomic_block
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(
                "select current_setting('app.firm_id', true), set_config('app.firm_id', %s, true)",
                [str(firm_id)],
            )
            before = cursor.fetchone()[0] or ""
        token = _active.set(firm_id)
        try:
            with structlog.contextvars.bound_contextvars(firm=str(firm_id)):  # in each log line
                yield
        finally:
            # Before the commit: an on_commit hook that asks for rows must raise, not find none.
            _active.reset(token)
        # Inside an outer transaction (tests) the setting would outlive us; a rollback restores it,
        # and the end of our own transaction ends it.
        if connection.needs_rollback or is_outermost:
            return
        with connection.cursor() as cursor:
            cursor.execute("select set_config('app.firm_id', %s, true)", [before])


class ActiveFirm(models.Expression):
    """The active firm, asked for when the query is compiled, not when it is written down."""

    def __init__(self) -> None:
        super().__init__(output_field=models.UUIDField())

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        """Answer the firm's key as a parameter, or refuse."""
        firm_id = active_firm()
        if not connection.in_atomic_block:  # e.g. a context that was copied into another thread
            raise NoScope("The scope's transaction is not open on this connection.")
        return "%s", (firm_id,)
