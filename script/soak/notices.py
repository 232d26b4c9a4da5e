#!/usr/bin/env python
"""Kill senders in the middle of their mails: none is sent twice, and all are accounted for.

    script/soak/run notices                          3,000 notices, 100 kills, 2 senders
    script/soak/run notices --notices 300 --kills 10

A real mail server records what it takes. Senders are processes of their own that run the task
`notices.send`; they are ended by SIGKILL at random moments. They are forked from a nursery that has
loaded everything and holds no connection, so that a new one sends at once.
"""

import argparse
import contextlib
import os
import random
import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import django

os.environ.setdefault("SECRET_KEY", "only for soaks")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")


def send_for_ever(firm_id: str) -> None:
    """Be a sender, until killed."""
    django.setup()
    from contractor.notices import tasks

    while True:
        tasks.send.run(firm_id=UUID(firm_id))
        time.sleep(0.02)


def be_nursery(firm_id: str) -> None:
    """Fork a sender for each line that comes in, and tell its number."""
    django.setup()
    from contractor.notices import tasks  # noqa: F401  loaded once, for all

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                send_for_ever(firm_id)
            finally:
                os._exit(1)
        print(child, flush=True)


class Nursery:
    """Where new senders come from."""

    def __init__(self, firm_id: str) -> None:
        command = [sys.executable, __file__, "--be-nursery", firm_id]
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
        )

    def fork(self) -> int:
        """Get the number of a new sender."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write("one\n")
        return int(self.process.stdout.readline())


class Recorder:
    """Takes every mail, a little slowly, and notes which it was."""

    def __init__(self) -> None:
        self.taken: Counter[str] = Counter()

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        """Note the Message-ID."""
        import asyncio
        import email

        await asyncio.sleep(0.002)
        self.taken[email.message_from_bytes(envelope.content)["Message-ID"]] += 1
        return "250 taken"


def main() -> None:
    """Owe, send, kill, count."""
    options = argparse.ArgumentParser()
    options.add_argument("--notices", type=int, default=3000)
    options.add_argument("--kills", type=int, default=100)
    options.add_argument("--senders", type=int, default=2)
    options.add_argument("--seed", type=int, default=7)
    options.add_argument("--be-nursery", default="")
    chosen = options.parse_args()
    if chosen.be_nursery:
        be_nursery(chosen.be_nursery)
        return
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    os.environ["EMAIL_URL"] = f"smtp://127.0.0.1:{port}"
    django.setup()
    sys.exit(soak(chosen, port))


def soak(chosen: argparse.Namespace, port: int) -> int:
    """Run one soak; tell 0 where nothing was sent twice and all is accounted for."""
    import logging

    from aiosmtpd.controller import Controller
    from django.core.management import call_command
    from django.utils import timezone

    from contractor.notices import services
    from contractor.notices.letters import Letter
    from contractor.notices.models import Notice
    from contractor.notices.services import Recipient
    from contractor.tenancy import services as tenancy
    from contractor.tenancy.scope import scope

    call_command("migrate", verbosity=0)
    firm = tenancy.found_firm(slug="soak", name="Soak (invented)")
    with scope(firm.pk):
        services.owe(
            firm_id=firm.pk,
            kind="week",
            object_id=uuid4(),
            occurrence="soak",
            to=[Recipient(f"person{n}@example.org") for n in range(chosen.notices)],
            write=lambda: Letter("Soak", "Invented."),
            now=timezone.now(),
        )
    logging.getLogger("mail.log").setLevel(logging.WARNING)
    recorder = Recorder()
    server = Controller(recorder, hostname="127.0.0.1", port=port)
    server.start()
    dice = random.Random(chosen.seed)
    nursery = Nursery(str(firm.pk))
    senders = [nursery.fork() for _ in range(chosen.senders)]
    began, killed = time.monotonic(), 0
    try:
        while True:
            with scope(firm.pk):
                waiting = Notice.objects.filter(state="queued").count()
            if not waiting:
                break
            due = chosen.kills * (1 - waiting / chosen.notices)
            if killed < chosen.kills and waiting < chosen.notices and killed <= due:
                time.sleep(dice.uniform(0, 0.2))
                place = dice.randrange(len(senders))
                os.kill(senders[place], signal.SIGKILL)
                killed += 1
                senders[place] = nursery.fork()
                print(f"\r{killed} kills, {waiting} waiting ", end="", flush=True)
            time.sleep(0.05)
        time.sleep(2)
    finally:
        for sender in senders:
            with contextlib.suppress(ProcessLookupError):
                os.kill(sender, signal.SIGKILL)
        nursery.process.kill()
        nursery.process.wait()
        server.stop()
    with scope(firm.pk):
        services.sweep(firm_id=firm.pk, now=timezone.now() + 2 * services.SILENT)
        states = Counter(Notice.objects.values_list("state", flat=True))
        sent = set(Notice.objects.filter(state="sent").values_list("message_id", flat=True))
        unknown = set(Notice.objects.filter(state="unknown").values_list("message_id", flat=True))
    doubled = sum(count > 1 for count in recorder.taken.values())
    untrue = len(sent - set(recorder.taken))
    lost = chosen.notices - len(sent) - len(unknown)
    arrived = len(unknown & set(recorder.taken))
    print(
        f"\n{chosen.notices} notices, {killed} kills of {chosen.senders} senders,"
        f" {timedelta(seconds=round(time.monotonic() - began))}: sent {states['sent']}, not known"
        f" {states['unknown']} (of them {arrived} had arrived), other"
        f" {sum(states.values()) - states['sent'] - states['unknown']}"
    )
    print(f"sent twice {doubled}, said sent and not taken {untrue}, unaccounted {lost}")
    return 1 if doubled or untrue or lost else 0


if __name__ == "__main__":
    main()
