"""Say that the database was restored from a backup."""

from typing import Any

from django.core.management.base import BaseCommand

from contractor.field import services
from contractor.tenancy import queries
from contractor.tenancy.scope import scope


class Command(BaseCommand):
    """Begin a new epoch: every tablet then offers again what it still holds."""

    help = "Run it after a restore. Tablets notice most restores without it, by what is missing."

    def handle(self, *args: Any, **options: Any) -> None:
        """Begin it for every firm."""
        for firm_id in queries.list_firm_ids():
            with scope(firm_id):
                services.note_restore(firm_id=firm_id)
        self.stdout.write("Every tablet will offer again what it still holds.")
