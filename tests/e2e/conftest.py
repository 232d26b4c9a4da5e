"""Browsers and lines for the tablet's tests."""

import pytest

from tests.e2e.field_stage import Line, Tablet


@pytest.fixture
def play(monkeypatch):
    """Playwright; it runs an event loop in this thread, where Django would refuse the database."""
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as found:
        yield found


@pytest.fixture
def line(live_server):
    """A line that can be cut."""
    found = Line(int(live_server.url.rsplit(":", 1)[1]))
    yield found
    found.close()


@pytest.fixture
def tablet(play, line, tmp_path):
    """One tablet; what its console complains of is an error."""
    found = Tablet(play, tmp_path / "one", line)
    yield found
    found.close()
    assert found.complaints == []


@pytest.fixture
def second(play, line, tmp_path):
    """Another tablet."""
    found = Tablet(play, tmp_path / "two", line)
    yield found
    found.close()
    assert found.complaints == []
