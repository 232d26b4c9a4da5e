"""Send what is owed, and owe what the day asks for."""

import logging
import time
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from contractor import jobs
from contractor.notices import composing, services
from contractor.notices.posting import open_post
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmSteps, FirmTask

log = logging.getLogger(__name__)

#: One run ends after so long, and queues itself again: others are waiting too. [s]
LONGEST_S = 50.0


@shared_task(name="notices.send", base=FirmSteps)
def send(*, firm_id: UUID, **_newer: object) -> None:
    """Send what one firm owes: claim, send, write down. Killed anywhere, none doubles."""
    began = time.monotonic()
    slug = tenancy.get_slug(firm_id=firm_id)
    with open_post() as post:
        while time.monotonic() - began < LONGEST_S:
            with scope(firm_id):
                notice = services.claim(firm_id=firm_id, now=timezone.now())
            if notice is None:
                return
            fate = services.deliver(notice=notice, post=post, slug=slug)
            with scope(firm_id):
                services.mark(notice=notice, fate=fate, now=timezone.now())
            if fate.word != "sent":
                log.warning("notice %s was not sent: %s", notice.pk, fate.word)
            if fate.is_cut_off:
                return  # the tick comes again
    with scope(firm_id):
        jobs.enqueue("notices.send", firm_id=firm_id)


@shared_task(name="notices.tick")
def tick(**_newer: object) -> None:
    """Look at every firm's outbox: end silent claims, send what waits."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            services.sweep(firm_id=firm_id, now=timezone.now())
            jobs.enqueue("notices.send", firm_id=firm_id)


@shared_task(name="notices.compose", base=FirmTask)
def compose(*, firm_id: UUID, **_newer: object) -> None:
    """Owe what the hour asks of one firm. Running it twice owes nothing more."""
    composing.compose(firm_id=firm_id, now=timezone.now())


@shared_task(name="notices.invite", base=FirmTask)
def invite(*, firm_id: UUID, invitation_id: str, **_newer: object) -> None:
    """Owe the mail of one invitation. Running it twice owes nothing more."""
    composing.owe_invitation(firm_id=firm_id, invitation_id=UUID(invitation_id), now=timezone.now())


@shared_task(name="notices.hour")
def hour(**_newer: object) -> None:
    """Queue every firm's hour: it is eight in the morning somewhere."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            jobs.enqueue("notices.compose", firm_id=firm_id)
