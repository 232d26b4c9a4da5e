#!/usr/bin/env python
"""Does an installation of an earlier version, filled, come up to this one?

    script/soak/run upgrade                     from the last tag; without one, from the first
                                                commit whose demo has sealed visits
    script/soak/run upgrade --since COMMIT

The earlier program is taken out of git into a scratch folder, makes its tables and fills its own
demo. Then this version migrates, as an operator would; every sealed record is computed anew, every
row of before is counted, and every list of each firm is opened. The earlier demo is
removed at last.
"""

import argparse
import io
import os
import subprocess
import sys
import tarfile
import tempfile
import time
from pathlib import Path

import psycopg
from psycopg import sql

ROOT = Path(__file__).resolve().parents[2]
TABLES = """
    select relname from pg_class c join pg_namespace n on n.oid = c.relnamespace
    where n.nspname = 'public' and relkind = 'r' and relname not like 'django_%' order by 1
"""


def git(*words: str) -> str:
    """Ask git."""
    done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True)
    return done.stdout.strip()


def earlier() -> str:
    """Find the last tag, or the first commit that could fill a demo."""
    filled = "contractor/demo/visits.py"  # sealed visits, too
    first = git("log", "--format=%h", "--diff-filter=A", "--", filled).split()[-1]
    return git("describe", "--tags", "--abbrev=0") or first


def run(folder: Path, *command: str) -> None:
    """Run a command of one version of the program."""
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "manage.py", *command], cwd=folder, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(folder)},
    )  # fmt: skip
    if done.returncode:
        sys.exit(
            f"{folder.name}: {' '.join(command)} failed:\n{done.stdout[-500:]}{done.stderr[-3000:]}"
        )
    print(f"{time.monotonic() - began:7.1f} s  {folder.name}: {' '.join(command)}", flush=True)


def count() -> dict[str, int]:
    """Count the rows of every table."""
    with psycopg.connect(os.environ["DATABASE_OWNER_URL"]) as db:
        tables = [row[0] for row in db.execute(TABLES).fetchall()]
        counts = sql.SQL(" union all ").join(
            sql.SQL("select {}, count(*) from {}").format(table, sql.Identifier(table))
            for table in tables
        )
        return dict(db.execute(counts).fetchall())


def firm_tables() -> set[str]:
    """Name the tables whose rows are a firm's."""
    with psycopg.connect(os.environ["DATABASE_OWNER_URL"]) as db:
        asked = "select table_name from information_schema.columns where column_name = 'firm_id'"
        return {row[0] for row in db.execute(asked).fetchall()}


def open_lists() -> int:
    """Open every page without a key as a principal of each firm, else as its office."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    import django

    django.setup()
    from django.conf import settings
    from django.test import Client

    from contractor.tenancy.models import Firm, Member
    from contractor.tenancy.scope import scope
    from tests.test_wall import BEHIND_FIRM, keys_of

    settings.ALLOWED_HOSTS = ["*"]
    settings.STORAGES["staticfiles"]["BACKEND"] = (
        "django.contrib.staticfiles.storage.StaticFilesStorage"
    )
    opened = 0
    for firm in Firm.objects.all():
        with scope(firm.pk):
            user = Member.objects.exclude(role="technician").order_by("-role").first().user
        client = Client()
        client.force_login(user)
        for path, _, _ in BEHIND_FIRM:
            if keys_of(path) or path.count("<") > 1:
                continue
            answer = client.get(path.replace("<slug:firm>", firm.slug))
            if answer.status_code >= 500:
                sys.exit(f"{path} answers {answer.status_code} after the upgrade")
            opened += 1
    return opened


def main() -> None:
    """Fill the earlier one, upgrade, look."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--since", default="")
    since = parser.parse_args().since or earlier()
    archive = subprocess.run(
        ["git", "archive", since], cwd=ROOT, check=True, capture_output=True
    ).stdout
    with tempfile.TemporaryDirectory() as scratch:
        before = Path(scratch) / since
        with tarfile.open(fileobj=io.BytesIO(archive)) as packed:
            packed.extractall(before, filter="data")
        run(before, "migrate", "--noinput")
        run(before, "fill_demo")
        there = count()
        run(ROOT, "migrate", "--noinput")
        run(ROOT, "verify_records")
    now = count()
    lost = {
        table: (rows, now.get(table)) for table, rows in there.items() if rows > now.get(table, 0)
    }
    opened = open_lists()
    print(
        f"{sum(there.values()):,} rows of {len(there)} tables before; fewer now: {lost or 'none'}"
    )
    print(f"{opened} lists opened")
    run(ROOT, "remove_demo", "--yes")
    left = {table: rows for table, rows in count().items() if rows and table in firm_tables()}
    print(f"rows of firms left once the earlier demo is removed: {left or 'none'}")
    sys.exit(bool(lost or left))


if __name__ == "__main__":
    main()
