"""Zones: one mark a detector, and counts that add up."""

from contractor.web.charts import ZoneMark, ZoneRow, Zones, draw_ten
from tests.web.svg import Drawn

MARKS = tuple(
    ZoneMark(
        address=f"1-{place:03}",
        state="nearing_limit" if place == 3 else "in_range",
        label="Stair <east>",
        href="/devices/3" if place == 3 else "",
    )
    for place in range(1, 13)
)
ROW = ZoneRow(name="Zone 1", marks=MARKS)


class TestZoneRow:
    def test_breaks_into_tens(self):
        assert [(first, len(marks)) for first, marks in ROW.tens] == [(0, 10), (10, 2)]

    def test_counts_add_up(self):
        assert [(key, count) for key, _, _, count in ROW.counts] == [
            ("in_range", 11),
            ("nearing_limit", 1),
        ]

    def test_an_empty_zone_has_no_counts(self):
        assert ZoneRow(name="Zone 2", marks=()).counts == []


class TestZones:
    def test_the_four_verdicts_are_always_said(self):
        assert [(key, count) for key, _, count in Zones(rows=(ROW, ROW)).totals] == [
            ("in_range", 22),
            ("nearing_limit", 2),
            ("out_of_range", 0),
            ("not_judged", 0),
        ]


class TestDrawTen:
    def test_draws_one_mark_a_detector_and_says_it(self):
        drawn = Drawn(draw_ten(ROW, 0, MARKS[:10]))

        titles = [title.text for title in drawn.root.iter("title")]
        assert len(titles) == 10
        assert titles[2] == "1-003 Stair <east>: nearing its limit"

    def test_links_only_what_has_an_address(self):
        links = Drawn(draw_ten(ROW, 0, MARKS[:10])).find("a")

        assert [link.get("href") for link in links] == ["/devices/3"]

    def test_large_ticks_stand_at_the_tens(self):
        large = [
            line
            for line in Drawn(draw_ten(ROW, 0, MARKS[:10])).find("line", "s-post")
            if line.get("y2") == "37"
        ]

        assert [line.get("x1") for line in large] == ["180.5"]

    def test_what_asks_for_something_has_a_shape_of_its_own(self):
        shapes = {
            state: draw_ten(ROW, 0, (ZoneMark(address="1", state=state),)).split("</title>")[1]
            for state in ("in_range", "nearing_limit", "out_of_range", "not_judged", "not_tested")
        }

        assert len(set(shapes.values())) == 5
