"""One year of an outlook: visits on their days, words where there is room."""

from datetime import date

from contractor.web.charts import OutlookTrip, OutlookYear, draw_outlook_year
from tests.web.svg import Drawn, place

TASKS = ("visual inspection", "functional test", "sensitivity test")
YEAR = OutlookYear(
    first=date(2026, 11, 1),
    last=date(2027, 10, 31),
    today=date(2026, 11, 25),
    trips=(
        OutlookTrip(day=date(2026, 12, 1), tasks=TASKS, booked=True),
        OutlookTrip(day=date(2027, 6, 16), tasks=(*TASKS, "charger test", "load voltage test")),
    ),
)


class TestDrawOutlookYear:
    def test_months_are_of_one_width_so_that_years_stand_under_each_other(self):
        drawn = Drawn(draw_outlook_year(YEAR))

        [ring] = drawn.find("circle", "s-deed")
        [dot] = drawn.find("circle", "f-ink")
        assert place(ring, "cx") == round(100 / 12, 2)
        assert place(dot, "cx") == 62.5  # half way through the eighth of twelve

    def test_wide_it_names_tasks_and_counts_the_rest(self):
        words = Drawn(draw_outlook_year(YEAR)).words("roomy")

        assert {"1 Dec", "16 Jun", *TASKS} <= set(words)
        assert "2 more" in words

    def test_narrow_it_counts_them(self):
        words = Drawn(draw_outlook_year(YEAR)).words("small")

        assert set(words) == {"1 Dec", "16 Jun", "3 tasks", "5 tasks"}

    def test_two_visits_days_apart_lean_away_from_each_other(self):
        close = OutlookYear(
            first=YEAR.first,
            last=YEAR.last,
            today=YEAR.today,
            trips=(
                OutlookTrip(day=date(2027, 3, 1), tasks=TASKS),
                OutlookTrip(day=date(2027, 3, 7), tasks=TASKS),
            ),
        )
        drawn = Drawn(draw_outlook_year(close))

        anchors = {
            "".join(node.itertext()): node.get("text-anchor", "start")
            for node in drawn.root.iter("text")
            if "roomy" in node.get("class", "")
        }
        assert (anchors["1 Mar"], anchors["7 Mar"]) == ("end", "start")

    def test_says_every_visit_in_words(self):
        title = Drawn(draw_outlook_year(YEAR)).title

        assert "1 Dec 2026: visual inspection, functional test, sensitivity test" in title

    def test_draws_itself_empty(self):
        empty = OutlookYear(first=YEAR.first, last=YEAR.last, today=YEAR.today)
        assert "No visit." in Drawn(draw_outlook_year(empty)).title
