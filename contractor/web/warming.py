"""Make a web process ready before its first request."""

import gc

from django.conf import settings
from django.template.loader import get_template
from django.urls import get_resolver


def warm() -> None:
    """Read addresses and templates now, and take what stays out of the garbage collector's way.

    Else the first who asks for a page waits for its templates. And a full collection goes through
    some 400,000 objects that live as long as the process: a tenth of a second and more in which
    no thread answers, once in a hundred pages.
    """
    get_resolver().url_patterns  # noqa: B018 - reads every module of views
    folder = settings.BASE_DIR / "templates"
    for path in sorted(folder.rglob("*.html")):
        get_template(path.relative_to(folder).as_posix())
    gc.collect()
    gc.freeze()
