"""The app's page names early what it is written in, and the worker keeps it."""

import json
import re
from pathlib import Path

from contractor.field import shell

ROOT = Path(__file__).resolve().parents[2]


def test_every_face_of_the_look_comes_with_the_page_and_stays_without_signal():
    """A face that comes late is not used: the style sheet asks for them as optional."""
    look = (ROOT / "static/web/driftbook.css").read_text()
    faces = set(re.findall(r"vendor/fonts/[\w-]+\.woff2", look))
    app = shell._make()
    early = set(re.findall(r'rel="preload" href="/static/([^"]+)" as="font"', app.page))
    kept = json.loads(re.search(r"SHELL = (\{.*\});\n", app.worker).group(1))["files"]

    assert len(faces) == 3
    assert early == faces
    assert {f"/static/{name}" for name in faces} <= {file["url"] for file in kept}
