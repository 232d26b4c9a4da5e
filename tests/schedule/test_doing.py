"""How the firm is doing, counted."""

from datetime import date, timedelta

from django.urls import reverse

from contractor.schedule import doing
from contractor.web.charts import draw
from tests import factories

TODAY = date(2026, 11, 25)


def test_findings_fall_into_bands_by_their_last_day():
    found = [
        ("deficiency", TODAY - timedelta(days=days)) for days in (0, 7, 8, 30, 31, 90, 91, 365, 366)
    ]
    rows = doing.by_age(found, today=TODAY)
    assert [row.total for row in rows] == [2, 2, 2, 2, 1]
    drawn = str(draw(doing.draw_ages(rows)))
    assert "Open findings by age" in drawn
    assert "older than a year: 1 deficiency" in drawn


def test_the_page_counts_what_is_not_overdue(signed_in, office, firm, building, detector, today):
    for task, days in (("functional", -3), ("inspection", 300)):
        day = today + timedelta(days=days)
        factories.DueFactory(
            device=detector,
            task=task,
            basis="window",
            earliest_on=day - timedelta(days=30),
            target_on=day,
            latest_on=day,
        )
    factories.FindingFactory(building=building, found_on=today - timedelta(days=40))

    page = reverse("schedule:doing", kwargs={"firm": firm.slug})
    text = signed_in(office).get(page).content.decode()

    assert "1 of 2 known dates are not overdue" in text
    assert "1 finding is open, 1 of them for more than a month" in text
    assert "No forecast can be judged yet" in text
