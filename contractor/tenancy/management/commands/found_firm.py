"""Found a firm and seat its principal: the first thing to do on a new server."""

import getpass
import sys
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from contractor.tenancy import queries, services
from contractor.tenancy.models import Firm, Role, User
from contractor.tenancy.scope import scope


class Command(BaseCommand):
    """Found a firm with one member, the principal, who can then sign in."""

    help = "Found a firm and seat its principal."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the firm's names and the principal's; the password is asked for, or read."""
        parser.add_argument("--slug", required=True, help="in the addresses of its pages: tarnbeck")
        parser.add_argument("--name", required=True, help="as it stands on reports")
        parser.add_argument("--email", required=True, help="what the principal signs in with")
        parser.add_argument("--person", required=True, help="the principal's name")

    def handle(self, *args: Any, **options: Any) -> None:
        """Refuse what cannot be before anything is written, then write all of it or nothing."""
        firm = Firm(slug=options["slug"])
        known = User.objects.filter(email=options["email"].lower()).first()
        user = known or User(email=options["email"].lower(), name=options["person"])
        try:
            firm.clean_fields()
            user.clean_fields(exclude=["password"])
        except ValidationError as error:
            raise CommandError("; ".join(error.messages)) from None
        if queries.find_firm(slug=firm.slug):
            raise CommandError(f"There is a firm {firm.slug} already. Give another --slug.")
        password = None if known else _ask_for_password(user)
        with transaction.atomic():
            if not known:
                user = User.objects.create_user(user.email, password, name=user.name)
            founded = services.found_firm(slug=firm.slug, name=options["name"])
            with scope(founded.pk):
                services.seat_member(
                    firm=founded, user=user, role=Role.PRINCIPAL, name=options["person"]
                )
        said = "their own password" if known else "the password you gave"
        self.stdout.write(f"{options['name']} stands. {user.email} signs in with {said}.")


def _ask_for_password(user: User) -> str:
    if sys.stdin.isatty():
        password = getpass.getpass("Password for the principal: ")
        if getpass.getpass("Once more: ") != password:
            raise CommandError("The two passwords differ. Nothing was written.")
    else:
        password = sys.stdin.readline().rstrip("\r\n")
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise CommandError(" ".join([*error.messages, "Nothing was written."])) from None
    return password
