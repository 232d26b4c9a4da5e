"""The office's page of steps."""

import pytest
from django.urls import reverse

from tests import factories


@pytest.mark.django_db
@pytest.mark.parametrize(("kind", "status"), [("quoted", 200), ("", 404), ("demolished", 404)])
def test_only_the_steps_that_there_are(signed_in, office, building, firm, kind, status):
    finding = factories.FindingFactory(building=building)
    address = reverse("findings:step", kwargs={"firm": firm.slug, "finding_id": finding.pk})

    assert signed_in(office).get(address, {"kind": kind}).status_code == status
