"""Take a person's second factors away, when the phone and the recovery codes are gone."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from contractor.tenancy import queries, services, signed_in
from contractor.tenancy.models import Member, User
from contractor.tenancy.scope import scope


class Command(BaseCommand):
    """Reset one person's sign-in to the password alone; each of their firms is told in its log."""

    help = "Take a person's second factors away and sign them out everywhere."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the mail address, and why."""
        parser.add_argument("--email", required=True, help="what the person signs in with")
        parser.add_argument("--why", required=True, help="stands in the audit trail of each firm")

    def handle(self, *args: Any, **options: Any) -> None:
        """Refuse who is unknown; else forget, sign out and write down, or nothing of it."""
        user = User.objects.filter(email=options["email"].strip().lower()).first()
        if user is None:
            raise CommandError(f"Nobody signs in as {options['email']}.")
        now = timezone.now()
        with transaction.atomic():
            forgotten = signed_in.forget_factors(user_id=user.pk)
            ended = signed_in.end_sessions(user_id=user.pk)
            for firm_id in queries.list_firm_ids():
                with scope(firm_id):
                    seat = Member.objects.filter(firm_id=firm_id, user=user).first()
                    if seat is not None:
                        services.write_audit(
                            member=None,
                            actor="the server's operator",
                            action="member.second_factor_reset",
                            subject=seat,
                            summary=options["why"],
                            now=now,
                        )
        self.stdout.write(
            f"{user.email} signs in with the password alone. Forgotten: {forgotten} factors; ended:"
            f" {ended} sign-ins."
        )
