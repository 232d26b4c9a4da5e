"""What falls due by month: columns with their numbers, and where a click leads."""

from contractor.web.charts import DueColumn, DueMonths, draw_due_months
from tests.web.svg import Drawn, place

MONTHS = DueMonths(
    columns=(
        DueColumn(label="overdue", words="overdue", counts=(("overdue", 30),), apart=True),
        DueColumn(
            label="Nov",
            words="November 2026",
            counts=(("due", 3), ("later", 1)),
            href="?month=2026-11",
            under="2026",
        ),
        DueColumn(label="Dec", words="December 2026", counts=(("later", 2),), chosen=True),
        DueColumn(label="Jan", words="January 2027", counts=()),
    )
)


def heights(drawn, *classes):
    return [float(node.get("height")) for node in drawn.find("rect", *classes)]


class TestDrawDueMonths:
    def test_columns_are_as_high_as_their_numbers(self):
        drawn = Drawn(draw_due_months(MONTHS))

        [due] = heights(drawn, "f-deed")
        waiting = heights(drawn, "f-mist")
        assert due == 3 * waiting[0]
        assert waiting[1] == 2 * waiting[0]

    def test_what_lies_outside_the_months_sets_no_scale_and_is_cut(self):
        drawn = Drawn(draw_due_months(MONTHS))

        [late], [due] = heights(drawn, "f-carmine"), heights(drawn, "f-deed")
        assert late < 30 / 3 * due
        assert len(drawn.find("line", "s-paper")) == 1

    def test_says_numbers_in_words_and_links_what_holds_something(self):
        drawn = Drawn(draw_due_months(MONTHS))

        assert "November 2026: 3 due, 1 later; December 2026: 2 later" in drawn.text
        [link] = list(drawn.root.iter("a"))
        assert link.get("href") == "?month=2026-11"
        assert link.get("aria-label") == "November 2026: 3 due, 1 later"

    def test_the_chosen_column_stands_between_two_posts(self):
        drawn = Drawn(draw_due_months(MONTHS))

        posts = [n for n in drawn.find("line", "s-ink") if n.get("x1") == n.get("x2")]
        [one] = [n for n in drawn.root.iter("text") if "".join(n.itertext()) == "2"]
        assert place(posts[0], "x1") < place(one, "x") < place(posts[1], "x1")

    def test_fixed_it_has_no_links(self):
        assert "<a " not in draw_due_months(MONTHS, width=640)

    def test_draws_itself_empty(self):
        assert "Nothing falls due" in Drawn(draw_due_months(DueMonths(columns=()))).text
