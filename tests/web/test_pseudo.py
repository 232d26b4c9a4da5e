"""Main pages in a language that is none: every word that is not data comes from the catalogue.

Each message is set between ⟦ and ⟧ and made a third longer; what stands outside of them is data
of the firm, a number, or a word that is alike in every language.
"""

import re
from datetime import date
from html.parser import HTMLParser

import pytest
from django.apps import apps
from django.urls import reverse
from django.utils import dateformat, translation
from django.utils.translation import trans_real

from contractor.tenancy.scope import scope
from contractor.web import charts
from contractor.web.templatetags import driftbook, lighter
from script import messages
from tests import factories
from tests.web.test_marked import ALIKE, SILENT

_LONGER = "·"
#: Names of languages, each in its own, and of keys on a keyboard.
KNOWN = {"Deutsch", "English", "Español", "Français", "Canada", "Shift", "Space", "Tab"}


def longer(text: str) -> str:
    """Mark a message, and make it a third longer."""
    return f"⟦{text}{_LONGER * (len(text) // 3)}⟧"


class Everything(dict):
    """A catalogue that holds each message of ours, longer; Django's tables of days stay its own."""

    def __init__(self, own) -> None:
        super().__init__()
        self.own = own

    def get(self, message, otherwise=None):
        return self[message] if message in self else self.own.get(message, otherwise)

    def plural(self, message, number):
        try:
            return self[(message, int(number != 1))]
        except KeyError:
            return self.own.plural(message, number)


@pytest.fixture
def pseudo(monkeypatch):
    text = (messages.ROOT / "locale" / "de" / "LC_MESSAGES" / "django.po").read_text()
    german = trans_real.translation("de")
    kept = Everything(german._catalog)
    for block in text.split("\n\n"):
        entry, _ = messages._read_block(block)
        if plural := entry.get("msgid_plural"):
            kept[(entry["msgid"], 0)], kept[(entry["msgid"], 1)] = (
                longer(entry["msgid"]),
                longer(plural),
            )
        elif one := entry.get("msgid"):
            context = f"{entry['msgctxt']}\x04" if "msgctxt" in entry else ""
            kept[context + one] = longer(one)
    monkeypatch.setattr(german, "_catalog", kept)
    monkeypatch.setattr(german, "_fallback", None)
    assert len(kept) > 3_000
    remembered = (lighter.say, driftbook._say, driftbook._say_cells, charts._drawn)
    for one in remembered:
        one.cache_clear()
    yield
    for one in remembered:
        one.cache_clear()


class Texts(HTMLParser):
    """Gather what a page says outside of the marks."""

    def __init__(self) -> None:
        super().__init__()
        self.silent: list[str] = []
        self.left: list[str] = []
        self.depth = 0

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag in SILENT | {"title"} or given.get("class") in {"invented", "meanings"}:
            self.silent.append(tag)
        self.say(" ".join(given.get(key) or "" for key in ("aria-label", "placeholder", "alt")))

    def handle_endtag(self, tag):
        if self.silent and self.silent[-1] == tag:
            self.silent.pop()

    def handle_data(self, data):
        if not self.silent:
            self.say(data)

    def say(self, text):
        for part in re.split(r"([⟦⟧])", text):
            self.depth += {"⟦": 1, "⟧": -1}.get(part, 0)
            if part not in "⟦⟧" and self.depth == 0:
                self.left.append(part)


def data_of(firm) -> set[str]:
    """List the words of every row."""
    found: set[str] = set()
    with scope(firm.pk):
        for model in apps.get_models():
            if model._meta.app_label not in {"tenancy", "register", "visits", "people", "findings"}:
                continue
            rows = model._default_manager.values_list()
            found |= {word for row in rows for word in re.findall(r"[^\W\d_]+", str(row))}
    return found


@pytest.mark.django_db
def test_every_word_of_the_main_pages_is_data_or_translated(pseudo, firm, signed_in):
    with scope(firm.pk):
        member = factories.MemberFactory(firm=firm, role="principal")
        building = factories.BuildingFactory(firm=firm)
        device = factories.DeviceFactory(system=factories.SystemFactory(building=building))
        visit = factories.VisitFactory(building=building)
    member.user.language = "de"
    member.user.save()
    client = signed_in(member)
    at = {"firm": firm.slug}
    pages = [
        reverse("language"),
        *(
            reverse(name, kwargs=at)
            for name in (
                "schedule:todo", "schedule:due", "register:buildings", "register:customers",
                "visits:list", "planning:board", "findings:list", "reports:list", "more", "help",
                "people:list", "people:firm", "labels:firm", "drift:fleet",
            )
        ),
        reverse("visits:visit", kwargs=at | {"visit_id": visit.pk}),
        reverse("visits:plan", kwargs=at | {"building_id": building.pk}),
        reverse("register:building", kwargs=at | {"building_id": building.pk}),
        reverse("register:device", kwargs=at | {"device_id": device.pk}),
    ]  # fmt: skip
    with translation.override("de"):
        months = {dateformat.format(date(2026, month, 1), "M") for month in range(1, 13)}
    data = data_of(firm) | ALIKE | KNOWN | months
    unmarked = {}
    for page in pages:
        answer = client.get(page)
        assert answer.status_code == 200, page
        read = Texts()
        read.feed(answer.content.decode())
        words = {one for text in read.left for one in re.findall(r"[^\W\d_]{3,}", text)}
        assert read.depth == 0
        if words - data:
            unmarked[page] = sorted(words - data)
    assert unmarked == {}
