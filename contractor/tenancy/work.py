"""The bases of every task: the firm's scope is open, or opened step by step."""

from typing import Any
from uuid import UUID

from celery import Task
from django.utils import translation

from contractor.tenancy.queries import find_language
from contractor.tenancy.scope import scope


class FirmTask(Task):
    """A task whose whole body is one transaction in one firm's scope."""

    abstract = True

    def __call__(self, *, firm_id: str, **kwargs: Any) -> Any:
        """Open the firm's scope and run; run, not super(), so that a retry keeps firm_id.

        What it writes to people, its mails, is in the firm's language.
        """
        with scope(UUID(firm_id)), translation.override(find_language(firm_id=UUID(firm_id))):
            return self.run(firm_id=UUID(firm_id), **kwargs)


class FirmSteps(FirmTask):
    """A task that opens many short scopes itself, so that its progress is seen meanwhile."""

    abstract = True

    def __call__(self, *, firm_id: str, **kwargs: Any) -> Any:
        """Run without a scope."""
        return self.run(firm_id=UUID(firm_id), **kwargs)
