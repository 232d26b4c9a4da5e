"""The app's files as one version: its page, its worker, and the list that the worker keeps.

A version is the hash of all of its files, so that a half-made deployment cannot be taken for one.
"""

import hashlib
import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.utils import translation

from contractor.web.glyphs import SHAPES, shape

#: Files beside static/field/ that the page needs.
_MORE = (
    "vendor/idb.js",
    "vendor/barcode-detector.js",
    "vendor/zxing_reader.wasm",
    "vendor/signature_pad.js",
    "vendor/fonts/familjen-grotesk.woff2",
    "vendor/fonts/atkinson-hyperlegible-next.woff2",
    "vendor/fonts/atkinson-hyperlegible-mono.woff2",
    "web/driftbook.css",
    "web/charts.css",
    "web/mark.svg",
    "visits/visits.css",
)
_LIST = '/* the list */ { version: "", files: [] }'
PAGE = "/field/"


@dataclass(frozen=True)
class Shell:
    """One version of the app."""

    version: str
    page: str
    worker: str


def load() -> Shell:
    """Load the app's files; once in a process, but anew each time while developing."""
    return _make() if settings.DEBUG else _once()


def _find(name: str) -> Path:
    found = finders.find(name)
    if not found:
        raise FileNotFoundError(f"static/{name} is missing; the tablet's app needs it.")
    return Path(str(found))


def _make() -> Shell:
    folder = _find("field/app.js").parent
    kinds = (".js", ".json", ".css", ".png")
    own = sorted(path for path in folder.rglob("*") if path.suffix in kinds)
    names = [f"field/{path.relative_to(folder).as_posix()}" for path in own]
    names = [name for name in names if name != "field/worker.js"]
    files = [
        {
            # By its plain name: modules import one another by it, and the version is in the list.
            "url": f"{settings.STATIC_URL}{name}",
            "sha256": hashlib.sha256(_find(name).read_bytes()).hexdigest(),
        }
        for name in (*names, *_MORE)
    ]
    worker = _find("field/worker.js").read_text()
    bare = _page(version="", static=settings.STATIC_URL)
    version = hashlib.sha256(json.dumps([files, bare, worker]).encode()).hexdigest()[:16]
    page = _page(version=version, static=settings.STATIC_URL)
    files.append({"url": PAGE, "sha256": hashlib.sha256(page.encode()).hexdigest()})
    listed = json.dumps({"version": version, "files": files})
    if _LIST not in worker:
        raise ValueError("static/field/worker.js has no place for the list of files.")
    return Shell(version, page, worker.replace(_LIST, listed))


_once = lru_cache(maxsize=1)(_make)


def _page(*, version: str, static: str) -> str:
    symbols = "".join(
        f'<symbol id="g-{name}" viewBox="0 0 18 18">{shape(name)}</symbol>' for name in SHAPES
    )
    # One page for everybody, whose hash is in the list: the app itself speaks other languages.
    with translation.override("en"):
        return render_to_string(
            "field/app.html", {"version": version, "static": static, "symbols": symbols}
        )
