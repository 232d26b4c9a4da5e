"""Write everything of a firm into one file."""

import time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.custody import services
from contractor.tenancy import queries as tenancy


class Command(BaseCommand):
    """Write a firm's rows and files into a ZIP that import_firm reads."""

    help = "Write everything of a firm into one file: rows, files, hashes."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the firm and where to write."""
        parser.add_argument("firm", help="the firm's name in addresses: tarnbeck")
        parser.add_argument("path", type=Path, help="the .zip to write; must not exist yet")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write it whole or not at all."""
        firm, path = tenancy.find_firm(slug=options["firm"]), options["path"]
        if firm is None:
            raise CommandError(f"There is no firm {options['firm']} on this server.")
        if path.exists():
            raise CommandError(f"{path} is there already. Give another name.")
        began = time.monotonic()
        try:
            packed = services.export_to(path, firm_id=firm.pk, slug=firm.slug)
        except (services.UnableToCarry, OSError) as error:
            raise CommandError(str(error)) from None
        self.stdout.write(
            f"{packed.rows:,} rows and {packed.files:,} files of {firm.slug}: "
            f"{path.stat().st_size / 2**20:.1f} MB in {time.monotonic() - began:.1f} s."
        )
