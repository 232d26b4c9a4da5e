"""The same fifty rows by raw psycopg, as a view behind our own door: server, middleware, session.

What the list of buildings takes above it is our own: queries by the ORM, counts, and the template.
"""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")

from contractor.wsgi import application  # noqa: F401, I001 - first: it sets Django up

from bare import ROWS
from django.db import connection
from django.http import HttpResponse
from django.urls import path

from contractor import urls
from contractor.tenancy.permissions import Permission
from contractor.web.door import firm_view


@firm_view(Permission.READ)
def rows(request):
    """Answer the rows of the firm."""
    with connection.cursor() as cursor:
        cursor.execute(ROWS, [request.firm.pk])
        found = cursor.fetchall()
    page = "".join(f"<tr><td>{'</td><td>'.join(map(str, row))}</td></tr>" for row in found)
    return HttpResponse(f"<!doctype html><table>{page}</table>")


urls.urlpatterns.append(path("f/<slug:firm>/bare/", rows))
