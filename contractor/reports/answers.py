"""Answer a kept report as a file; the firm's pages and the owner's share it."""

import logging

from django.http import HttpResponse
from django.utils.text import slugify

from contractor.reports.models import Bundle, OutlookPaper, Report
from contractor.tenancy import files

log = logging.getLogger(__name__)


class UnableToOpen(Exception):
    """The file cannot be handed out; the text says what is so and what to do."""


def answer_pdf(report: Report) -> HttpResponse:
    """Answer a report's bytes, to be shown in the browser.

    Raises
    ------
    UnableToOpen
        If the file is gone, or is not what was kept.
    """
    if not report.sha256:
        raise UnableToOpen(
            "The content of this record was removed after its time to be kept. Its fingerprint and "
            "its place in the chain stay."
        )
    try:
        data = files.fetch(firm_id=report.firm_id, sha256=report.sha256)
    except (FileNotFoundError, ValueError) as error:
        log.exception("The file of report %s cannot be handed out", report.pk)
        raise UnableToOpen(
            "The file of this report is missing or was altered on disk. Bring it back from the "
            "backup; the signed record is not touched."
        ) from error
    visit = report.record.visit
    name = f"{slugify(visit.building.name) or 'report'}-{visit.planned_on:%Y-%m-%d}"
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={
            "Content-Disposition": (
                f'inline; filename="{name}-revision-{report.record.revision}.pdf"'
            ),
            "X-Content-Type-Options": "nosniff",
        },
    )


def answer_outlook(outlook: OutlookPaper) -> HttpResponse:
    """Answer a printed outlook's bytes, to be shown in the browser.

    Raises
    ------
    UnableToOpen
        If the file is gone, or is not what was kept.
    """
    try:
        data = files.fetch(firm_id=outlook.firm_id, sha256=outlook.sha256)
    except (FileNotFoundError, ValueError) as error:
        log.exception("The file of outlook %s cannot be handed out", outlook.pk)
        raise UnableToOpen(
            "This file is missing or was altered on disk. Print a new outlook."
        ) from error
    name = f"{slugify(outlook.building.name) or 'building'}-outlook-{outlook.made_on}.pdf"
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            "X-Content-Type-Options": "nosniff",
        },
    )


def answer_bundle(bundle: Bundle) -> HttpResponse:
    """Answer a bundle's bytes, to be kept.

    Raises
    ------
    UnableToOpen
        If the file is gone, or is not what was kept.
    """
    try:
        data = files.fetch(firm_id=bundle.firm_id, sha256=bundle.sha256)
    except (FileNotFoundError, ValueError) as error:
        log.exception("The file of bundle %s cannot be handed out", bundle.pk)
        raise UnableToOpen(
            "This file is missing or was altered on disk. Make a new one; the records are safe."
        ) from error
    name = f"{slugify(bundle.building.name) or 'building'}-{bundle.made_at:%Y-%m-%d}.zip"
    return HttpResponse(
        data,
        content_type="application/zip",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "X-Content-Type-Options": "nosniff",
        },
    )
