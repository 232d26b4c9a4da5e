"""Send one mail now, to see whether mail gets out."""

import smtplib
from email.utils import formataddr

from django.core.mail import EmailMessage, mailers


def send_test(*, address: str, name: str, firm: str) -> str:
    """Send a mail and answer what went wrong; empty where the mail server took it."""
    message = EmailMessage(
        subject=f"Mail of {firm} gets out",
        body=f"This mail was sent by Driftbook to see whether mail gets out.\n\n{firm}\n",
        to=[formataddr((name, address))],
        headers={"Auto-Submitted": "auto-generated"},
    )
    connection = mailers["default"]
    try:
        connection.send_messages([message])
    except (OSError, smtplib.SMTPException) as error:
        return " ".join(str(error).split())[:200] or type(error).__name__
    finally:
        connection.close()
    return ""
