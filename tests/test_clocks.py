"""Whose clock a time is said by: the firm's or a building's, never the server's, and named."""

import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone, translation

from contractor.tenancy.days import Clock, instant_of
from contractor.tenancy.models import FirmProfile
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmTask
from contractor.web import moments
from tests import factories
from tests.test_wall import BEHIND_FIRM, addresses

DENVER = "America/Denver"
#: 22:30 of the day before, in Denver.
INSTANT = datetime(2026, 11, 25, 5, 30, tzinfo=UTC)


class Shown(HTMLParser):
    """Gather what a page shows as text."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.within = ""

    def handle_starttag(self, tag, attrs):
        self.within = tag if tag in {"script", "style", "title"} else ""

    def handle_endtag(self, tag):
        self.within = ""

    def handle_data(self, data):
        if not self.within:
            self.texts.append(data)


def shown(answer) -> str:
    page = Shown()
    page.feed(answer.content.decode())
    return " ".join(" ".join(page.texts).split())


@pytest.fixture
def denver(firm):
    """Our firm moved to Denver, with one of everything that bears a time, all at one instant."""
    with scope(firm.pk):
        FirmProfile.objects.update(time_zone=DENVER)
        building = factories.BuildingFactory(firm=firm, time_zone=DENVER)
        system = factories.SystemFactory(building=building)
        device = factories.DeviceFactory(system=system)
        member = factories.MemberFactory(firm=firm, role="principal")
        visit = factories.VisitFactory(building=building)
        keys = factories.everything_else(
            building=building, system=system, visit=visit, at=INSTANT
        ) | {
            "building_id": building.pk,
            "device_id": device.pk,
            "visit_id": visit.pk,
            "finding_id": factories.FindingFactory(building=building, found_at=INSTANT).pk,
            "system_id": system.pk,
            "product_id": device.product_id,
        }
    return member, keys


@pytest.mark.django_db
class TestPages:
    def test_say_each_time_by_the_firms_clock_and_name_it(self, client, firm, denver):
        member, keys = denver
        client.force_login(member.user)
        client.raise_request_exception = False  # the record of everything_else is an empty one
        said = set()
        for route in BEHIND_FIRM:
            if "/api/" in route[0]:
                continue
            answer = client.get(addresses(route, firm.slug, keys))
            if answer.status_code != 200 or "html" not in answer["Content-Type"]:
                continue
            text = shown(answer)
            assert "05:30" not in text, (route[0], text)
            if "22:30 MST" in text:
                said.add(route[1])
            for time, after in re.findall(r"\b(\d\d:\d\d(?::\d\d)?)\b(.{0,5})", text):
                assert after.startswith((" MST", " MDT", " UTC")), (route[0], time, text)
        assert len(said) >= 15, sorted(said)
        assert timezone.get_current_timezone_name() == "UTC"  # nothing is left for who comes next

    def test_say_the_day_that_it_was_there(self, client, firm, denver):
        member, keys = denver
        client.force_login(member.user)

        text = shown(client.get(reverse("labels:run", args=[firm.slug, keys["run_id"]])))

        assert "24 Nov 2026, 22:30 MST" in text

    def test_a_building_elsewhere_keeps_its_own(self, client, firm, denver):
        member, _ = denver
        with scope(firm.pk):
            building = factories.BuildingFactory(firm=firm, time_zone="America/New_York")
            visit = factories.VisitFactory(
                building=building, state="to_review", began_at=INSTANT, handed_in_at=INSTANT
            )
        client.force_login(member.user)

        text = shown(client.get(reverse("visits:visit", args=[firm.slug, visit.pk])))

        assert "25 Nov 2026, 00:30 EST" in text

    def test_another_firms_clock_is_not_left_behind(self, client, firm, other_firm, denver):
        with scope(other_firm.pk):
            theirs = factories.MemberFactory(firm=other_firm, role="principal")
        said = []
        for each, seat in ((firm, denver[0]), (other_firm, theirs)):
            client.force_login(seat.user)
            text = shown(client.get(reverse("operations:health", args=[each.slug])))
            said += re.findall(r"looked at \d\d:\d\d (\w+)", text)
        assert said in (["MST", "EST"], ["MDT", "EDT"])

    def test_programs_are_answered_in_utc(self, client, firm, denver):
        member, _ = denver
        client.force_login(member.user)
        found = client.get(f"/api/v1/f/{firm.slug}/findings/").json()["items"]
        assert found[0]["found_at"] == "2026-11-25T05:30:00+00:00"


@pytest.mark.django_db
def test_a_task_speaks_by_the_firms_clock(firm):
    class Say(FirmTask):
        name = "tests.say"

        def run(self, *, firm_id):
            return moments.say_moment(INSTANT)

    assert Say()(firm_id=str(firm.pk)) == "25 Nov 2026, 00:30 EST"
    assert moments.say_moment(INSTANT) == "25 Nov 2026, 05:30 UTC"


class TestMoments:
    @pytest.mark.parametrize(
        ("zone", "said"),
        [
            ("America/Denver", "22:30 MST"),
            ("Europe/Zurich", "06:30 CET"),
            ("America/Sao_Paulo", "02:30 UTC−3"),
            ("Asia/Kathmandu", "11:15 UTC+5:45"),
            ("UTC", "05:30 UTC"),
        ],
    )
    def test_name_the_clock_in_letters_or_by_its_offset(self, zone, said):
        assert moments.say_clock(INSTANT, zone) == said

    def test_the_hour_that_comes_twice_is_told_apart(self):
        first = datetime(2026, 11, 1, 7, 30, tzinfo=UTC)
        again = datetime(2026, 11, 1, 8, 30, tzinfo=UTC)
        assert moments.say_clock(first, DENVER) == "01:30 MDT"
        assert moments.say_clock(again, DENVER) == "01:30 MST"

    def test_follow_the_language(self):
        with translation.override("fr-ca"):
            assert moments.say_moment(INSTANT, DENVER) == "24 Nov 2026, 22 h 30 MST"


class TestTyped:
    """What the browser's field for day and time gives, read by the building's clock."""

    def read(self, typed, *, shown=None, viewer="UTC"):
        with timezone.override(viewer):
            return instant_of(Clock().clean(typed), ZoneInfo(DENVER), shown=shown)

    @pytest.mark.parametrize("viewer", ["UTC", DENVER, "America/New_York", "Asia/Kathmandu"])
    @pytest.mark.parametrize(
        ("typed", "meant"),
        [
            ("2026-11-24T22:30", INSTANT),
            ("2026-07-01T12:00", datetime(2026, 7, 1, 18, 0, tzinfo=UTC)),
            # Left out in New York, but not in Denver; and the other way round in the next.
            ("2026-03-08T01:59", datetime(2026, 3, 8, 8, 59, tzinfo=UTC)),
            ("2026-11-01T01:30", datetime(2026, 11, 1, 7, 30, tzinfo=UTC)),
        ],
    )
    def test_nobody_elses_zone_has_a_say(self, viewer, typed, meant):
        assert self.read(typed, viewer=viewer) == meant

    def test_shown_and_left_as_it_was_it_is_the_same_instant(self):
        # An hour of the night in which clocks go back, its second coming, with seconds.
        again = datetime(2026, 11, 1, 8, 30, 9, tzinfo=UTC)
        field = Clock()
        with timezone.override("America/New_York"):
            value = field.widget.format_value(
                field.prepare_value(again.astimezone(ZoneInfo(DENVER)))
            )
        assert value == "2026-11-01T01:30"
        assert self.read(value, shown=again) == again
        assert self.read("2026-11-01T01:31", shown=again) == datetime(
            2026, 11, 1, 7, 31, tzinfo=UTC
        )

    def test_an_hour_that_was_left_out_is_asked_about(self):
        with pytest.raises(ValidationError, match=r"clocks went forward. Was it 03:30"):
            self.read("2026-03-08T02:30")

    def test_a_program_may_name_its_offset(self):
        assert self.read("2026-11-25T05:30Z") == INSTANT
        assert self.read("2026-11-25T06:30+01:00") == INSTANT


@pytest.mark.django_db
class TestForms:
    def test_an_alarm_of_the_repeated_hour_stays_when_it_is_written_anew(
        self, signed_in, firm, denver
    ):
        """In the office of a firm in Denver; the building's clock is New York's."""
        again = datetime(2026, 11, 1, 6, 30, 9, tzinfo=UTC)  # the second 01:30 in New York
        with scope(firm.pk):
            building = factories.BuildingFactory(firm=firm, time_zone="America/New_York")
            alarm = factories.UnwantedAlarmFactory(building=building, happened_at=again)
        client = signed_in(denver[0])
        address = reverse("alarms:entry", args=[firm.slug, alarm.pk])
        page = client.get(address).content.decode()
        (value,) = re.findall(r'value="(2026-11-01T[\d:]+)"', page)
        assert value == "2026-11-01T01:30"
        sent = {
            "do": "correct",
            "happened_at": value,
            "cause": "nuisance",
            "by_detector": "no",
            "judged_by": "M. Lund-Avery",
            "reason": "The words were wrong.",
        }

        answer = client.post(address, sent)
        assert answer.status_code == 302, shown(answer)

        with scope(firm.pk):
            written = type(alarm).objects.exclude(pk=alarm.pk).get(building=building)
        assert written.happened_at == again

    def test_a_time_that_never_was_keeps_the_form(self, signed_in, firm, denver):
        finding = denver[1]["finding_id"]
        client = signed_in(denver[0])
        answer = client.post(
            reverse("findings:tell_owner", args=[firm.slug, finding]),
            {"whom": "M. Lund-Avery", "how": "by word", "at": "2026-03-08T02:30", "text": "all"},
        )
        assert "clocks went forward" in answer.content.decode()
        assert "M. Lund-Avery" in answer.content.decode()
