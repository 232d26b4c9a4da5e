"""The ASGI application. The product itself is served over WSGI; see docs/operating.md."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
application = get_asgi_application()
