"""Small frames and the trade-off."""

from datetime import date

import pytest

from contractor.web.charts import FleetFrame, TradeOff, Usage, draw
from contractor.web.charts.fleet import still_out
from tests.web.svg import Drawn, place

TRADE = TradeOff(points=((0, 20.0), (10, 10.0), (20, 5.0)), chosen=5)


class TestStillOut:
    @pytest.mark.parametrize(
        ("cleaned", "still"), [(0, 20), (5, 15), (10, 10), (15, 7.5), (20, 5), (99, 5)]
    )
    def test_reads_the_curve_between_its_points(self, cleaned, still):
        assert still_out(TRADE, cleaned) == still


class TestDrawTradeOff:
    def test_the_ring_stands_on_the_chosen_number(self):
        drawn = Drawn(draw(TRADE))

        (ring,) = drawn.find("circle", "s-deed")
        assert place(ring, "cx") == pytest.approx(25)
        assert "clean 5: 15.0 still run out" in drawn.words("grand")

    def test_with_nothing_to_clean_no_point_is_chosen(self):
        drawn = Drawn(draw(TradeOff(points=(), chosen=0)))

        assert not drawn.find("circle")
        assert "Nothing to clean" in drawn.title


class TestDrawFleetFrame:
    def frame(self, *shares: float) -> Drawn:
        line = tuple((date(2021 + year, 1, 1), share) for year, share in enumerate(shares))
        return Drawn(
            draw(
                FleetFrame(
                    name="Pell Lane Bakery",
                    first=date(2021, 1, 1),
                    last=date(2029, 1, 1),
                    today=date(2026, 11, 25),
                    lines=(line,),
                    nearing=2,
                    out=1,
                    ceiling=1.2,
                )
            )
        )

    def test_a_line_is_cut_where_it_leaves_the_frame(self):
        (group,) = self.frame(0.0, 0.6, 1.8).find("g", "s-ink", "thin")
        (line,) = group
        path = line.get("d")

        # From 0.6 to 1.8 the ceiling of 1.2 is reached half way: one and a half of eight years.
        across, up = path.split("L")[-1].split()
        assert float(across) == pytest.approx(1.5 / 8 * 1000, abs=1)
        assert float(up) == pytest.approx(4.0)

    def test_says_its_counts(self):
        assert "2 nearing, 1 out" in self.frame(0.1, 0.2).title


class TestDrawUsage:
    def test_bars_take_the_colour_of_what_they_hold(self):
        counts = [0] * 44
        counts[29], counts[30], counts[40] = 5, 4, 3  # 72.5 to 75, 75 to 77.5, 100 to 102.5 %

        drawn = Drawn(draw(Usage(counts=tuple(counts), in_range=5, nearing=4, out=3)))

        assert [len(drawn.find("rect", f"f-{tone}")) for tone in ("ink", "ochre", "carmine")] == [
            1,
            1,
            1,
        ]

    def test_zero_is_never_coloured(self):
        drawn = Drawn(draw(Usage(counts=(5,), in_range=5)))

        assert not drawn.find("text", "f-carmine")
        assert not drawn.find("text", "f-ochre")
