"""The same fifty rows by raw psycopg, as a view behind our own door: server, middleware, session.

What the list of buildings takes above it is our own: queries by the ORM, counts, and the template.
"""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")

from django.core.wsgi import get_wsgi_application

application = get_wsgi_application()

from bare import ROWS  # noqa: E402
from django.db import connection  # noqa: E402
from django.http import HttpResponse  # noqa: E402
from django.urls import path  # noqa: E402

from contractor import urls  # noqa: E402
from contractor.tenancy.permissions import Permission  # noqa: E402
from contractor.web.door import firm_view  # noqa: E402


@firm_view(Permission.READ)
def rows(request):
    """Answer the rows of the firm."""
    with connection.cursor() as cursor:
        cursor.execute(ROWS, [request.firm.pk])
        found = cursor.fetchall()
    page = "".join(f"<tr><td>{'</td><td>'.join(map(str, row))}</td></tr>" for row in found)
    return HttpResponse(f"<!doctype html><table>{page}</table>")


urls.urlpatterns.append(path("f/<slug:firm>/bare/", rows))
