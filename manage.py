#!/usr/bin/env python
"""Run one of Driftbook's management commands."""

import os
import sys

from django.core.management import execute_from_command_line

WITHOUT_SERVICES = {
    "SECRET_KEY": "unused",
    "DATABASE_URL": "postgresql://unused@127.0.0.1:1/unused",
    "REDIS_URL": "redis://127.0.0.1:1/0",
}

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    if sys.argv[1:2] == ["read_report"]:
        # It reads one file and nothing else; the settings ask for these all the same.
        for name, value in WITHOUT_SERVICES.items():
            os.environ.setdefault(name, value)
    execute_from_command_line(sys.argv)
