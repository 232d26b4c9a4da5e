"""A real mail server that records what it takes, and can refuse or break off."""

import email
import email.policy
import socket
from collections.abc import Iterator
from contextlib import contextmanager

from aiosmtpd.controller import Controller
from django.conf import settings


class Sink:
    """Takes mails; answers as it is told to."""

    def __init__(self) -> None:
        self.taken: list[email.message.EmailMessage] = []
        self.answer = "250 taken"
        self.recipient_answer = "250 ok"

    async def handle_RCPT(self, server, session, envelope, address, rcpt_options):
        if self.recipient_answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.recipient_answer

    async def handle_DATA(self, server, session, envelope):
        if self.answer.startswith("250"):
            self.taken.append(
                email.message_from_bytes(envelope.content, policy=email.policy.default)
            )
        return self.answer


@contextmanager
def mail_server(monkeypatch) -> Iterator[Sink]:
    """Run a mail server on a free port, and let the product send to it."""
    sink = Sink()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(sink, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        monkeypatch.setattr(
            settings,
            "MAILERS",
            {
                "default": {
                    "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
                    "OPTIONS": {"host": "127.0.0.1", "port": port, "timeout": 10},
                }
            },
        )
        yield sink
    finally:
        controller.stop()
