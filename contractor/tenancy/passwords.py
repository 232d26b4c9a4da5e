"""Which passwords are too near to this place to guard it."""

import re
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from contractor import env
from contractor.tenancy import queries

#: What whoever guesses would try first here: the program, and the words of the trade.
WORDS = ("driftbook", "firealarm", "inspection", "sensitivity", "detector", "alarm", "smoke")
LEAST_WORD = 4
LEAST_LEFT = 8


class NotOfThisPlace:
    """Refuse a password that is little more than names of this server, its firms or the trade."""

    def validate(self, password: str, user: Any = None) -> None:
        """Take the words out and count what is left.

        Raises
        ------
        ValidationError
            If a word was there and fewer than eight letters and digits are left.
        """
        plain = _plain(password)
        found = [word for word in _words(user) if word in plain]
        left = plain
        for word in found:
            left = left.replace(word, "")
        if found and len(left) < LEAST_LEFT:
            raise ValidationError(
                gettext(
                    "Whoever guesses begins with words like “%(word)s”. Take words that have"
                    " nothing to do with this place or your work."
                )
                % {"word": found[0]},
                code="password_of_this_place",
            )

    def get_help_text(self) -> str:
        """Say what is asked for."""
        return gettext("It should not be made of names of this server, your firm or your trade.")


def _plain(text: str) -> str:
    return re.sub(r"[\W_]", "", text.casefold())


def _words(user: Any) -> list[str]:
    """List the words, the longest first."""
    names = [*WORDS, *env.host_of(settings.BASE_URL).split(".")]
    if user is not None and user.pk and not user._state.adding:
        for seat in queries.list_seats(user_id=user.pk):
            names += [seat.firm_slug, *seat.firm_slug.split("-")]
    plain = {_plain(name) for name in names}
    return sorted((name for name in plain if len(name) >= LEAST_WORD), key=lambda n: (-len(n), n))
