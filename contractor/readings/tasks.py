"""Read the mailbox in the background."""

import logging

from celery import shared_task
from django.conf import settings
from django.core.cache import cache
from django.db import OperationalError
from django.utils import timezone
from imap_tools import BaseMailBox

from contractor.readings import limits, mailbox, returned, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope

_LOCK = "readings.fetch_mail"
_LOCK_SECONDS = 600

log = logging.getLogger(__name__)


@shared_task(name="readings.fetch_mail")
def fetch_mail(**_newer: object) -> None:
    """Take in what lies unread in the mailbox; one reader at a time.

    A mail is marked only once what it brought is committed. A reader that is killed in between
    reads it again, and finds each attachment taken in already.
    """
    if settings.INTAKE_MAILBOX is None or not cache.add(_LOCK, 1, _LOCK_SECONDS):
        return
    try:
        with mailbox.opened() as box:
            if box is not None:
                for letter in mailbox.list_unread(box):
                    _take(box, letter)
    except mailbox.Unreachable as error:
        log.warning("The mailbox cannot be reached: %s. It is tried again.", error)
    finally:
        cache.delete(_LOCK)


def _take(box: BaseMailBox, letter: mailbox.Letter) -> None:
    if letter.is_report:
        found = mailbox.fetch_report(box, letter)
        if returned.pass_on(found, timezone.now()):
            mailbox.mark_taken(box, letter)
            return
    if letter.passed_over:
        log.info("Mail %s is passed over: %s.", letter.uid, letter.passed_over)
        mailbox.mark_passed_over(box, letter)
        return
    firm = tenancy.find_firm(slug=letter.slug)
    if firm is None:
        mailbox.mark_passed_over(box, letter)
        return
    try:
        with scope(firm.pk):
            address = services.find_by_secret(secret=letter.secret)
            if address is None:
                log.info("Mail %s is passed over: its address opens nothing.", letter.uid)
            elif limits.is_over(address.pk):
                log.warning("Mail %s waits: its system sends too many.", letter.uid)
                return
            else:
                mail = mailbox.fetch(box, letter)
                services.take_mail(address=address, mail=mail, now=timezone.now())
    except (OperationalError, *mailbox.Unreachable):
        raise  # the database or the mail server is away: all is tried again
    except Exception:
        log.exception("Mail %s could not be taken in.", letter.uid)
        mailbox.mark_passed_over(box, letter)
        return
    if address is None:
        mailbox.mark_passed_over(box, letter)
    else:
        mailbox.mark_taken(box, letter)
