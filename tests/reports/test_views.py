"""The list, the record and the PDF, as the office and the technician see them."""

from django.core.files.storage import default_storage
from django.urls import reverse

from contractor.reports import contents
from contractor.tenancy.services import end_job


def url(name, firm, **keys):
    return reverse(name, kwargs={"firm": firm.slug} | keys)


class TestList:
    def test_it_lists_a_signed_visit_with_its_pdf(self, signed_in, technician, firm, report):
        page = signed_in(technician).get(url("reports:list", firm)).content.decode()
        assert "Quillmarsh House" in page
        assert url("reports:pdf", firm, report_id=report.pk) in page

    def test_it_is_taken_along_with_fingerprints(self, signed_in, technician, firm, record, report):
        answer = signed_in(technician).get(url("reports:list", firm) + "?as=csv")
        head, row = answer.content.decode("utf-8-sig").splitlines()
        assert head.startswith("no.,visit on,building,")
        assert "Quillmarsh House" in row
        assert row.endswith(record.record_hash)

    def test_an_empty_list_says_when_it_fills(self, signed_in, office, firm):
        page = signed_in(office).get(url("reports:list", firm)).content.decode()
        assert "No visit is signed yet." in page


class TestRecord:
    def test_it_shows_progress_until_the_report_is_there(
        self, signed_in, office, firm, record, job
    ):
        page = signed_in(office).get(url("reports:record", firm, record_id=record.pk))
        text = page.content.decode()
        assert url("job", firm, job_id=job.pk) in text
        assert "Open the report" not in text

    def test_it_shows_result_fingerprint_and_pdf(self, signed_in, office, firm, record, report):
        page = signed_in(office).get(url("reports:record", firm, record_id=record.pk))
        text = page.content.decode()
        assert "Of 3 devices, 2 passed and 1 was not tested." in text
        assert "Paint store locked" in text
        assert contents.group(record.record_hash) in text
        assert url("reports:pdf", firm, report_id=report.pk) in text

    def test_a_failed_report_can_be_made_again(
        self, signed_in, office, firm, record, job, now, django_capture_on_commit_callbacks
    ):
        end_job(job_id=job.pk, now=now, message="It could not be laid out.", failed=True)
        client = signed_in(office)
        page = client.get(url("reports:record", firm, record_id=record.pk)).content.decode()
        assert "It could not be laid out." in page
        client.post(url("reports:render", firm, record_id=record.pk))
        job.refresh_from_db()
        assert job.state == "queued"

    def test_a_technician_may_not_have_it_made_again(self, signed_in, technician, firm, record):
        answer = signed_in(technician).post(url("reports:render", firm, record_id=record.pk))
        assert answer.status_code == 403


class TestPdf:
    def test_it_is_a_pdf_that_browsers_may_not_guess_at(self, signed_in, office, firm, report):
        answer = signed_in(office).get(url("reports:pdf", firm, report_id=report.pk))
        assert answer.content.startswith(b"%PDF-1.7")
        assert len(answer.content) == report.size
        assert answer["Content-Type"] == "application/pdf"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Content-Disposition"] == (
            'inline; filename="quillmarsh-house-2026-11-25-revision-1.pdf"'
        )

    def test_a_member_of_another_firm_finds_nothing(self, stranger, client, firm, report):
        client.force_login(stranger.user)
        address = url("reports:pdf", firm, report_id=report.pk)
        assert client.get(address).status_code == 404

    def test_a_file_that_was_altered_is_not_handed_out(self, signed_in, office, firm, report):
        path = default_storage.path(f"{firm.pk}/{report.sha256[:2]}/{report.sha256}")
        with open(path, "ab") as file:
            file.write(b"x")
        answer = signed_in(office).get(url("reports:pdf", firm, report_id=report.pk), follow=True)
        assert "missing or was altered on disk" in answer.content.decode()


class TestJob:
    def test_it_polls_while_it_runs_and_reloads_the_page_once_over(
        self, signed_in, technician, firm, record, job, now
    ):
        client = signed_in(technician)
        address = url("job", firm, job_id=job.pk)
        answer = client.get(address)
        assert f'hx-get="{address}"' in answer.content.decode()
        assert "HX-Refresh" not in answer
        end_job(job_id=job.pk, now=now, message="9 pages")
        answer = client.get(address)
        assert answer["HX-Refresh"] == "true"
        assert "hx-get" not in answer.content.decode()
        assert "9 pages" in answer.content.decode()
