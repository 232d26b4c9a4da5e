"""Return from a backup into an empty installation."""

import json
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from contractor.operations import services
from contractor.operations.errors import Refused
from contractor.operations.models import Kind


class Command(BaseCommand):
    """Return the database and the files of a generation, and check all that came back."""

    help = "Return from a backup in BACKUP_DIR into an empty database and DATA_DIR."
    # There are no tables yet that could be checked.
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the generation."""
        parser.add_argument("generation", help="its name from backup --list, or: latest")
        parser.add_argument("--json", action="store_true", help="answer the figures as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        """Return; end with an error if anything came back wrong."""
        began, clock = timezone.now(), time.monotonic()
        say = (lambda step: None) if options["json"] else self._say
        try:
            generation, checked = services.restore(
                generation=options["generation"], now=began, say=say
            )
        except Refused as error:
            raise CommandError(str(error)) from None
        words = (
            "{rows} rows of {firms} firms counted, {records} sealed records computed anew, {files}"
            " files fetched, {reports} reports opened".format(**checked.figures)
        )
        words += f"; {time.monotonic() - clock:.1f} s"
        services.note(
            kind=Kind.RESTORE,
            generation=generation,
            began_at=began,
            ended_at=timezone.now(),
            is_good=not checked.problems,
            words=" ".join(checked.problems[:20]) or words,
            figures=checked.figures,
        )
        if checked.problems:
            raise CommandError(
                f"It came back, and {len(checked.problems)} things are wrong:\n"
                + "\n".join(checked.problems[:50])
            )
        if options["json"]:
            self.stdout.write(json.dumps(checked.figures))
            return
        self.stdout.write(f"Returned from {generation}: {words}. Nothing is wrong.")
        self.stdout.write("Start web, workers and beat; tablets offer again what they still hold.")

    def _say(self, step: str) -> None:
        self.stderr.write(f"  {step}")
