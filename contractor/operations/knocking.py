"""Notice sign-ins that fail, and have them written down without holding the answer up.

Known and unknown accounts take the same way, so that the time of an answer tells nothing: both ask
the database once and queue one task. What was typed goes nowhere.
"""

import logging
from typing import Any
from uuid import UUID, uuid4

from contractor.celery import app
from contractor.tenancy import queries as tenancy
from contractor.web.limits import Limit, address_of, wait

log = logging.getLogger(__name__)
#: So many failures of one account and from one address are written down; a machine's rest is not.
KEPT = Limit(10, 3600)
KEPT_BY_ADDRESS = Limit(30, 3600)


def note_password(sender: Any, credentials: Any, request: Any = None, **_more: Any) -> None:
    """Notice a name and password that do not fit."""
    if request is not None:
        typed = str(credentials.get("email") or credentials.get("username") or "")
        _note(tenancy.find_user_id(email=typed), request)


def note_factor(sender: Any, request: Any, user: Any, **_more: Any) -> None:
    """Notice a second factor that does not fit."""
    _note(user.pk, request)


def _note(user_id: UUID | None, request: Any) -> None:
    address = address_of(request)
    log.warning("a sign-in failed, from %s", address)
    account = user_id or uuid4()
    # Both are asked, each time: a flood at one account leaves the others their lines.
    waits = [wait("failed", f"from:{address}", KEPT_BY_ADDRESS), wait("failed", str(account), KEPT)]
    if any(waits):
        return
    try:
        app.send_task(
            "operations.note_sign_in", kwargs={"user_id": str(account), "address": address}
        )
    except Exception:
        log.exception("a failed sign-in could not be written down")
