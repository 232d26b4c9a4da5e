"""A signed visit, and its report as the task renders it."""

import pytest

from contractor.reports import queries, tasks
from contractor.tenancy.scope import scope
from tests import factories
from tests.reports import flow


@pytest.fixture
def stranger(other_firm):
    """The principal of another firm; ask for it before anything that stands inside ours."""
    with scope(other_firm.pk):
        return factories.MemberFactory(firm=other_firm, role="principal")


@pytest.fixture
def record(building, office, technician, now):
    """Quillmarsh House, three detectors, the last one not tested; signed off."""
    return flow.sign_visit(building=building, office=office, technician=technician, now=now)


@pytest.fixture
def job(record):
    """The job that its sign-off queued."""
    return flow.job_of(record)


@pytest.fixture
def report(record, job, firm):
    """Its report, rendered by the task itself."""
    tasks.render_visit(firm_id=str(firm.pk), record_id=str(record.pk), job_id=str(job.pk))
    return queries.find_report(record=record)
