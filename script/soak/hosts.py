"""Two hosts, one database: what is lost when one of them dies?

    script/soak/run hosts                six tablets for 60 s, 40 reports ordered
    script/soak/run hosts 120 80         longer, and more reports

A host is a web server at a port of its own and a worker; both share the database, Valkey and the
folder of files. Tablets send their entries now to one, now to the other, and the office orders
reports. In the middle every process of one host is killed at once. What was acknowledged must be
there once, and every report that was ordered must be made, by the host that is left.
"""

import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import django
import field_kills as one_host
import serving

#: A job counts as lost with its worker after five minutes without a sign of life.
PATIENCE_S = 900


class Host:
    """A web server and a worker that live and die together."""

    def __init__(self, name: str, scratch: Path, *, beat: bool):
        self.name, self.port = name, serving.free_port()
        environment = {**os.environ}
        environment.pop("DATABASE_OWNER_URL", None)
        self.log = (scratch / f"{name}.log").open("wb")
        worker = [
            "celery", "-A", "contractor.celery", "worker", "--concurrency", "1",
            "--hostname", f"worker@{name}", "--loglevel", "INFO",
        ]  # fmt: skip
        if beat:
            worker += ["--beat", "--schedule", str(scratch / "beat")]
        self.processes = [
            serving.start(self.port, log=self.log, own_session=True),
            subprocess.Popen(
                [sys.executable, "-m", *worker], cwd=serving.ROOT, env=environment,
                stdout=self.log, stderr=self.log, start_new_session=True,
            ),
        ]  # fmt: skip
        serving.wait(self.port)

    def kill(self) -> None:
        """Take the power away."""
        for process in self.processes:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()

    def stop(self) -> None:
        """End it in order."""
        for process in self.processes:
            process.terminate()
        for process in self.processes:
            try:
                process.wait(timeout=60)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)


def count_records(firm) -> int:
    """Count a firm's sealed records."""
    from contractor.tenancy.scope import scope
    from contractor.visits.models import SealedRecord

    with scope(firm.pk):
        return SealedRecord.objects.filter(firm_id=firm.pk).count()


def order_reports(firm, wanted: int, seconds: float, made: list) -> None:
    """Order reports, of sealed records and all kinds, spread over the time."""
    from contractor.reports import services
    from contractor.reports.models import Kind
    from contractor.tenancy.models import Member
    from contractor.tenancy.scope import scope
    from contractor.visits.models import SealedRecord

    with scope(firm.pk):
        records = list(SealedRecord.objects.filter(firm_id=firm.pk))
        member = Member.objects.filter(role="office").first()
    pairs = [(record, kind) for record in records for kind in Kind.values]
    random.Random(5).shuffle(pairs)
    for record, kind in pairs[:wanted]:
        with scope(firm.pk):
            job = services.queue_kind(
                record=record, kind=kind, member=member, now=datetime.now(tz=UTC)
            )
        made.append((job.pk, record.pk, kind))
        time.sleep(seconds / wanted)


def wait_for_jobs(firm, keys) -> dict[str, int]:
    """Wait until every job is over; answer how many ended how."""
    from contractor.tenancy.models import Job
    from contractor.tenancy.scope import scope

    end = time.monotonic() + PATIENCE_S
    while True:
        with scope(firm.pk):
            jobs = list(Job.objects.filter(pk__in=keys))
        states = [job.state for job in jobs]
        if all(job.is_over for job in jobs) or time.monotonic() > end:
            found = {state: states.count(state) for state in sorted(set(states))}
            return found | {"started twice": sum(job.starts > 1 for job in jobs)}
        time.sleep(2)


def main() -> int:
    """Run two hosts, kill one, count."""
    asked = [int(one) for one in sys.argv[1:]]
    seconds = asked[0] if asked else 60
    wanted = asked[1] if len(asked) > 1 else 40
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    os.environ.setdefault("SECRET_KEY", "only for the soak")
    scratch = Path(tempfile.mkdtemp())
    os.environ["DATA_DIR"] = str(scratch / "files")
    django.setup()
    from django.core.management import call_command
    from django.db import connection
    from django.db.models import Value
    from django.db.models.functions import Concat

    from contractor.field.models import Received
    from contractor.reports.models import Report
    from contractor.tenancy.models import Firm, User
    from contractor.tenancy.scope import scope
    from contractor.visits.models import Entry

    call_command("migrate", verbosity=0)
    call_command("fill_demo")
    # The tablets' firm has people of the same names.
    User.objects.update(email=Concat(Value("demo-"), "email"))
    office = max(Firm.objects.all(), key=count_records)
    firm, house, tablets_made = one_host.build("soak-hosts")
    hosts = [Host("north", scratch, beat=False), Host("south", scratch, beat=True)]
    stop = threading.Event()
    ports = [host.port for host in hosts]
    tablets = [
        one_host.Tablet(
            firm, house.visit, house.members["technician"], row, key, cookie, house.devices, stop,
            ports=ports,
        )
        for row, key, cookie in tablets_made
    ]  # fmt: skip
    ordered: list = []
    ordering = threading.Thread(target=order_reports, args=(office, wanted, seconds, ordered))
    for thread in (*tablets, ordering):
        thread.start()
    one_host.wait_for_work(tablets, most=120)
    time.sleep(seconds / 2)
    before = sum(len(tablet.acknowledged) for tablet in tablets)
    hosts[0].kill()
    print(f"{hosts[0].name} killed after {before} acknowledged entries and {len(ordered)} orders")
    time.sleep(seconds / 2)
    stop.set()
    for thread in (*tablets, ordering):
        thread.join(timeout=120)
    ended = wait_for_jobs(office, [key for key, _, _ in ordered])
    connection.close()
    with scope(office.pk):
        reports = {(one.record_id, one.kind) for one in Report.objects.all()}
        missing = [pair for _, *pair in ordered if tuple(pair) not in reports]
    end = time.monotonic() + PATIENCE_S
    acknowledged = set().union(*(tablet.acknowledged for tablet in tablets))
    while True:  # the background of the other host enters what is stored
        with scope(firm.pk):
            entries = {str(key) for key in Entry.objects.values_list("pk", flat=True)}
            received = [str(key) for key in Received.objects.values_list("entry_id", flat=True)]
        if acknowledged <= entries or time.monotonic() > end:
            break
        time.sleep(2)
    hosts[1].stop()
    lost = acknowledged - entries
    doubled = len(received) - len(set(received))
    failures = sum(tablet.failures for tablet in tablets)
    print(
        f"{len(acknowledged)} entries acknowledged ({len(acknowledged) - before} after the kill),"
        f" {failures} requests failed and were sent again; {len(lost)} lost, {doubled} doubled.\n"
        f"{len(ordered)} reports ordered: {ended}; {len(missing)} missing."
    )
    bad = lost or doubled or missing or len(acknowledged) == before or not ordered
    bad = bad or set(ended) - {"done", "started twice"}
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
