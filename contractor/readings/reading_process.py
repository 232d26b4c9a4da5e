"""Read a print-out in a process of its own, with limits on time and memory.

What comes by upload or mail is made by strangers. A file that would take all memory or never end
then ends its own process only; the worker gets a sentence.
"""

import gc
import json
import logging
import os
import resource
import subprocess
import sys
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from contractor.engine import layouts
from contractor.engine.layouts import limits, opening, plain

_ROOT = Path(__file__).resolve().parent.parent.parent
_COMMAND = [sys.executable, "-m", "contractor.readings.reading_process"]
_TOO_LONG = (
    "Reading took longer than {seconds} seconds and was stopped. Export the print-out as CSV."
)
_TOO_LARGE = (
    "Reading took more memory than a print-out needs and was stopped. Export the print-out as CSV."
)
_STOPPED = "The reader stopped on this file without a result. Export the print-out as CSV or text."

logger = logging.getLogger(__name__)


def read_isolated(
    data: bytes,
    *,
    filename: str = "",
    date_order: str | None = None,
    mapping: Mapping[str, Any] | None = None,
    known_addresses: Collection[str] = (),
    cpu_seconds: int = limits.CPU_SECONDS,
    address_space_bytes: int = limits.ADDRESS_SPACE_BYTES,
    wall_seconds: float = limits.WALL_SECONDS,
) -> layouts.Printout:
    """Read a print-out as `layouts.read` does, in a process that cannot harm this one.

    Raises
    ------
    layouts.Unreadable
        If the file cannot be read, or reading it passes a limit.
    """
    opening.check_size(data)
    order = {
        "filename": filename,
        "date_order": date_order,
        "mapping": dict(mapping or {}),
        "known_addresses": list(known_addresses),
        "cpu_seconds": cpu_seconds,
        "address_space_bytes": address_space_bytes,
    }
    process = subprocess.Popen(
        _COMMAND,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=_ROOT,
        env=_environment(),
    )
    with process:
        try:
            answer, complaint = process.communicate(
                json.dumps(order).encode() + b"\n" + data, timeout=wall_seconds
            )
        except subprocess.TimeoutExpired:
            process.kill()
            raise layouts.Unreadable(_TOO_LONG.format(seconds=int(wall_seconds))) from None
        except BaseException:  # the worker itself is told to stop: leave nothing running
            process.kill()
            raise
    return _result(process.returncode, answer, complaint, cpu_seconds)


def _environment() -> dict[str, str]:
    """Give the reading process what Python needs, and none of this program's secrets."""
    kept = {
        name: os.environ[name] for name in ("PATH", "LD_LIBRARY_PATH", "LANG") if name in os.environ
    }
    return kept | {"PYTHONPATH": str(_ROOT), "PYTHONUTF8": "1", "OPENBLAS_NUM_THREADS": "1"}


def _result(code: int, answer: bytes, complaint: bytes, cpu_seconds: int) -> layouts.Printout:
    if code in (-24, -9):  # SIGXCPU; SIGKILL follows a second later, or comes from the kernel
        raise layouts.Unreadable(_TOO_LONG.format(seconds=cpu_seconds))
    if code == -6:  # SIGABRT: the workbook reader ends so when memory is refused
        raise layouts.Unreadable(_TOO_LARGE)
    try:
        result = json.loads(answer)
    except ValueError:
        logger.error("reading a print-out ended with %s: %s", code, complaint[-2000:])
        raise layouts.Unreadable(_STOPPED) from None
    if "unreadable" in result:
        if result.get("trace"):
            logger.error("reading a print-out failed: %s", result["trace"])
        raise layouts.Unreadable(result["unreadable"])
    return plain.from_plain(result)


def _held_bytes() -> int:
    """Tell how much address space this process holds now."""
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return pages * resource.getpagesize()


def _limit(*, cpu_seconds: int, address_space_bytes: int) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds + 1))
    most = _held_bytes() + address_space_bytes
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def main() -> None:
    """Read one print-out from standard input and write what was understood to standard output."""
    gc.disable()  # one file is read and the process ends: there is nothing to collect
    import python_calamine  # noqa: F401  (before the limit, so that its code is not counted)

    order = json.loads(sys.stdin.buffer.readline())
    _limit(
        cpu_seconds=order.pop("cpu_seconds"), address_space_bytes=order.pop("address_space_bytes")
    )
    result: dict[str, Any]
    try:
        result = plain.to_plain(layouts.read(sys.stdin.buffer.read(), **order))
    except layouts.Unreadable as error:
        result = {"unreadable": str(error)}
    except MemoryError:
        result = {"unreadable": _TOO_LARGE}
    except Exception:
        # A fault of ours: the person gets a sentence, the log of the worker gets the trace.
        import traceback

        result = {"unreadable": _STOPPED, "trace": traceback.format_exc()[-4000:]}
    sys.stdout.write(json.dumps(result))


if __name__ == "__main__":
    main()
