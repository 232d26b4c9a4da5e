"""Print the demo's sign-ins."""

from typing import Any

from django.core.management.base import BaseCommand

from contractor.demo import scenario


class Command(BaseCommand):
    """Print who can sign in to the demo, and with what."""

    help = "Print the demo's three sign-ins."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        """Print one line for each of the three users."""
        contractor = scenario.TARNBECK
        people = [
            *[p for p in contractor.people if p.role in ("office", "technician")][:2],
            contractor.owner,
        ]
        for person in people:
            self.stdout.write(f"  {person.role:<11} {person.email:<28} {scenario.PASSWORD}")
