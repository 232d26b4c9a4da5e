"""Queue work by name, so that an area never imports what stands above it."""

from uuid import UUID

from django.db import transaction

from contractor.celery import NIGHTS, app


def enqueue(name: str, *, firm_id: UUID, with_night: bool = False, **kwargs: object) -> None:
    """Queue the task called name once the open transaction commits; keys travel as text.

    The same task with the same arguments is sent once per transaction, however often it is asked
    for: a visit of two hundred readings renews its building's dates once. With the night it waits
    behind what the night does, so that the many buildings of a night hold up nobody's report.
    """
    payload = {
        key: str(value) if isinstance(value, UUID) else value for key, value in kwargs.items()
    }
    payload["firm_id"] = str(firm_id)
    key = (name, repr(sorted(payload.items())))
    connection = transaction.get_connection()
    # One that stands there lives at least as long as this one would: whatever savepoint around it
    # is still open is around us too, and what was rolled back has been taken off.
    if any(getattr(hook, "queued", None) == key for _, hook, _ in connection.run_on_commit):
        return

    def send() -> None:
        app.send_task(name, kwargs=payload, queue=NIGHTS if with_night else None)

    send.queued = key  # type: ignore[attr-defined]
    transaction.on_commit(send)
