"""The Celery application: JSON only, late acknowledgement, no result backend."""

import os
from typing import Any

from celery import Celery
from celery.signals import worker_init

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")

#: The queue of what goes through a whole firm by night. docker-compose.yml gives it one process:
#: two on a machine of two cores leave PostgreSQL none for pages.
NIGHTS = "nights"

app = Celery("contractor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@worker_init.connect
def step_back(**_: Any) -> None:
    """Let web processes of the same machine go first: a night may take all night, a page may not.

    The processes of the pool are its children and inherit it.
    """
    from django.conf import settings

    os.nice(settings.WORKER_NICE)
