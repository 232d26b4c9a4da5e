"""Send to hooks what is owed, and sweep what is old."""

import time
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from contractor import jobs
from contractor.programs import outside, queries, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmSteps

#: One run ends after so long, and queues itself again: others are waiting too. [s]
LONGEST_S = 50.0


@shared_task(name="programs.deliver", base=FirmSteps)
def deliver(*, firm_id: UUID, **_newer: object) -> None:
    """Deliver what one firm owes: claim, send, write down.

    Killed after the sending, it is sent once more under the same id: at least once, never lost.
    """
    began = time.monotonic()
    while time.monotonic() - began < LONGEST_S:
        with scope(firm_id):
            delivery = services.claim_delivery(now=timezone.now())
        if delivery is None:
            return
        outcome = outside.post(
            url=delivery.hook.url,
            secret=services.secret_of(delivery.hook),
            message_id=str(delivery.event_id),
            timestamp=int(time.time()),
            body=delivery.body,
        )
        with scope(firm_id):
            services.mark_delivery(
                delivery=delivery,
                status=outcome.status,
                problem=outcome.problem,
                now=timezone.now(),
            )
    with scope(firm_id):
        jobs.enqueue("programs.deliver", firm_id=firm_id)


@shared_task(name="programs.tick")
def tick(**_newer: object) -> None:
    """Look at every firm's deliveries; queue those whose turn has come."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            if queries.has_turns(now=timezone.now()):
                jobs.enqueue("programs.deliver", firm_id=firm_id)


@shared_task(name="programs.night")
def night(**_newer: object) -> None:
    """Drop kept answers and deliveries that are too old to be asked for."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            services.sweep_answers(now=timezone.now())
            services.sweep_deliveries(now=timezone.now())
