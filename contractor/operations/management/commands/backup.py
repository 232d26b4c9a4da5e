"""Take a backup now, or each night."""

import signal
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from contractor.operations import services
from contractor.operations.errors import Refused
from contractor.operations.models import Kind
from contractor.operations.shelf import Shelf


class Command(BaseCommand):
    """Take a backup of the database and the files, encrypted, and read it again."""

    help = "Take an encrypted backup into BACKUP_DIR, check it, clear away what is too old."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the ways of running."""
        parser.add_argument("--list", action="store_true", help="list the generations there are")
        parser.add_argument(
            "--drill", metavar="GENERATION", help="return it into a scratch database; or: latest"
        )
        parser.add_argument("--scratch", type=Path, help="folder for the drill's scratch data")
        parser.add_argument(
            "--nightly", metavar="HH:MM", help="stay, and take one each day at this time (UTC)"
        )
        parser.add_argument(
            "--drill-on",
            type=int,
            metavar="DAY",
            help="with --nightly: also drill on this day of the week, 1 Monday to 7 Sunday",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Do what was asked; what cannot be done ends in a sentence."""
        if options["nightly"]:
            self._stay(options)
        elif options["list"]:
            try:
                self.stdout.write("\n".join(Shelf.from_settings().list_names()) or "None yet.")
            except Refused as error:
                raise CommandError(str(error)) from None
        elif options["drill"]:
            self._drill(options["drill"], options["scratch"])
        else:
            self._take()

    def _take(self) -> None:
        began, clock = timezone.now(), time.monotonic()
        try:
            taken = services.take(now=began, say=self._say)
        except Refused as error:
            self._note(Kind.BACKUP, "", began, str(error), is_good=False)
            raise CommandError(str(error)) from None
        words = (
            f"{taken.firms} firms; database {taken.database_bytes / 1e6:.1f} MB; {taken.files}"
            f" files, {taken.new_files} of them new; {time.monotonic() - clock:.1f} s"
        )
        figures = {"database_bytes": taken.database_bytes, "files": taken.files}
        self._note(Kind.BACKUP, taken.generation, began, words, is_good=True, figures=figures)
        for gone in taken.cleared:
            self.stdout.write(f"Cleared away {gone}.")
        self.stdout.write(f"Backup {taken.generation}: {words}.")

    def _drill(self, generation: str, scratch: Path | None) -> None:
        began, clock = timezone.now(), time.monotonic()
        try:
            generation, found = services.drill(generation=generation, below=scratch, say=self._say)
        except Refused as error:
            self._note(Kind.DRILL, generation, began, str(error), is_good=False)
            raise CommandError(str(error)) from None
        words = (
            "{rows} rows of {firms} firms counted, {records} sealed records computed anew, {files}"
            " files fetched, {reports} reports opened".format(**found)
        )
        words += f"; {time.monotonic() - clock:.1f} s"
        self._note(Kind.DRILL, generation, began, words, is_good=True, figures=found)
        self.stdout.write(f"Returned from {generation}: {words}. Nothing is wrong.")

    def _stay(self, options: dict[str, Any]) -> None:
        try:
            hour, minute = (int(part) for part in options["nightly"].split(":"))
            due = timezone.now().replace(hour=hour, minute=minute, second=0, microsecond=0)
        except ValueError:
            raise CommandError("Give the time like 01:30.") from None
        try:
            shelf = Shelf.from_settings()
        except Refused as error:
            raise CommandError(str(error)) from None
        # What is under way is then left in order: scratch data go, and no half generation stays.
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        while True:
            due += timedelta(days=due <= timezone.now())
            while (left := (due - timezone.now()).total_seconds()) > 0:
                shelf.give_sign()
                time.sleep(min(left, 60))  # a clock that was set right is noticed within a minute
            try:
                self._take()
                if options["drill_on"] == due.isoweekday():
                    self._drill("latest", options["scratch"])
            except CommandError as error:
                self.stderr.write(f"ERROR {error}")
            except Exception as error:  # the next night must be tried all the same
                self.stderr.write(f"ERROR {type(error).__name__}: {error}")

    def _say(self, step: str) -> None:
        self.stderr.write(f"  {step}")

    def _note(
        self,
        kind: str,
        generation: str,
        began: datetime,
        words: str,
        *,
        is_good: bool,
        figures: dict[str, Any] | None = None,
    ) -> None:
        services.note(
            kind=kind,
            generation=generation,
            began_at=began,
            ended_at=timezone.now(),
            is_good=is_good,
            words=words,
            figures=figures,
        )
