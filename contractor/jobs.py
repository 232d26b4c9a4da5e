"""Queue work by name, so that an area never imports what stands above it."""

from uuid import UUID

from django.db import transaction

from contractor.celery import app


def enqueue(name: str, *, firm_id: UUID, **kwargs: object) -> None:
    """Queue the task called name once the open transaction commits; keys travel as text."""
    payload = {
        key: str(value) if isinstance(value, UUID) else value for key, value in kwargs.items()
    }
    payload["firm_id"] = str(firm_id)
    transaction.on_commit(lambda: app.send_task(name, kwargs=payload))
