"""The large tables are reached by index, as the application's own role and behind row security.

A condition by a function that may leak never reaches an index behind row security; ten thousand
detectors then take minutes. Small tables are read whole for good reasons, so reading them whole is
switched off here, and what has no index shows.
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.tenancy.scope import scope
from tests import factories

LARGE = (
    "readings_reading", "register_device", "due_due", "due_dueline", "drift_forecast",
    "visits_entry", "visits_visitdevice",
)  # fmt: skip
PAGES = (
    "", "due/", "buildings/", "visits/", "findings/", "drift/", "reports/", "audit/",
    "buildings/{building}/", "devices/{device}/", "buildings/{building}/drift/",
)  # fmt: skip


@pytest.mark.django_db
def test_no_page_reads_a_large_table_whole(client, firm, now):
    with scope(firm.pk):
        member = factories.MemberFactory(firm=firm, role="principal")
        building = factories.BuildingFactory(firm=firm)
        system = factories.SystemFactory(building=building)
        device = factories.DeviceFactory(system=system)
        factories.ReadingFactory(device=device)
    client.force_login(member.user)
    looked_at, whole = 0, []
    for page in PAGES:
        address = f"/f/{firm.slug}/" + page.format(building=building.pk, device=device.pk)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        with scope(firm.pk), connection.cursor() as cursor:
            cursor.execute("set local enable_seqscan to off")
            for query in queries:
                said = query["sql"].strip()
                if not said.startswith(("SELECT", "WITH", "select", "with")):
                    continue
                if not any(f'"{table}"' in said or f" {table}" in said for table in LARGE):
                    continue
                cursor.execute("explain " + said.replace("%", "%%"), ())
                plan = "\n".join(row[0] for row in cursor.fetchall())
                looked_at += 1
                whole += [
                    (page, table, said[:300]) for table in LARGE if f"Seq Scan on {table}" in plan
                ]
    assert looked_at > 10
    assert whole == []
