"""Keep what a call with an Idempotency-Key was answered."""

from datetime import datetime, timedelta
from hashlib import blake2b
from uuid import UUID

from django.db import connection

from contractor.programs.models import KeptAnswer

KEPT_FOR = timedelta(hours=24)


def lock_key(*, firm_id: UUID, key: str) -> None:
    """Wait until nobody else works under the same key; held to the end of the transaction."""
    digest = blake2b(f"{firm_id} {key}".encode(), digest_size=8).digest()
    with connection.cursor() as cursor:
        cursor.execute(
            "select pg_advisory_xact_lock(%s)", [int.from_bytes(digest, "big", signed=True)]
        )


def keep_answer(
    *, firm_id: UUID, key: str, request_hash: str, status: int, body: str, now: datetime
) -> None:
    """Keep an answer, in place of one that is too old to be repeated."""
    KeptAnswer.objects.update_or_create(
        firm_id=firm_id,
        key=key,
        defaults={"request_hash": request_hash, "status": status, "body": body, "made_at": now},
    )


def sweep_answers(*, now: datetime) -> int:
    """Drop the active firm's answers that are too old to be repeated; tell how many."""
    return KeptAnswer.objects.filter(made_at__lt=now - KEPT_FOR).delete()[0]
