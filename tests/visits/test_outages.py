"""An impairment in the record: begin, end, hours, measures, fire watch, who was told."""

from datetime import timedelta

from contractor.findings.models import Finding, FindingStep, WatchRound
from contractor.visits.outages import list_impairments
from tests.reports import flow


class TestListImpairments:
    def test_tells_begin_end_hours_watch_and_who_was_told(self, building, office, technician, now):
        visit = flow.sign_visit(
            building=building, office=office, technician=technician, now=now
        ).visit
        began = now - timedelta(days=2)
        finding = Finding.objects.create(
            firm_id=building.firm_id,
            building=building,
            severity="impairment",
            title="Loop 2 open",
            out_what="Loop 2",
            found_at=began,
            found_on=began.date(),
            back_at=began + timedelta(hours=10, minutes=30),
        )
        FindingStep.objects.create(
            firm_id=building.firm_id,
            finding=finding,
            kind="informed",
            at=began,
            whom="Desk officer Holt",
            text="Cable cut",
            by="x",
            recorded_at=began,
        )
        for hour in (1, 2):
            WatchRound.objects.create(
                firm_id=building.firm_id,
                finding=finding,
                walked_at=began + timedelta(hours=hour),
                name="O. Brandt",
                recorded_at=now,
            )

        (said,) = list_impairments(visit=visit)

        assert (said["hours"], said["rounds"], said["is_over"]) == (10.5, 2, True)
        assert said["what"] == "Loop 2"
        assert said["began_at"] == "2026-11-23T07:00:00-05:00"
        assert said["told"][0]["whom"] == "Desk officer Holt"
        assert said["measures"] == ["Cable cut"]

    def test_leaves_out_what_ended_more_than_a_year_before(self, building, office, technician, now):
        visit = flow.sign_visit(
            building=building, office=office, technician=technician, now=now
        ).visit
        for days in (364, 366):
            Finding.objects.create(
                firm_id=building.firm_id,
                building=building,
                severity="impairment",
                title=f"{days}",
                found_at=now - timedelta(days=400),
                found_on=(now - timedelta(days=400)).date(),
                corrected_on=visit.planned_on - timedelta(days=days),
            )

        assert [one["title"] for one in list_impairments(visit=visit)] == ["364"]
