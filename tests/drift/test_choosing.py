"""The cleaning list of a building, and planning it; what was said against what came."""

from datetime import date, timedelta

import numpy as np
import pytest

from contractor.drift import queries, services
from contractor.drift.models import Snapshot
from contractor.drift.packing import keys_of, unpack_chances
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import AuditLine, Job
from contractor.visits.models import Visit
from tests import factories
from tests.conftest import NOON
from tests.drift.conftest import DAYS

pytestmark = pytest.mark.django_db


@pytest.fixture
def swept(firm, fleet_of, today):
    """Five detectors, one of them near its limit, one over it."""
    devices = fleet_of(0.02, 0.04, 0.06, 0.17, 0.24)
    services.sweep_whole(firm_id=firm.pk, today=today, now=NOON)
    return devices


class TestListCleaning:
    def test_cleans_those_that_would_run_out(self, building, swept, today):
        listed = services.list_cleaning(building=building, today=today)

        assert listed.device_ids == [swept[4].pk, swept[3].pk]
        assert listed.expected <= listed.target
        assert listed.avoided > 1.5
        assert listed.hours == pytest.approx(0.5)

    def test_goes_from_the_next_visit_to_the_one_after(self, building, swept, today):
        for day in (date(2026, 12, 10), date(2026, 12, 20), date(2027, 6, 1)):
            factories.VisitFactory(building=building, planned_on=day)
        listed = services.list_cleaning(building=building, today=today)

        assert (listed.visit.on, str(listed.visit.basis)) == (date(2026, 12, 10), "visit")
        assert listed.after_on == date(2027, 6, 1)  # ten days later is no second occasion

    def test_number_days_and_aim_may_be_chosen(self, building, swept, today):
        chosen = services.list_cleaning(
            building=building,
            today=today,
            clean_on=date(2027, 1, 5),
            after_on=date(2029, 1, 5),
            count=1,
        )
        strict = services.list_cleaning(building=building, today=today, accepted=0.0)

        assert (chosen.visit.on, chosen.after_on) == (date(2027, 1, 5), date(2029, 1, 5))
        assert len(chosen.device_ids) == 1
        assert not strict.plan.is_reached  # a little is always left to chance
        assert strict.plan.count == strict.plan.order.size

    def test_tells_by_when_to_come_so_that_few_run_out_before(self, building, swept, today):
        listed = services.list_cleaning(building=building, today=today, accepted=0.3)
        fleet = listed.fleet
        said = queries.foresee(
            fleet=fleet, constants=queries.find_constants(firm_id=building.firm_id), today=today
        )
        day = (listed.come_by - today).days
        newly = [said.chance_by(said.as_of + day + more)[~said.is_over].sum() for more in (0, 1)]

        assert today < listed.come_by < listed.visit.on
        assert newly[0] <= 0.3 < newly[1]

    def test_before_the_first_night_there_is_none(self, building, fleet_of, today):
        fleet_of(0.1)

        assert services.list_cleaning(building=building, today=today) is None

    def test_the_list_is_planned_as_a_visit_once(self, building, office, swept, today):
        listed = services.list_cleaning(building=building, today=today)
        said = {
            "building": building,
            "device_ids": listed.device_ids,
            "planned_on": date(2026, 12, 10),
            "member": office,
            "now": NOON,
            "visit_id": uuid7(),
        }
        first, second = (services.plan_cleaning_visit(**said) for _ in range(2))

        assert first == second
        assert first.tasks == ["sensitivity"]
        assert set(first.visitdevice_set.values_list("device_id", flat=True)) == {
            swept[3].pk,
            swept[4].pk,
        }
        assert Visit.objects.count() == 1

    def test_an_empty_list_is_refused(self, building, office, today):
        with pytest.raises(services.UnableToPlan, match="empty"):
            services.plan_cleaning_visit(
                building=building,
                device_ids=[],
                planned_on=today,
                member=office,
                now=NOON,
                visit_id=uuid7(),
            )


class TestPolicy:
    def test_a_change_is_audited_and_lists_go_by_it(self, firm, building, office, swept, today):
        before = services.list_cleaning(building=building, today=today)
        services.change_policy(
            firm_id=firm.pk,
            chance_threshold=0.3,
            accepted_share=0.4,
            minutes_a_cleaning=30,
            member=office,
            now=NOON,
        )
        after = services.list_cleaning(building=building, today=today)

        assert after.target == pytest.approx(2.0)
        assert after.plan.count < before.plan.count
        line = AuditLine.objects.get(action="drift.policy_changed")
        assert (line.before["accepted_share"], line.after["accepted_share"]) == (0.005, 0.4)


