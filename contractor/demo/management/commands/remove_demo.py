"""Remove the invented scenario."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from contractor.demo import removing


class Command(BaseCommand):
    """Show what the demo made up; with --yes, remove it. Other firms are left as they are."""

    help = "Remove the firms that the demo made up, with everything in them."

    def add_arguments(self, parser: CommandParser) -> None:
        """Ask for a word before anything goes."""
        parser.add_argument("--yes", action="store_true", help="remove; without it, only tell")

    def handle(self, *args: Any, **options: Any) -> None:
        """Tell what goes; remove it where that was said."""
        found = removing.list_invented()
        for one in found:
            counts = ", ".join(f"{count:,} {noun}" for noun, count in one.counts)
            self.stdout.write(f"  {one.name}: {counts}; sign-ins {', '.join(one.people)}")
        if not found:
            self.stdout.write("The demo made up no firm here.")
        elif options["yes"]:
            self.stdout.write(f"Removed: {removing.remove_invented()} invented firm(s).")
        else:
            self.stdout.write("Nothing was removed. Say --yes to remove them.")
