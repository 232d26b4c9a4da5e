"""Check the sealed records of every firm, or of one."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.visits import queries, services


class Command(BaseCommand):
    """Check every sealed record against its hash and its place in its firm's chain."""

    help = "Check every sealed record against its hash and its firm's chain."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take one firm's slug, or none for all firms."""
        parser.add_argument("firm", nargs="?", default="", help="slug of one firm; all without it")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print what was found, firm by firm; end with an error if anything is wrong."""
        slug = options["firm"]
        found = tenancy.find_firm(slug=slug) if slug else None
        if slug and found is None:
            raise CommandError(f"There is no firm {slug}.")
        wrong = 0
        for firm_id in [found.pk] if found else tenancy.list_firm_ids():
            with scope(firm_id):
                problems = services.verify_chain(firm_id=firm_id)
                head = queries.find_head(firm_id=firm_id)
                name = tenancy.get_profile(firm_id=firm_id).name
            for problem in problems:
                self.stderr.write(f"{name}: {problem}")
            wrong += len(problems)
            said = f"record {head.chain_number}, {head.chain_hash}" if head else "no record yet"
            self.stdout.write(f"{name}: {len(problems)} problems; the chain ends with {said}")
        if wrong:
            raise CommandError(f"{wrong} problems. Compare with the fingerprints on the reports.")
