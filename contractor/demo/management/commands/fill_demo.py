"""Fill the database with the invented scenario."""

import time
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from contractor.demo import services


class Command(BaseCommand):
    """Fill the invented scenario; run again, it changes nothing."""

    help = "Fill the database with invented firms, buildings and readings."

    def handle(self, *args: Any, **options: Any) -> None:
        """Fill, saying what is being filled."""
        began = time.monotonic()
        services.fill(now=timezone.now(), say=lambda line: self.stdout.write(f"  {line}"))
        self.stdout.write(f"Demo data stand ({time.monotonic() - began:.0f} s). All invented.")
