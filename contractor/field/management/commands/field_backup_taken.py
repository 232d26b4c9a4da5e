"""Say that a backup holds everything up to a moment."""

from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.field import services
from contractor.tenancy import queries
from contractor.tenancy.scope import scope


class Command(BaseCommand):
    """Note the moment that a backup was begun at; tablets may then let go of what is older."""

    help = "Run it after each backup that was checked: field_backup_taken 2026-11-25T02:10:00+00:00"

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the moment."""
        parser.add_argument("taken_at", help="when the backup was begun, with its time zone")

    def handle(self, *args: Any, **options: Any) -> None:
        """Note it for every firm."""
        try:
            taken_at = datetime.fromisoformat(options["taken_at"])
        except ValueError:
            raise CommandError("Give the moment like 2026-11-25T02:10:00+00:00.") from None
        if taken_at.tzinfo is None:
            raise CommandError("Say in which time zone: 2026-11-25T02:10:00+00:00.")
        for firm_id in queries.list_firm_ids():
            with scope(firm_id):
                services.note_backup(firm_id=firm_id, taken_at=taken_at)
        self.stdout.write(f"Tablets may let go of what was sent before {taken_at.isoformat()}.")
