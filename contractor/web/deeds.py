"""The page of what was done to several rows at once, and its undoing."""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext

from contractor.tenancy import deeds
from contractor.tenancy import queries as tenancy
from contractor.web.door import FirmRequest, or_404


def show_deed(
    request: FirmRequest,
    deed_id: UUID,
    *,
    kind: str,
    undo: Callable[..., tuple[int, list[str]]],
    here: str,
    now: datetime,
    **context: Any,
) -> HttpResponse:
    """Show a deed of one kind; on POST undo it, say what was left, and come back to `here`."""
    deed = or_404(
        tenancy.get_deed, ObjectDoesNotExist, firm_id=request.firm.pk, deed_id=deed_id, kind=kind
    )
    if request.method == "POST":
        try:
            back, left = undo(deed=deed, member=request.member, now=now)
        except deeds.UnableToDo as error:
            messages.error(request, str(error))
        else:
            messages.success(request, gettext("%(back)s put back.") % {"back": back})
            if left:
                messages.warning(
                    request,
                    gettext("Changed since, and left so: %(left)s.") % {"left": "; ".join(left)},
                )
        return redirect(here, firm=request.firm.slug, deed_id=deed.pk)
    context |= {
        "deed": deed,
        "can_undo": deed.undone_at is None and now - deed.done_at <= deeds.UNDO_WITHIN,
        "until": deed.done_at + deeds.UNDO_WITHIN,
    }
    return render(request, "web/deed.html", context)
