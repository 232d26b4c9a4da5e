"""The page of tokens and hooks, a hook's log, the API's description and its page."""

from datetime import datetime, time
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from contractor.programs import forms, printed, queries, schema, services
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, open_view, or_404


def _may(request: FirmRequest) -> frozenset[str]:
    return frozenset(str(one) for one in Permission if request.may(one))


def _show(request: FirmRequest, status: int = 200, **more: Any) -> HttpResponse:
    now = timezone.now()
    administers = request.may(Permission.ADMINISTER)
    tokens = queries.list_tokens(
        firm_id=request.firm.pk, made_by=None if administers else request.member
    )
    today = timezone.localdate(now)
    context = {
        "form": forms.TokenForm(may=_may(request), today=today),
        "open": [one for one in tokens if one.revoked_at is None and one.ends_at > now],
        "over": [one for one in tokens if one.revoked_at is not None or one.ends_at <= now][:20],
        "hooks": list(queries.list_hooks(firm_id=request.firm.pk)) if administers else [],
        "hook_form": forms.HookForm(),
        "administers": administers,
        "scope_words": dict(forms.SCOPES),
        "section": "Firm",
        **more,
    }
    return render(request, "programs/programs.html", context, status=status)


@firm_view(Permission.READ)
def programs(request: FirmRequest) -> HttpResponse:
    """Show the tokens of programs, and make one; it is shown once."""
    if request.method != "POST":
        return _show(request)
    now = timezone.now()
    form = forms.TokenForm(request.POST, may=_may(request), today=timezone.localdate(now))
    if form.is_valid():
        said = form.cleaned_data
        try:
            token, secret = services.make_token(
                name=said["name"],
                scopes=said["scopes"],
                ends_at=timezone.make_aware(datetime.combine(said["ends_on"], time(0))),
                member=request.member,
                now=now,
            )
        except services.UnableToMake as error:
            form.add_error(None, str(error))
        else:
            return _show(request, token=token, secret=secret)
    return _show(request, status=422, form=form)


@firm_view(Permission.READ)
@require_POST
def revoke(request: FirmRequest, token_id: UUID) -> HttpResponse:
    """Revoke a token of one's own; who administers the firm revokes any."""
    token = or_404(queries.get_token, queries.Missing, firm_id=request.firm.pk, token_id=token_id)
    if token.made_by_id != request.member.pk and not request.may(Permission.ADMINISTER):
        raise PermissionDenied
    services.revoke_token(token=token, member=request.member, now=timezone.now())
    messages.success(request, f"Revoked: {token.name}. It opens nothing any more.")
    return redirect("programs:programs", firm=request.firm.slug)


@firm_view(Permission.ADMINISTER)
@require_POST
def add_hook(request: FirmRequest) -> HttpResponse:
    """Tell an address from now on what happens."""
    form = forms.HookForm(request.POST)
    if form.is_valid():
        try:
            hook = services.add_hook(
                url=form.cleaned_data["url"],
                events=form.cleaned_data["events"],
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToMake as error:
            form.add_error("url", str(error))
        else:
            return redirect("programs:hook", firm=request.firm.slug, hook_id=hook.pk)
    return _show(request, status=422, hook_form=form)


@firm_view(Permission.ADMINISTER)
@require_safe
def hook(request: FirmRequest, hook_id: UUID) -> HttpResponse:
    """Show a hook's secret, and what it was told."""
    found = or_404(queries.get_hook, queries.Missing, firm_id=request.firm.pk, hook_id=hook_id)
    show = request.GET.get("show", "all")
    page = Paginator(queries.list_deliveries(hook=found, show=show), 60).get_page(
        request.GET.get("page")
    )
    context = {
        "hook": found,
        "secret": services.secret_of(found),
        "page": page,
        "show": show,
        "shown": [("all", "all"), ("waiting", "waits"), ("sent", "taken"), ("failed", "given up")],
        "failed": queries.list_deliveries(hook=found, show="failed").count(),
        "event_words": dict(forms.EVENTS),
        "section": "Firm",
    }
    return render(request, "programs/hook.html", context)


@firm_view(Permission.ADMINISTER)
@require_POST
def end_hook(request: FirmRequest, hook_id: UUID) -> HttpResponse:
    """Tell an address nothing more."""
    found = or_404(queries.get_hook, queries.Missing, firm_id=request.firm.pk, hook_id=hook_id)
    services.end_hook(hook=found, member=request.member, now=timezone.now())
    messages.success(request, "Ended. It is told nothing more.")
    return redirect("programs:programs", firm=request.firm.slug)


@firm_view(Permission.ADMINISTER)
@require_POST
def replay(request: FirmRequest, delivery_id: UUID) -> HttpResponse:
    """Send a delivery again."""
    found = or_404(
        queries.get_delivery, queries.Missing, firm_id=request.firm.pk, delivery_id=delivery_id
    )
    services.replay(delivery=found, member=request.member, now=timezone.now())
    messages.success(request, "It is sent again, under the same id.")
    return redirect("programs:hook", firm=request.firm.slug, hook_id=found.hook_id)


@open_view("the description of the API; it holds no firm's data")
@require_safe
def description(request: HttpRequest) -> JsonResponse:
    """Give the OpenAPI description."""
    return JsonResponse(schema.describe())


@open_view("the handbook of the API; it holds no firm's data")
@require_safe
def handbook(request: HttpRequest) -> HttpResponse:
    """Show the API's description as a page of our own."""
    host = f"{request.scheme}://{request.get_host()}"
    context = {"groups": printed.list_groups(schema.describe()), "host": host}
    return render(request, "programs/handbook.html", context)
