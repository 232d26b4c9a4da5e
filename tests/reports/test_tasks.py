"""The task that renders a report, run for real."""

import io
from uuid import UUID, uuid4

import pdfplumber
import pytest
from django.db import OperationalError

from contractor.celery import app
from contractor.reports import contents, printing, queries, tasks
from contractor.reports.models import Report
from contractor.tenancy import files
from contractor.visits import services as visits


def run(firm, record_id, job):
    return app.tasks["reports.render_visit"].apply(
        kwargs={"firm_id": str(firm.pk), "record_id": str(record_id), "job_id": str(job.pk)}
    )


def read(report) -> str:
    data = files.fetch(firm_id=report.firm_id, sha256=report.sha256)
    with pdfplumber.open(io.BytesIO(data)) as opened:
        return "\n".join(page.extract_text() for page in opened.pages)


class TestRendering:
    def test_it_prints_what_was_sealed(self, record, report):
        text = read(report)
        assert "Quillmarsh House" in text
        assert "Of 3 devices, 2 passed and 1 was not tested." in text
        assert "Paint store locked" in text
        assert "T. Varsk, technician, TX-4471 (invented)" in text
        assert text.count(contents.group(record.record_hash)) >= report.pages

    def test_the_job_ends_and_says_how_many_pages(self, record, job, firm):
        assert run(firm, record.pk, job).successful()
        job.refresh_from_db()
        assert job.state == "done"
        assert job.message == f"{queries.find_report(record=record).pages} pages"

    def test_its_steps_are_said_in_words(self, record, job, firm, monkeypatch):
        said = []
        advance = tasks.advance_job

        def watched(**how):
            said.append(how["step"])
            advance(**how)

        monkeypatch.setattr(tasks, "advance_job", watched)
        run(firm, record.pk, job)
        assert said[0] == "laying out the first rows"

    def test_a_second_delivery_changes_nothing(self, record, report, job, firm):
        run(firm, record.pk, job)
        assert list(Report.objects.values_list("sha256", flat=True)) == [report.sha256]

    def test_a_job_started_again_after_the_report_was_kept_keeps_it(
        self, record, report, job, firm
    ):
        type(job).objects.filter(pk=job.pk).update(state="running")
        run(firm, record.pk, job)
        job.refresh_from_db()
        assert (job.state, Report.objects.count()) == ("done", 1)

    def test_an_amendment_gets_a_report_of_its_own_and_says_what_it_replaces(
        self, record, report, firm, office, now
    ):
        device = queries.read_body(record=record)["devices"][0]
        changed = visits.amend(
            visit=record.visit,
            reason="The wrong detector was noted",
            changes=[
                visits.Amendment(
                    device_id=UUID(device["id"]),
                    task="functional",
                    result="fail",
                    reason="Did not report",
                )
            ],
            member=office,
            now=now,
        )
        job = queries.find_job(record=changed)
        run(firm, changed.pk, job)
        text = read(queries.find_report(record=changed)).replace("\n", " ")
        assert "This is revision 2, an amendment" in text
        assert "The wrong detector was noted" in text
        assert "was pass; now fail: Did not report" in text
        assert contents.group(record.record_hash)[:39] in text
        assert Report.objects.count() == 2


class TestFailing:
    def test_a_failure_ends_in_a_sentence_on_the_job(self, record, job, firm, monkeypatch, caplog):
        def fail(**_):
            raise RuntimeError("the font is broken")

        monkeypatch.setattr(printing, "print_apart", fail)
        run(firm, record.pk, job)
        job.refresh_from_db()
        assert job.state == "failed"
        assert "the signed record itself is safe" in job.message
        assert "the font is broken" in caplog.text
        assert not Report.objects.exists()

    def test_a_record_that_is_not_there_says_so(self, record, job, firm):
        run(firm, uuid4(), job)
        job.refresh_from_db()
        assert job.state == "failed"
        assert "nothing to print" in job.message

    def test_a_database_that_went_away_is_tried_again(self, record, job, firm, monkeypatch):
        def gone(**_):
            raise OperationalError("server closed the connection")

        monkeypatch.setattr(printing, "print_apart", gone)
        with pytest.raises(OperationalError):
            tasks.render_visit(firm_id=str(firm.pk), record_id=str(record.pk), job_id=str(job.pk))
        job.refresh_from_db()
        assert job.state == "running"
