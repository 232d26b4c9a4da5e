"""A finding from its notice to its re-test: pages and rules."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.findings import queries, services
from contractor.findings.models import Finding, FindingTitle, NoticeGiven
from contractor.tenancy.models import AuditLine
from tests import factories

pytestmark = pytest.mark.django_db
MONDAY = datetime(2024, 6, 3, 15, 0, tzinfo=UTC)  # 10:00 in Chicago


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def texan(building):
    """A building under the rules of Texas."""
    building.places, building.time_zone = ["texas"], "America/Chicago"
    building.save()
    return building


def opened(building, severity="deficiency", **more):
    given = {"title": "Horn is mute", "member": None, "now": MONDAY} | more
    return services.open_finding(building=building, severity=severity, **given)


def address(name, **keys):
    return reverse(f"findings:{name}", kwargs={"firm": "tarnbeck", **keys})


class TestNotices:
    def test_texas_gives_five_business_days(self, texan):
        """28 TAC 34.623, as held in engine.deadlines."""
        [owed] = queries.list_owed(finding=opened(texan), now=MONDAY)

        assert (owed.by_words, owed.is_late) == ("by 10 Jun 2024", False)

    def test_is_late_after_its_day(self, texan):
        finding = opened(texan)
        evening = datetime(2024, 6, 11, 4, 59, tzinfo=UTC)  # 23:59 on the 10th in Chicago

        assert not queries.list_owed(finding=finding, now=evening)[0].is_late
        [owed] = queries.list_owed(finding=finding, now=evening + timedelta(minutes=2))
        assert owed.is_late

    def test_marked_as_given_it_is_owed_no_more_and_only_once(self, texan, office):
        finding = opened(texan)
        [owed] = queries.list_owed(finding=finding, now=MONDAY)
        later = MONDAY + timedelta(hours=3)
        given = {"finding": finding, "duty": owed.key, "at": later, "member": office, "now": later}
        services.give_notice(whom="Fire marshal", **given)

        assert queries.map_next_owed(findings=[finding], now=later) == {}
        with pytest.raises(services.UnableToChange, match="was given to Fire marshal already"):
            services.give_notice(whom="Again", **given)

    def test_telling_the_owner_gives_what_is_owed_to_the_owner_alone(self, building, office):
        finding = opened(building, "impairment")
        assert [o.duty.how for o in queries.list_owed(finding=finding, now=MONDAY)] == [
            "by word",
            "in writing",
        ]
        services.inform_owner(
            finding=finding,
            whom="M. Lund-Avery",
            how="by word",
            at=MONDAY,
            member=office,
            now=MONDAY,
        )

        waiting = queries.map_next_owed(findings=[finding], now=MONDAY)[finding.pk]
        assert waiting.duty.how == "in writing"
        finding.refresh_from_db()
        assert (finding.owner_told_at, finding.disposition) == (MONDAY, "informed")

    def test_a_place_without_duties_owes_nothing(self, building):
        building.places = []
        assert queries.list_owed(finding=opened(building), now=MONDAY) == []

    def test_by_its_page(self, desk, building, now):
        finding = opened(building, now=now)
        [owed] = queries.list_owed(finding=finding, now=now)
        url = address("give_notice", finding_id=finding.pk)

        answer = desk.post(f"{url}?duty=nothing", {})
        assert answer.status_code == 404
        bad = desk.post(
            url + "?" + f"duty={owed.key}".replace(" ", "%20"),
            {"whom": "M. Lund-Avery", "at": "2020-01-01T10:00", "text": "letter 12"},
        )
        assert "lies before the finding" in bad.text
        assert "letter 12" in bad.text
        assert not NoticeGiven.objects.exists()


class TestSteps:
    def test_go_from_quote_to_approval_and_stay_listed(self, building, office, now):
        finding = opened(building, now=now)
        kept = {"finding": finding, "at": now, "member": office, "now": now}
        services.add_step(kind="quoted", amount=420, **kept)
        services.record_owner_answer(finding=finding, approved=True, name="M. Lund-Avery", now=now)

        finding.refresh_from_db()
        assert finding.disposition == "approved"
        assert [step.kind for step in queries.list_steps(finding=finding)] == ["quoted", "approved"]
        line = AuditLine.objects.get(subject_id=finding.pk, action="finding.approved")
        assert (line.before["disposition"], line.actor) == ("quoted", "M. Lund-Avery, owner")

    @pytest.mark.parametrize(
        ("step", "said"),
        [
            ({"kind": "quoted"}, "how much"),
            ({"kind": "scheduled"}, "which day"),
            ({"kind": "refused"}, "who it was"),
            ({"kind": "corrected"}, "by its own pages"),
            ({"kind": "informed", "whom": "X"}, "how they were told"),
        ],
    )
    def test_without_what_they_are_about_they_are_refused(self, building, office, now, step, said):
        with pytest.raises(services.UnableToChange, match=said):
            services.add_step(
                finding=opened(building, now=now), at=now, member=office, now=now, **step
            )

    def test_telling_again_does_not_undo_an_answer(self, building, office, now):
        finding = opened(building, now=now)
        services.record_owner_answer(finding=finding, approved=False, name="M.", now=now)
        services.inform_owner(
            finding=finding, whom="M.", how="in writing", at=now, member=office, now=now
        )

        finding.refresh_from_db()
        assert finding.disposition == "refused"


class TestCorrection:
    def test_in_the_office_needs_a_retest(self, desk, building, now):
        finding = opened(building, now=now)
        said = {"correction": "Replaced", "on": "2026-11-25"}

        answer = desk.post(address("correct", finding_id=finding.pk), said)
        assert "is proved by a re-test" in answer.text
        desk.post(address("correct", finding_id=finding.pk), said | {"proof": "Sounded, pass"})

        finding.refresh_from_db()
        assert (finding.disposition, finding.proof) == ("corrected", "Sounded, pass")


class TestImpairments:
    @pytest.fixture
    def out(self, building, now):
        building.out_limits = ["nfpa72", "nfpa101"]
        building.save()
        return opened(building, "impairment", now=now - timedelta(hours=5), title="Loop open")

    def test_counts_its_hours_against_the_smallest_limit(self, building, out, now):
        found = queries.list_out_of(building=building, now=now)

        assert [(one.limit.hours, one.hours, one.is_exceeded) for one in found] == [
            (4, 5.0, True),
            (8, 5.0, False),
        ]

    def test_two_that_overlap_count_once(self, building, out, now):
        opened(building, "impairment", now=now - timedelta(hours=6), title="Loop 2 open")

        assert queries.list_out_of(building=building, now=now)[0].hours == 6.0

    def test_rounds_are_kept_with_time_and_name(self, out, office, now):
        kept = {"finding": out, "member": office, "now": now}
        services.add_round(walked_at=now - timedelta(hours=1), name="N. Osk", **kept)

        assert [one.name for one in queries.list_rounds(finding=out)] == ["N. Osk"]
        with pytest.raises(services.UnableToChange, match="still to come"):
            services.add_round(walked_at=now + timedelta(hours=1), name="N. Osk", **kept)
        with pytest.raises(services.UnableToChange, match="who walked"):
            services.add_round(walked_at=now, name=" ", **kept)

    def test_is_restored_with_a_retest_only(self, building, out, office, now):
        said = {"finding": out, "back_at": now, "correction": "Closed", "member": office}
        with pytest.raises(services.UnableToChange, match="proved by a re-test"):
            services.restore(proof="", now=now, **said)
        services.restore(proof="Both ends tested", now=now, **said)

        out.refresh_from_db()
        assert (out.back_at, out.is_open) == (now, False)
        day_later = queries.list_out_of(building=building, now=now + timedelta(hours=20))
        assert [one.hours for one in day_later] == [pytest.approx(4.0), 0.0]  # of the last 24 h

    def test_its_page_draws_and_lists(self, desk, out):
        html = desk.get(address("finding", finding_id=out.pk)).text

        assert "Out of service for" in html
        assert "No round is written down" in html


class TestRepeats:
    def test_the_same_within_two_years_is_marked(self, desk, detector, office, now):
        def again(days, title="Sensitivity out of range", cause="out_of_range"):
            finding = opened(
                detector.building,
                device=detector,
                title=title,
                cause=cause,
                now=now - timedelta(days=days),
            )
            services.correct_finding(
                finding=finding, correction="Cleaned", member=office, now=now, on=now.date()
            )
            return finding.pk

        old, first, second, other = again(1100), again(400), again(10), again(5, "X", "")
        found = queries.with_repeats(Finding.objects.all())

        assert {one.pk: one.is_repeat for one in found} == {
            old: False,
            first: True,  # 700 days after the old one
            second: True,
            other: False,
        }
        html = desk.get(address("finding", finding_id=second)).text
        assert "The same was found here 1 time" in html


class TestTheFirmsList:
    def test_gives_severity_and_words_to_a_title(self, desk, building):
        desk.post(address("open", building_id=building.pk), {"title": "label missing"})

        finding = Finding.objects.get()
        assert finding.severity == "noncritical"
        assert finding.text.startswith("Fix a new one")

    def test_what_it_does_not_know_asks_how_bad(self, desk, building):
        answer = desk.post(address("open", building_id=building.pk), {"title": "Bees"})

        assert "Say how bad it is" in answer.text

    def test_becomes_the_firms_own_and_is_changed(self, desk, firm):
        desk.post(address("own_titles"))
        one = FindingTitle.objects.get(title="Label missing")
        desk.post(
            address("change_title", title_id=one.pk),
            {"title": "Label missing", "severity": "observation"},
        )
        (listed,) = [t for t in queries.list_titles(firm_id=firm.pk) if t.title == "Label missing"]
        assert listed.severity == "observation"
        line = AuditLine.objects.get(subject_id=one.pk, action="title.changed")
        assert line.before["severity"] == "noncritical"

        desk.post(address("end_title", title_id=one.pk))
        left = queries.list_titles(firm_id=firm.pk)
        assert "Label missing" not in {one.title for one in left}
        assert "Offered no longer" in desk.get(address("titles")).text


class TestPages:
    def test_the_list_says_whom_to_tell_and_does_not_ask_more_for_more(
        self, desk, building, system, now
    ):
        counts = []
        for many in (2, 12):
            for number in range(many):
                device = factories.DeviceFactory(system=system, address=f"{many}-{number}")
                factories.FindingFactory(building=building, device=device, title=f"F{number}")
            with CaptureQueriesContext(connection) as caught:
                html = desk.get(address("list")).text
            counts.append(len(caught))

        assert counts[0] == counts[1] <= 14
        assert "Tell the owner in writing" in html
        assert "No open finding stands here" in desk.get(address("list") + "?show=refused").text

    def test_the_letter_lists_what_is_open(self, desk, building, now):
        opened(building, now=now)

        html = desk.get(address("letter", building_id=building.pk)).text
        assert "Horn is mute" in html
        assert "authority having jurisdiction" in html

    @pytest.mark.parametrize("kind", ["quote_asked", "quoted", "approved", "refused", "scheduled"])
    def test_each_step_has_its_page(self, desk, building, now, kind):
        finding = opened(building, now=now)
        url = address("step", finding_id=finding.pk) + f"?kind={kind}"

        assert desk.get(url).status_code == 200
        said = {
            "whom": "M. Lund-Avery",
            "at": now.astimezone().strftime("%Y-%m-%dT07:00"),
            "amount": "12.50",
            "planned_on": "2026-12-01",
        }
        desk.post(url, said)
        finding.refresh_from_db()
        assert finding.disposition == kind
