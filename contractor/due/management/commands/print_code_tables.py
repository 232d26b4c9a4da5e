"""Write the tables of all editions that are held: docs/code-tables.md."""

from typing import Any

from django.core.management.base import BaseCommand

from contractor.engine.editions.comparing import printed


class Command(BaseCommand):
    """Print what each edition asks of each component, and how sure we are of it."""

    help = "Print the code tables that are held, as Markdown: docs/code-tables.md is this output."
    requires_system_checks = ()

    def handle(self, **_options: Any) -> None:
        """Print them."""
        self.stdout.write(printed(), ending="")
