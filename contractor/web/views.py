"""The open pages: home, health."""

from uuid import UUID

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render

from contractor.celery import app
from contractor.tenancy import queries
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, open_view, or_404


@open_view("sends people to their seat")
def home(request: HttpRequest) -> HttpResponse:
    """Send a signed-in person to their firm or their buildings; ask where there are several."""
    if not request.user.is_authenticated:
        return redirect("account_login")
    seats = queries.list_seats(user_id=request.user.pk)
    if len(seats) == 1:
        seat = seats[0]
        name = "schedule:todo" if seat.kind == "member" else "owners:start"
        return redirect(name, firm=seat.firm_slug)
    return render(request, "web/home.html", {"seats": seats})


@open_view("tells the process manager that the web process answers")
def healthz(request: HttpRequest) -> JsonResponse:
    """Answer that the process is up."""
    return JsonResponse({"up": True})


@open_view("tells the process manager that its servers answer; names no firm")
def readyz(request: HttpRequest) -> JsonResponse:
    """Answer whether the database and the broker answer."""
    found = {}
    try:
        with connection.cursor() as cursor:
            cursor.execute("select 1")
        found["database"] = True
    except Exception:
        found["database"] = False
    try:
        with app.connection_for_read() as broker:
            broker.ensure_connection(max_retries=1, timeout=2)
        found["broker"] = True
    except Exception:
        found["broker"] = False
    return JsonResponse(found, status=200 if all(found.values()) else 503)


@firm_view(Permission.READ)
def job(request: FirmRequest, job_id: UUID) -> HttpResponse:
    """Answer how far a job is; once it is over, the page that shows it is loaded again."""
    found = or_404(queries.get_job, ObjectDoesNotExist, firm_id=request.firm.pk, job_id=job_id)
    answer = render(request, "web/_job.html", {"job": found})
    if found.is_over:
        answer["HX-Refresh"] = "true"
    return answer
