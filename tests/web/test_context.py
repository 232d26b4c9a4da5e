"""What stands around every page."""

from types import SimpleNamespace

import pytest
from django.test import RequestFactory

from contractor.web import context


def asked(path="/f/tarnbeck/", **cookies):
    """Make a request that has come through the door."""
    request = RequestFactory().get(path)
    request.COOKIES.update(cookies)
    return request


class TestNavigation:
    @pytest.fixture(autouse=True)
    def addresses(self, monkeypatch):
        known = {
            "schedule:todo": "/f/tarnbeck/",
            "register:buildings": "/f/tarnbeck/buildings/",
            "visits:list": "/f/tarnbeck/visits/",
        }
        monkeypatch.setattr(context, "find_address", lambda name, firm: known.get(name, ""))

    def current(self, path):
        items = context.navigation(firm="tarnbeck", path=path)
        return [item["label"] for item in items if item["current"]]

    def test_leaves_out_what_has_no_page_yet(self):
        labels = [item["label"] for item in context.navigation(firm="tarnbeck", path="/")]

        assert labels == ["To do", "Buildings", "Visits"]

    def test_the_first_is_current_only_at_its_own_address(self):
        assert self.current("/f/tarnbeck/") == ["To do"]
        assert self.current("/f/tarnbeck/buildings/7/") == ["Buildings"]
        assert self.current("/f/tarnbeck/elsewhere/") == []


class TestChrome:
    def test_a_stranger_sees_no_firm(self):
        given = context.chrome(asked())

        assert given["nav"] == []
        assert given["chrome"] == {}

    @pytest.mark.parametrize(("theme", "kept"), [("dark", "dark"), ('"><script>', "")])
    def test_keeps_only_themes_that_there_are(self, theme, kept):
        assert context.chrome(asked(theme=theme))["theme"] == kept

    def test_names_firm_and_person(self, monkeypatch):
        monkeypatch.setattr(context, "find_address", lambda name, firm: f"/{firm}/")
        request = asked()
        request.firm = SimpleNamespace(slug="tarnbeck")
        request.profile = SimpleNamespace(name="Tarnbeck Alarm Service", is_invented=False)
        request.member = SimpleNamespace(name="I. Tarrowby", get_role_display=lambda: "office")

        given = context.chrome(request)["chrome"]

        assert (given["firm"], given["person"], given["role"]) == (
            "Tarnbeck Alarm Service",
            "I. Tarrowby",
            "office",
        )
