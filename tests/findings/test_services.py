"""Findings: one open one per device and cause, corrected with words and a day."""

from datetime import timedelta

import pytest

from contractor.findings import services
from contractor.findings.models import Finding
from contractor.tenancy.models import AuditLine

pytestmark = pytest.mark.django_db


@pytest.fixture
def found(building, detector, technician, now):
    return {
        "building": building,
        "device": detector,
        "title": "Sensitivity out of range",
        "cause": "out_of_range",
        "member": technician,
        "now": now,
    }


class TestOpenFinding:
    def test_found_again_is_the_same_finding(self, found):
        first = services.open_finding(severity="deficiency", **found)
        again = services.open_finding(severity="noncritical", **found)

        assert again.pk == first.pk
        assert Finding.objects.get().severity == "deficiency"

    def test_found_worse_is_raised_and_audited(self, found):
        first = services.open_finding(severity="deficiency", **found)
        services.open_finding(severity="critical_deficiency", **found)

        assert Finding.objects.get().severity == "critical_deficiency"
        assert AuditLine.objects.filter(subject_id=first.pk, action="finding.raised").exists()


class TestCorrectFinding:
    def test_needs_words_and_a_day_not_before_its_discovery(self, found, office, now):
        finding = services.open_finding(severity="deficiency", **found)
        for words, day, said in (
            (" ", now.date(), "what was done"),
            ("Replaced", now.date() - timedelta(days=1), "found on 25 Nov 2026"),
        ):
            with pytest.raises(services.UnableToChange, match=said):
                services.correct_finding(
                    finding=finding, correction=words, member=office, now=now, on=day
                )
        services.correct_finding(
            finding=finding, correction="Replaced", member=office, now=now, on=now.date()
        )

        with pytest.raises(services.UnableToChange, match="was corrected on 25 Nov 2026"):
            services.correct_finding(
                finding=finding, correction="Again", member=office, now=now, on=now.date()
            )

    def test_after_its_correction_the_same_thing_is_a_new_finding(self, found, office, now):
        finding = services.open_finding(severity="deficiency", **found)
        services.correct_finding(
            finding=finding, correction="Cleaned", member=office, now=now, on=now.date()
        )
        services.open_finding(severity="deficiency", **found)

        assert Finding.objects.count() == 2
