"""Hand one mail to the mail server, and tell what became of it."""

import re
import smtplib
from collections.abc import Iterator
from contextlib import contextmanager
from email.utils import formataddr
from typing import Any, NamedTuple

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, mailers

from contractor.notices.models import Notice

#: Answers of a server that say no for good (RFC 5321, 4.2.1: 5yz is permanent, 4yz transient).
_FOR_GOOD = range(500, 600)


class Fate(NamedTuple):
    """What became of a mail: "sent", "again" (surely not taken), "failed" or "unknown"."""

    word: str
    problem: str = ""
    is_cut_off: bool = False  # the server cannot be reached: the next mail would fare no better


class Post:
    """One connection to the mail server, used for one mail after another."""

    def __init__(self) -> None:
        self.connection: Any = mailers["default"]

    def send(self, *, notice: Notice, unsubscribe: str) -> Fate:
        """Send one notice. What a server surely did not take may be tried again."""
        try:
            self.connection.open()
        except (OSError, smtplib.SMTPException) as error:
            return Fate("again", f"The mail server cannot be reached: {_said(error)}", True)
        try:
            self.connection.send_messages([_message(notice, unsubscribe)])
        except smtplib.SMTPRecipientsRefused as error:
            codes = [code for code, _ in error.recipients.values()]
            return Fate(
                "failed" if all(code in _FOR_GOOD for code in codes) else "again", _said(error)
            )
        except (smtplib.SMTPSenderRefused, smtplib.SMTPDataError) as error:
            return Fate(
                "failed" if error.smtp_code in _FOR_GOOD else "again",
                f"The mail server answered {error.smtp_code}: {_said(error)}",
            )
        except (OSError, smtplib.SMTPException) as error:
            # Broken off somewhere: the server may have taken it all the same.
            self._drop()
            return Fate("unknown", f"The connection broke while it was sent: {_said(error)}")
        return Fate("sent")

    def _drop(self) -> None:
        try:
            self.connection.close()
        except (OSError, smtplib.SMTPException):
            self.connection = mailers["default"]


@contextmanager
def open_post() -> Iterator[Post]:
    """Hold one connection for several mails."""
    post = Post()
    try:
        yield post
    finally:
        post._drop()


def _said(error: Exception) -> str:
    return re.sub(r"\s+", " ", str(error))[:300] or type(error).__name__


def _message(notice: Notice, unsubscribe: str) -> EmailMultiAlternatives:
    headers = {"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"}
    if unsubscribe:
        headers["List-Unsubscribe"] = f"<{unsubscribe}>"
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"  # RFC 8058
    message = EmailMultiAlternatives(
        subject=notice.subject,
        body=notice.body,
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=[formataddr((notice.name, notice.recipient))],
        headers=headers,
    )
    if notice.html:
        message.attach_alternative(notice.html, "text/html")
    return message
