"""The bases of every task: the firm's scope is open, or opened step by step."""

from typing import Any
from uuid import UUID

from celery import Task
from django.utils import timezone, translation

from contractor.tenancy.queries import find_manner
from contractor.tenancy.scope import scope


class FirmTask(Task):
    """A task whose whole body is one transaction in one firm's scope."""

    abstract = True

    def __call__(self, *, firm_id: str, **kwargs: Any) -> Any:
        """Open the firm's scope and run; run, not super(), so that a retry keeps firm_id.

        What it writes to people, its mails, is in the firm's language and by the firm's clock.
        """
        with scope(UUID(firm_id)):
            language, zone = find_manner(firm_id=UUID(firm_id))
            with translation.override(language), timezone.override(zone):
                return self.run(firm_id=UUID(firm_id), **kwargs)


class FirmSteps(FirmTask):
    """A task that opens many short scopes itself, so that its progress is seen meanwhile."""

    abstract = True

    def __call__(self, *, firm_id: str, **kwargs: Any) -> Any:
        """Run without a scope."""
        return self.run(firm_id=UUID(firm_id), **kwargs)
