"""The open pages: home, health; and what every area shares: jobs, kept lists, histories."""

import os
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.cache import cache
from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.core.files.storage import default_storage
from django.core.paginator import Paginator
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from contractor.celery import app
from contractor.tenancy import deeds, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web import exports, forms, helping, keeping
from contractor.web.door import FirmRequest, firm_view, open_view, or_404
from contractor.web.shelves import stock


@open_view("sends people to their seat")
def home(request: HttpRequest) -> HttpResponse:
    """Send a signed-in person to their firm or their buildings; ask where there are several."""
    if not request.user.is_authenticated:
        return redirect("account_login" if queries.list_firm_ids() else "set_up")
    seats = queries.list_seats(user_id=request.user.pk)
    if len(seats) == 1:
        seat = seats[0]
        name = "schedule:todo" if seat.kind == "member" else "owners:start"
        return redirect(name, firm=seat.firm_slug)
    return render(request, "web/home.html", {"seats": seats})


@open_view("anyone chooses the language of pages; it reads no firm's rows")
def language(request: HttpRequest) -> HttpResponse:
    """Choose the language of pages: kept with the person, and in a cookie for the sign-in page."""
    came_from = request.META.get("HTTP_REFERER", "")
    chosen = request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME, "")
    initial = {"language": getattr(request.user, "language", "") or chosen, "next": came_from}
    form = forms.Language(request.POST or None, initial=initial)
    if request.method != "POST" or not form.is_valid():
        return render(request, "web/language.html", {"form": form})
    back = form.cleaned_data["next"]
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure()):
        back = resolve_url("home")
    answer = redirect(back)
    chosen = form.cleaned_data["language"]
    if request.user.is_authenticated:
        services.choose_language(user_id=request.user.pk, language=chosen)
    if chosen:
        answer.set_cookie(
            settings.LANGUAGE_COOKIE_NAME,
            chosen,
            max_age=settings.LANGUAGE_COOKIE_AGE,
            secure=settings.LANGUAGE_COOKIE_SECURE,
            samesite="Lax",
        )
    else:
        answer.delete_cookie(settings.LANGUAGE_COOKIE_NAME)
    return answer


@firm_view(Permission.READ)
@require_safe
def more(request: FirmRequest) -> HttpResponse:
    """List the pages that the strip does not name."""
    return render(
        request, "web/more.html", {"shelves": stock(firm=request.firm.slug, may=request.may)}
    )


@firm_view(Permission.READ)
@require_safe
def guide(request: FirmRequest) -> HttpResponse:
    """Say what a page is for, what the marks mean, and which keys there are."""
    return render(request, "web/help.html", helping.context(page=request.GET.get("of", "")))


@open_view("tells the process manager that the web process answers")
def healthz(request: HttpRequest) -> JsonResponse:
    """Answer that the process is up."""
    return JsonResponse({"up": True})


@open_view("tells the process manager that its servers answer; names no firm")
def readyz(request: HttpRequest) -> JsonResponse:
    """Answer whether database, broker and files are there, and the tables as this version asks."""
    asked = {
        "database": _database_answers,
        "tables": _tables_are_ours,
        "broker": _broker_answers,
        "files": _files_can_be_kept,
    }
    found = {}
    for name, ask in asked.items():
        try:
            found[name] = ask()
        except Exception:
            found[name] = False
    return JsonResponse(found, status=200 if all(found.values()) else 503)


def _database_answers() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("select 1")
    return True


def _tables_are_ours() -> bool:
    """Whether every migration has run; asked until it has, then remembered for a minute."""
    if cache.get("tables-are-ours") != settings.VERSION:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            return False
        cache.set("tables-are-ours", settings.VERSION, 60)
    return True


def _broker_answers() -> bool:
    with app.connection_for_read() as broker:
        broker.ensure_connection(max_retries=1, timeout=2)
    return True


def _files_can_be_kept() -> bool:
    folder = Path(default_storage.path(""))
    folder.mkdir(parents=True, exist_ok=True)
    return os.access(folder, os.W_OK)


@firm_view(Permission.READ)
def job(request: FirmRequest, job_id: UUID) -> HttpResponse:
    """Answer how far a job is; once it is over, the page that shows it is loaded again."""
    found = or_404(queries.get_job, ObjectDoesNotExist, firm_id=request.firm.pk, job_id=job_id)
    answer = render(request, "web/_job.html", {"job": found})
    if found.is_over:
        answer["HX-Refresh"] = "true"
    return answer


@firm_view(Permission.READ)
@require_safe
def kept_lists(request: FirmRequest) -> HttpResponse:
    """Show every list that the member keeps or the firm shares."""
    rows = [
        (one, deeds.LISTS.get(one.page, one.page), keeping.address_of(one, request.firm.slug))
        for one in queries.list_saved(member=request.member)
    ]
    return render(request, "web/kept_lists.html", {"rows": rows, "section": "-"})


@firm_view(Permission.READ)
@require_POST
def keep_list(request: FirmRequest) -> HttpResponse:
    """Keep the list that was looked at, with its filters, under a name."""
    page = request.POST.get("page", "")
    try:
        saved = deeds.keep_list(
            page=page,
            name=request.POST.get("name", ""),
            query=request.POST.get("query", ""),
            is_shared=request.POST.get("shared") == "on" and request.may(Permission.MANAGE),
            member=request.member,
            now=timezone.now(),
        )
    except deeds.UnableToDo as error:
        messages.error(request, str(error))
        if page not in deeds.LISTS:
            return redirect("kept_lists", firm=request.firm.slug)
        back = reverse(page, kwargs={"firm": request.firm.slug})
        return redirect(f"{back}?{request.POST.get('query', '')[:1000]}")
    messages.success(request, gettext("Kept as “%(name)s”.") % {"name": saved.name})
    return redirect(keeping.address_of(saved, request.firm.slug))


@firm_view(Permission.READ)
@require_POST
def forget_list(request: FirmRequest, list_id: UUID) -> HttpResponse:
    """Forget a kept list; one of the whole firm's only by the office."""
    saved = or_404(queries.get_saved, ObjectDoesNotExist, member=request.member, list_id=list_id)
    if saved.owner_id is None and not request.may(Permission.MANAGE):
        raise PermissionDenied
    deeds.forget_list(saved=saved)
    return redirect("kept_lists", firm=request.firm.slug)


@firm_view(Permission.READ)
@require_safe
def history(request: FirmRequest, subject: str, subject_id: UUID) -> HttpResponse:
    """Show who did what to one thing, when, and what stood before and after."""
    if subject not in keeping.SUBJECTS:
        raise Http404
    found = queries.list_audit_lines(firm_id=request.firm.pk, subject_id=subject_id).filter(
        subject=subject
    )
    if not found.exists() and not queries.is_there(
        firm_id=request.firm.pk, subject=subject, subject_id=subject_id
    ):
        raise Http404
    noun, name, argument = keeping.SUBJECTS[subject]
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="history",
            heads=["at (UTC)", "who", "what", "summary", "field", "before", "after"],
            rows=(
                [line.at, line.actor, line.action, line.summary, *fields]
                for line in found
                for fields in keeping.list_differences(line) or [("", "", "")]
            ),
        )
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    context = {
        "noun": noun,
        "back_url": reverse(name, kwargs={"firm": request.firm.slug, argument: subject_id}),
        "page": page,
        "rows": [
            (line, line.action.partition(".")[2].replace("_", " "), keeping.list_differences(line))
            for line in page
        ],
        "section": "-",
    }
    return render(request, "web/history.html", context)
