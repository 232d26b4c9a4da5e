"""Say how the server is."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from contractor.operations import services


class Command(BaseCommand):
    """Look at the whole server; end with an error if anything asks for somebody."""

    help = "Say how the server is: backups, queue, mails, disk, clocks, jobs, nights."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print each thing that was looked at, and what to do about it."""
        look = services.look_at_all(now=timezone.now())
        for item in look.items:
            mark = "  " if item.state == "done" else "! "
            self.stdout.write(f"{mark}{item.name}: {item.words}")
            if item.advice:
                self.stdout.write(f"    {item.advice}")
        if look.bad:
            raise CommandError(f"{len(look.bad)} of {len(look.items)} ask for somebody.")
