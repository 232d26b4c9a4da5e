"""The editions as data: whole, cited, and not surer than their sources."""

import pytest

from contractor.engine import editions
from contractor.engine.editions import UnknownEdition
from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.engine.editions.model import COMPONENTS, OTHER_FREQUENCIES, STANDINGS
from contractor.engine.editions.sources import SOURCES
from contractor.engine.editions.windows import FREQUENCIES, WINDOW_RULES
from contractor.engine.sensitivity import RULES, Verdict

KEYS = editions.keys()
NFPA = [key for key in KEYS if key.startswith("nfpa72")]
BASES = ["first_year", "alternate_year", "extended", "restart", "nuisance_increase"]


class TestGet:
    def test_holds_six_editions_of_the_american_code_and_two_others(self):
        assert [editions.get(key).year for key in NFPA] == [2010, 2013, 2016, 2019, 2022, 2025]
        assert set(KEYS) - set(NFPA) == {"can-ulc-s536", "bs5839-1"}

    @pytest.mark.parametrize("key", ["", "nfpa72", "nfpa72-2012", None])
    def test_names_the_keys_that_it_knows(self, key):
        with pytest.raises(UnknownEdition, match="nfpa72-2013"):
            editions.get(key)


@pytest.mark.parametrize("key", KEYS)
class TestEveryEdition:
    def test_cites_sources_that_exist_and_says_how_sure_it_is(self, key):
        edition = editions.get(key)
        cited = [*edition.clauses.values(), *edition.rows]
        cited += [rule for rule in (edition.battery, edition.alarms) if rule]
        cited += edition.life.clauses.values() if edition.life else []

        for item in cited:
            assert item.standing in STANDINGS
            assert set(item.sources) <= SOURCES.keys()
            assert item.note
            # Confirmed means that somebody published it.
            assert item.sources or not item.is_confirmed

    def test_has_each_row_once_and_every_row_can_be_scheduled(self, key):
        edition = editions.get(key)
        names = [(row.component, row.task, row.part) for row in edition.rows]
        known = WINDOW_RULES[edition.window_rule].keys() | OTHER_FREQUENCIES

        assert len(names) == len(set(names))
        for row in edition.rows:
            assert row.component in COMPONENTS
            assert row.frequency in known
            assert all([row.method, row.sample, row.clause, row.name, row.kind])

    def test_marks_what_is_recalled(self, key):
        edition = editions.get(key)
        recalled = [row for row in edition.rows if row.standing == "from memory"]

        assert recalled
        assert all("check against a licensed copy" in row.note for row in recalled)


@pytest.mark.parametrize("key", NFPA)
class TestEveryAmericanEdition:
    def test_has_a_clause_for_every_basis_and_verdict(self, key):
        edition = editions.get(key)
        topics = {Verdict("in_range", "", rule).clause_topic for rule in RULES}

        assert {*BASES, *topics, "out_of_range", "methods"} <= edition.clauses.keys()

    def test_has_the_same_sensitivity_rule(self, key):
        # 1 year, alternate years, 5 years; 4 %/ft unmarked: survey reports of 2013 and 2024.
        rule = editions.get(key).sensitivity

        assert (rule.first_months, rule.repeat_months, rule.extended_months) == (12, 24, 60)
        assert rule.unmarked_high == UNMARKED_HIGH == 4.0
        assert len(rule.methods) == 5

    def test_asks_for_a_battery_margin_by_its_year(self, key):
        # 20 % from 2010 to 2019, 25 % from 2022 (trade press and a meter maker's page).
        edition = editions.get(key)

        assert edition.battery.margin == (1.2 if edition.year <= 2019 else 1.25)

    def test_tests_every_smoke_detector_for_function_and_for_sensitivity(self, key):
        edition = editions.get(key)

        for kind in ("smoke", "smoke_heat", "duct"):
            assert edition.row(kind, "test", "functional").frequency == "annual"
            assert edition.row(kind, "test", "sensitivity").frequency == "sensitivity"
        assert edition.row("heat_restorable", "test", "sensitivity") is None

    def test_lets_unmeasured_smoke_prove_function_but_not_sensitivity(self, key):
        edition = editions.get(key)

        assert "unmeasured" in edition.refusal("unmeasured_aerosol")
        assert edition.refusal("unmeasured_aerosol", part="functional") == ""
        assert edition.refusal("instrument") == ""
        assert "Not a permitted method" in edition.refusal("guess")

    def test_does_not_make_the_sensitivity_test_annual(self, key):
        # A training blog has it so; it is so in Canada only.
        assert editions.get(key).sensitivity.repeat_months == 24


class TestClauses:
    def test_are_data_and_differ_between_editions(self):
        numbers = {key: editions.get(key).clause("extended").number for key in NFPA}

        assert numbers["nfpa72-2010"] == "14.4.5.3.3"
        assert numbers["nfpa72-2013"] == "14.4.4.3.3"

    def test_are_confirmed_only_where_their_number_was_seen(self):
        assert editions.get("nfpa72-2010").clause("first_year").is_confirmed
        assert editions.get("nfpa72-2010").clause("first_year").grade == "A"
        assert not editions.get("nfpa72-2025").clause("first_year").is_confirmed


class TestOtherCodes:
    def test_canada_tests_sensitivity_every_year_without_extension(self):
        # Alberta, Smoke detector sensitivity testing (S536-04).
        rule = editions.get("can-ulc-s536").sensitivity

        assert (rule.repeat_months, rule.extended_months) == (12, None)

    def test_britain_visits_by_half_years_and_measures_no_sensitivity(self):
        edition = editions.get("bs5839-1")

        assert edition.sensitivity is None
        assert edition.row("service_visit", "inspect").frequency == "semiannual"


class TestRowsFor:
    def test_lists_what_is_done_to_one_kind_of_device(self):
        rows = editions.get("nfpa72-2013").rows_for("smoke")

        assert [(row.task, row.part) for row in rows] == [
            ("inspect", ""),
            ("test", "functional"),
            ("test", "sensitivity"),
        ]

    def test_lists_all_kinds_of_heat_detector_under_heat(self):
        rows = editions.get("nfpa72-2013").rows_for("heat")

        assert {row.component for row in rows} == {
            "heat_restorable",
            "heat_line",
            "heat_nonrestorable",
        }


def test_frequencies_keep_their_places():
    # Due rows store the place: a word may be added at the end, never moved.
    assert FREQUENCIES[:5] == ("weekly", "monthly", "quarterly", "semiannual", "annual")
