"""Print a report in a process of its own: its memory goes back when it ends.

At most one prints for each core of the machine; the others wait their turn.
"""

import fcntl
import json
import logging
import os
import resource
import subprocess
import sys
import tempfile
import time
from base64 import b64decode, b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from django.utils import translation

_ROOT = Path(__file__).resolve().parents[2]
_COMMAND = [sys.executable, "-m", "contractor.reports.printing"]
#: A report of 5,000 devices takes some ten seconds of CPU. Beyond this something is wrong.
CPU_SECONDS = 300
#: How often one that waits for its turn looks again. [s]
LOOK_AGAIN = 0.5

log = logging.getLogger(__name__)
Progress = Callable[[int, int], None]


class PrintingFailed(Exception):
    """The process ended without a report."""


def print_apart(
    *,
    kind: str,
    record: str,
    sealed: dict[str, Any],
    turns: Path,
    logo: bytes = b"",
    language: str = "",
    progress: Progress | None = None,
) -> tuple[bytes, int]:
    """Print a report of a kind from a record's text and its seal; answer the PDF and its pages.

    `turns` is the folder that holds the turns of this machine, `logo` a picture that we drew
    ourselves, for the letterhead. `language` is that of the report's own words, the firm's; what
    the record says stays in the words it was sealed in. `progress` is told how many rows
    are laid out, of how many; while it waits for its turn, it is told (0, 0).

    Raises
    ------
    PrintingFailed
        If the process ends without a report; the log has what it said.
    """
    named = {"kind": kind, "sealed": sealed, "logo": b64encode(logo).decode(), "language": language}
    order = json.dumps(named).encode() + b"\n" + record.encode()
    with _turn(turns, progress), tempfile.TemporaryFile() as target:
        # What it complains of goes to a file: a pipe that nobody empties would stop it.
        with tempfile.TemporaryFile() as complaint:
            process = subprocess.Popen(
                [*_COMMAND, str(target.fileno())],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=complaint,
                cwd=_ROOT,
                env=_environment(),
                pass_fds=(target.fileno(),),
            )
            with process:
                try:
                    pages = _follow(process, order, progress)
                except BaseException:  # the worker itself is told to stop: leave nothing running
                    process.kill()
                    raise
            if process.returncode or not pages:
                complaint.seek(0)
                said = complaint.read()[-4000:].decode(errors="replace")
                log.error("Printing a report ended with %s: %s", process.returncode, said)
                raise PrintingFailed(said.strip().rpartition("\n")[2])
        target.seek(0)
        return target.read(), pages


def _follow(process: subprocess.Popen[bytes], order: bytes, progress: Progress | None) -> int:
    """Hand the order over, pass its progress on, and answer how many pages it made."""
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        process.stdin.write(order)
        process.stdin.close()
    except BrokenPipeError:
        return 0  # it ended before it had read; its complaint says why
    pages = 0
    for line in process.stdout:
        said = json.loads(line)
        pages = said.get("pages", 0)
        if progress and "rows" in said:
            progress(said["rows"], said["of"])
    process.wait()
    return pages


@contextmanager
def _turn(folder: Path, progress: Progress | None) -> Iterator[None]:
    """Hold one of the machine's turns, one for each core."""
    folder.mkdir(parents=True, exist_ok=True)
    while True:
        for number in range(len(os.sched_getaffinity(0))):
            file = open(folder / f"turn-{number}", "a")  # noqa: SIM115  (held while it prints)
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                file.close()
                continue
            with file:
                yield
            return
        if progress:
            progress(0, 0)
        time.sleep(LOOK_AGAIN)


def _environment() -> dict[str, str]:
    """Give the process what Python and the fonts need, and none of this program's secrets."""
    names = ("PATH", "LD_LIBRARY_PATH", "LANG", "HOME", "FONTCONFIG_FILE", "XDG_CACHE_HOME")
    kept = {name: os.environ[name] for name in names if name in os.environ}
    # Small pieces come and go by the hundred thousand: one arena gives them back.
    # Fonts are stamped with a day; a fixed one makes the same record the same file.
    fixed = {"SOURCE_DATE_EPOCH": "946684800", "PYTHONUTF8": "1", "MALLOC_ARENA_MAX": "1"}
    return kept | fixed | {"PYTHONPATH": str(_ROOT), "OPENBLAS_NUM_THREADS": "1"}


def main() -> None:
    """Print one report from standard input into the file that is handed over."""
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS + 1))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    prepare()
    order = json.loads(sys.stdin.buffer.readline())
    record = json.loads(sys.stdin.buffer.read())
    translation.activate(order["language"] or "en")
    foreseen = None
    if order["kind"] == "sensitivity":
        from contractor.reports import contents, detectors
        from contractor.reports.foreseen import foresee_apart

        # Before anything else is loaded: what this process holds, the other holds as well.
        drawn = set(detectors.list_fullest(record))
        foreseen = foresee_apart(record, on=contents.day_of(record), drawn=drawn)
    from contractor.reports import kinds

    total = kinds.count_rows(order["kind"], record)

    def tell(rows: int) -> None:
        _say(sys.stdout, rows=rows, of=total)

    draft = kinds.draft(
        order["kind"],
        record=record,
        sealed=kinds.read_seal(order["sealed"]),
        progress=tell,
        foreseen=foreseen,
        logo=b64decode(order["logo"]),
    )
    del record  # a large one takes as much as its pages
    paper = draft.print()
    with open(int(sys.argv[1]), "wb") as target:
        target.write(paper.data)
    _say(sys.stdout, pages=paper.pages)


def prepare() -> None:
    """Set Django up for its templates alone: no database, no areas, no secrets."""
    import django
    from django.conf import settings

    settings.configure(
        USE_TZ=True,
        LANGUAGE_CODE="en",
        LOCALE_PATHS=[_ROOT / "locale"],
        FORMAT_MODULE_PATH=["contractor.web.formats"],
        TEMPLATES=[
            {
                "BACKEND": "django.template.backends.django.DjangoTemplates",
                "DIRS": [_ROOT / "templates"],
                "OPTIONS": {
                    "builtins": [
                        "django.templatetags.i18n",
                        "contractor.web.templatetags.driftbook",
                    ]
                },
            }
        ],
    )
    django.setup()
    for name in ("fontTools", "weasyprint"):
        logging.getLogger(name).setLevel(logging.ERROR)


def _say(to: IO[str], **what: int) -> None:
    to.write(json.dumps(what) + "\n")
    to.flush()


if __name__ == "__main__":
    main()
