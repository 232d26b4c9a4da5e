"""Tell hooks what the audit trail says, in the very transaction of the deed."""

from typing import Any

from django.db.models.signals import post_save

from contractor.programs import services
from contractor.tenancy.models import AuditLine

#: Not told: a hook would hear of itself, and an outsider need not know who holds which key.
SILENT = ("delivery.", "hook.", "token.")


def _tell(*, instance: AuditLine, created: bool, **_more: Any) -> None:
    if not created or instance.action.startswith(SILENT):
        return
    services.tell(
        firm_id=instance.firm_id,
        event=instance.action,
        data={
            "subject": instance.subject.partition(".")[2],
            "subject_id": str(instance.subject_id),
            "by": instance.actor,
            "summary": instance.summary,
        },
        now=instance.at,
    )


def listen() -> None:
    """Hear every line that is written to the audit trail."""
    post_save.connect(_tell, sender=AuditLine, dispatch_uid="programs.telling")
