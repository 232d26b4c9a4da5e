"""What whoever runs the server is told: backups, drills and returns, and how they ended."""

from typing import ClassVar

from django.db import models

from contractor.tenancy.keys import uuid7


class Kind(models.TextChoices):
    """What ran."""

    BACKUP = "backup", "backup"
    DRILL = "drill", "restore drill"
    RESTORE = "restore", "return from a backup"


class Run(models.Model):
    """One backup, drill or return. It has no firm: figures are of the whole server, no rows."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    generation = models.CharField(max_length=40, blank=True)
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    is_good = models.BooleanField()
    words = models.TextField()
    figures = models.JSONField(default=dict)

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["kind", "-began_at"], name="run_by_kind")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.generation}"
