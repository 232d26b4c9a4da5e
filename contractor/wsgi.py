"""The WSGI application."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
application = get_wsgi_application()

from contractor.web.warming import warm  # noqa: E402 - once Django stands

warm()