class TestLookingBack:
    """What would have been said a year ago, from what was known then; and what came of it."""

    SAID = date(2025, 6, 1)

    def test_uses_nothing_that_came_later(self, firm, fleet_of, read, today):
        devices = fleet_of(0.03, 0.09, 0.15)
        services.reckon_back(firm_id=firm.pk, said_on=self.SAID, now=NOON)
        kept = bytes(Snapshot.objects.get().body)
        keys, chances = unpack_chances(kept)
        # What has been read since must not matter: another history after that day, same words.
        for device in devices:
            read(device, {date(2025, 9, 1): 1.2})
        fleet = queries.load_fleet(firm_id=firm.pk, until=self.SAID)
        said = queries.foresee(fleet=fleet, constants=None, today=self.SAID)

        assert keys_of(keys) == fleet.device_ids
        year_on = said.chance_by(9283 + 365)  # 1 Jun 2025 is day 9283 from 1 Jan 2000
        np.testing.assert_allclose(chances[:, 3], year_on, atol=2e-3)
        assert Snapshot.objects.get().is_hindsight

    def test_twice_keeps_the_first(self, firm, fleet_of):
        fleet_of(0.03, 0.09)
        for _ in range(2):
            services.reckon_back(firm_id=firm.pk, said_on=self.SAID, now=NOON)

        assert Snapshot.objects.count() == 1

    def test_it_is_queued_where_people_can_watch_it(self, firm, office):
        job = services.queue_look_back(firm_id=firm.pk, said_on=self.SAID, member=office, now=NOON)

        assert Job.objects.get() == job
        assert "1 Jun 2025" in job.title

    def outcomes(self, firm):
        (day,) = queries.list_days_said(firm_id=firm.pk)
        return queries.load_outcomes(firm_id=firm.pk, day=day)

    def test_reached_not_reached_not_read_cut_short(
        self, firm, system, zone, read, cleaned, fleet_of
    ):
        upto = DAYS[:-1]  # the last reading known on the day is that of March 2025
        reached, fine, _unread, mended, replaced = fleet_of(0.19, 0.05, 0.05, 0.10, 0.11, days=upto)
        next_visit = date(2026, 3, 10)
        read(reached, {next_visit: 1.3})
        read(fine, {next_visit: 0.35})
        # Cleaned before anybody read it: what it would have done nobody knows.
        cleaned(mended, date(2025, 8, 1))
        read(mended, {next_visit: 0.1})
        # Found at its limit on the next visit, cleaned then: that did come true.
        read(replaced, {next_visit: 1.4})
        cleaned(replaced, next_visit)
        services.reckon_back(firm_id=firm.pk, said_on=self.SAID, now=NOON)
        found = self.outcomes(firm)

        assert (found.said_of, found.not_read, found.cut_short) == (5, 1, 1)
        assert sorted(found.came) == [False, True, True]
        assert queries.judge(found).came == 2
        assert found.chance[found.came].max() > found.chance[~found.came].max()

    def test_the_first_reading_after_half_a_year_decides(self, firm, read, fleet_of):
        early, _ = fleet_of(0.19, 0.05, days=DAYS[:-1])
        read(early, {date(2025, 9, 1): 1.1, date(2026, 1, 10): 1.2, date(2026, 6, 1): 1.4})
        services.reckon_back(firm_id=firm.pk, said_on=self.SAID, now=NOON)

        assert list(self.outcomes(firm).came) == [False]  # on 10 Jan it had not reached it

    def test_the_day_shown_is_the_latest_ripe_one(self, today):
        def day(on, back=False):
            return queries.DaySaid(on, back, 10, 1)

        days = [
            day(today - timedelta(30)),
            day(today - timedelta(370), back=True),
            day(today - timedelta(400)),
            day(today - timedelta(500)),
        ]
        chosen = queries.choose_day(days=days, wanted="", today=today)

        assert chosen == days[2]  # what was really said comes before what was reckoned later
        assert queries.choose_day(days=days, wanted=days[1].key, today=today) == days[1]
        assert queries.choose_day(days=days[:1], wanted="", today=today) is None
        assert queries.choose_day(days=[], wanted="", today=today) is None
