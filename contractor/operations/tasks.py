"""The sign of life of beat and worker; request and task in every line of the worker's log."""

from typing import Any
from uuid import UUID

import structlog
from celery import shared_task
from celery.signals import task_postrun, task_prerun
from django.utils import timezone

from contractor.operations import services


@shared_task(name="operations.sign")
def sign(**_newer: object) -> None:
    """Say that beat queued this and a worker did it."""
    services.give_sign(now=timezone.now())


@shared_task(name="operations.note_sign_in")
def note_sign_in(*, user_id: str, address: str, **_newer: object) -> None:
    """Write down that a sign-in to an account failed; of an account that is none, nothing."""
    services.note_failed_sign_in(user_id=UUID(user_id), address=address, now=timezone.now())


@task_prerun.connect
def name_task(task_id: str = "", task: Any = None, kwargs: Any = None, **_: object) -> None:
    """Put the task, its number and its firm into every line that it logs."""
    structlog.contextvars.clear_contextvars()
    structlog.contextvars.bind_contextvars(task=task.name, task_id=task_id)
    if isinstance(kwargs, dict) and "firm_id" in kwargs:
        structlog.contextvars.bind_contextvars(firm=str(kwargs["firm_id"]))


@task_postrun.connect
def forget_task(**_: object) -> None:
    """Begin the next with nothing."""
    structlog.contextvars.clear_contextvars()
