"""The outbox, one notice, what a person wants; and the address that ends a kind of mail."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from contractor.notices import bouncing, queries, services
from contractor.tenancy.permissions import Permission
from contractor.tenancy.scope import scope
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, open_view, or_404


@firm_view(Permission.MANAGE)
def notices(request: FirmRequest) -> HttpResponse:
    """List what was owed, and what became of it; what is uncertain first."""
    firm_id = request.firm.pk
    state = request.GET.get("state", "")
    kind = request.GET.get("kind", "")
    found = queries.list_notices(
        firm_id=firm_id,
        state=state if state in dict(queries.STATES) else "",
        kind=kind if kind in dict(queries.KINDS) else "",
    )
    if form := exports.asked(request):
        return _as_file(form, found)
    counts, kinds = queries.count_notices(firm_id=firm_id)
    context = {
        "page": Paginator(found, 60).get_page(request.GET.get("page")),
        "states": [(value, words, counts.get(value, 0)) for value, words in queries.STATES],
        "state": state,
        "kinds": [(key, words, kinds[key]) for key, words in queries.KINDS if key in kinds],
        "kind": kind,
        "bounces": list(bouncing.list_bounces(firm_id=firm_id)[:50]),
        "uncertain": counts.get("unknown", 0) + counts.get("failed", 0),
        "section": "Notices",
    }
    return render(request, "notices/list.html", context)


def _as_file(form: str, found: Iterable[Any]) -> HttpResponse:
    """Give notices as a file: to whom, about what, and what became of each."""
    return exports.as_file(
        form,
        name="notices",
        heads=[
            "owed (UTC)",
            "kind",
            "to",
            "address",
            "subject",
            "where it stands",
            "sent (UTC)",
            "problem",
        ],
        rows=(
            [
                one.owed_at,
                one.get_kind_display(),
                one.name,
                one.recipient,
                one.subject,
                one.get_state_display(),
                one.sent_at,
                one.problem,
            ]
            for one in found
        ),
    )


@firm_view(Permission.MANAGE)
def notice(request: FirmRequest, notice_id: UUID) -> HttpResponse:
    """Show one notice; send it again, or say that it arrived."""
    found = or_404(
        queries.get_notice, queries.Missing, firm_id=request.firm.pk, notice_id=notice_id
    )
    if request.method == "POST":
        act = services.settle if "settle" in request.POST else services.resend
        try:
            act(notice=found, member=request.member, now=timezone.now())
        except services.UnableToSend as error:
            messages.error(request, str(error))
        else:
            messages.success(request, "Noted." if "settle" in request.POST else "It is sent again.")
        return redirect("notices:notice", firm=request.firm.slug, notice_id=found.pk)
    return render(request, "notices/notice.html", {"notice": found, "section": "Notices"})


@firm_view(Permission.MANAGE)
@require_POST
def clear(request: FirmRequest, bounce_id: UUID) -> HttpResponse:
    """Say that an address is right again."""
    bounce = or_404(
        bouncing.get_bounce, ObjectDoesNotExist, firm_id=request.firm.pk, bounce_id=bounce_id
    )
    bouncing.clear(bounce=bounce, member=request.member, now=timezone.now())
    messages.success(
        request,
        gettext("Mail goes to %(address)s again. What was held back is sent on its page.")
        % {"address": bounce.address},
    )
    return redirect("notices:list", firm=request.firm.slug)


@firm_view(Permission.READ)
def wanted(request: FirmRequest) -> HttpResponse:
    """Choose which mails come to one's own address."""
    address = request.member.user.email
    if request.method == "POST":
        services.want(
            firm_id=request.firm.pk,
            address=address,
            kinds=request.POST.getlist("kind"),
            optional=[value for value, _ in queries.OPTIONAL],
            now=timezone.now(),
        )
        messages.success(request, "Kept.")
        return redirect("notices:wanted", firm=request.firm.slug)
    come = queries.list_wanted(firm_id=request.firm.pk, address=address)
    context = {
        "address": address,
        "kinds": [(value, words, value in come) for value, words in queries.OPTIONAL],
        "kept": [words for value, words in queries.KINDS if value not in dict(queries.OPTIONAL)],
        "section": "Notices",
    }
    return render(request, "notices/wanted.html", context)


@csrf_exempt
@open_view("the signed address is the right to end one kind of mail to one person")
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    """Show what would end; end it on POST. Mail programs post without a cookie (RFC 8058)."""
    asked = services.read_token(token=token)
    if asked is None or asked.kind not in dict(queries.OPTIONAL):
        raise Http404
    is_ended = request.method == "POST"
    if is_ended:
        with scope(asked.firm.pk):
            services.unsubscribe(
                firm_id=asked.firm.pk, address=asked.address, kind=asked.kind, now=timezone.now()
            )
    context = {
        "address": asked.address,
        "kind": dict(queries.KINDS)[asked.kind],
        "is_ended": is_ended,
    }
    return render(request, "notices/unsubscribe.html", context)
