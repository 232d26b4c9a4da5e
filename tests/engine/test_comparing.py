"""The editions side by side, and the page that is printed of them."""

from pathlib import Path

import pytest

from contractor.engine import editions
from contractor.engine.editions.comparing import (
    compare,
    count_standings,
    printed,
    span_of,
)
from contractor.engine.editions.model import COMPONENTS

PAGE = Path(__file__).parents[2] / "docs" / "code-tables.md"
KEYS = editions.keys()


def line(component, task):
    return next(one for one in compare() if (one.component, one.task) == (component, task))


class TestCompare:
    def test_holds_every_row_of_every_edition_once(self):
        rows = [row for one in compare() for row in one.rows if row is not None]

        assert len(rows) == sum(len(editions.get(key).rows) for key in KEYS)

    def test_names_every_component_that_any_edition_knows(self):
        assert {one.component for one in compare()} == set(COMPONENTS)

    def test_finds_where_an_edition_asks_otherwise_than_the_one_before(self):
        # Quarterly in the tables of 2002 and 2007, annual in later ones (reposted tables).
        found = line("control_unit_unmonitored", "functional")

        assert found.differs
        assert [moved for _, _, moved in found.cells] == [False, True, *[False] * 6]

    def test_another_code_is_no_difference(self):
        assert not line("manual", "functional").differs
        assert line("service_visit", "inspection").asks[-1] == "semiannual"

    def test_says_the_numbers_of_other_rules(self):
        # Survey reports of 2013 and 2024; Alberta, Smoke detector sensitivity testing.
        assert line("smoke", "sensitivity").asks[0] == (
            "after 12, then every 24 months; 60 where earned"
        )
        assert line("smoke", "sensitivity").asks[6] == "every 12 months"
        assert line("battery_vrla", "replacement").asks[0] == "5 years from manufacture"
        assert line("battery_vrla", "replacement").asks[4] == "4 years after installation"


class TestCountStandings:
    @pytest.mark.parametrize("key", KEYS)
    def test_counts_everything_once(self, key):
        edition = editions.get(key)
        lives = len(edition.life.clauses) if edition.life else 0
        rules = sum(rule is not None for rule in (edition.battery, edition.alarms))

        total = len(edition.rows) + len(edition.clauses) + lives + rules
        assert sum(count_standings(edition).values()) == total


class TestSpanOf:
    def test_gives_the_window_in_words_where_there_is_one(self):
        edition = editions.get("nfpa72-2010")

        assert "at least 9 and at most 15" in span_of(edition, edition.row("manual", "test")).says
        assert span_of(edition, edition.row("smoke", "test", "sensitivity")) is None


def test_the_printed_page_is_true():
    assert PAGE.read_text() == printed(), "Print it again: manage.py print_code_tables"
