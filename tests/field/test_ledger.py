"""What the operator says of backups and restores reaches the tablets."""

from datetime import UTC, datetime

import pytest
from django.core.management import CommandError, call_command

from contractor.field import services


def test_a_backup_is_noted(firm, inside):
    call_command("field_backup_taken", "2026-11-25T02:10:00+00:00", verbosity=0)

    assert services.get_ledger(firm_id=firm.pk).backed_up_to == datetime(
        2026, 11, 25, 2, 10, tzinfo=UTC
    )


@pytest.mark.parametrize("moment", ["yesterday", "2026-11-25T02:10:00"])
def test_a_backup_without_its_moment_is_refused(firm, inside, moment):
    with pytest.raises(CommandError, match="2026-11-25T02:10"):
        call_command("field_backup_taken", moment)


def test_a_restore_begins_a_new_epoch(firm, inside):
    before = services.get_ledger(firm_id=firm.pk).epoch

    call_command("field_restored", verbosity=0)

    assert services.get_ledger(firm_id=firm.pk).epoch != before
