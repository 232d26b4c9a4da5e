"""Bring a firm into this server from its export."""

import time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.custody import services


class Command(BaseCommand):
    """Check an export and write all of it, or nothing."""

    help = "Bring a firm into this server from the .zip that export_firm wrote."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file."""
        parser.add_argument("path", type=Path, help="the .zip")

    def handle(self, *args: Any, **options: Any) -> None:
        """Refuse in a sentence, or say what was written."""
        began = time.monotonic()
        try:
            firm, packed = services.unpack(options["path"])
        except (services.UnableToCarry, OSError) as error:
            raise CommandError(str(error)) from None
        self.stdout.write(
            f"{packed.rows:,} rows and {packed.files:,} files of {firm.slug} in "
            f"{time.monotonic() - began:.1f} s; the chain of sealed records holds. "
            "Its people choose a new password by mail."
        )
