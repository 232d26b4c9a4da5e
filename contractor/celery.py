"""The Celery application: JSON only, late acknowledgement, no result backend."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")

app = Celery("contractor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
