#!/usr/bin/env python
"""Time search: 200,000 devices of one firm, found by words, as the application's own role.

    script/bench/run search                     200,000 devices in 4,000 buildings
    script/bench/run search --devices 20000

Beside it stands the usual way: the same words by ILIKE over the same tables behind row security,
where no index may serve LIKE. Each search reads keys and rows, all five kinds.
"""

import argparse
import os
import statistics
import time
from collections.abc import Callable

import django

os.environ.setdefault("SECRET_KEY", "only for benchmarks")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, connections  # noqa: E402
from django.db.models import Q  # noqa: E402

from contractor.register.models import Customer, Device  # noqa: E402
from contractor.search import queries  # noqa: E402
from contractor.tenancy import services as tenancy  # noqa: E402
from contractor.tenancy.scope import scope  # noqa: E402

PER_BUILDING = 50
SEARCHES = (
    "2-114", "2-1", "quillmarsh 17", "saltgate 1202 1-012", "kitchen", "ser-0150000",
    "corridor level 3 quillmarsh 2999", "kichten coridor", "annual", "no such words",
)  # fmt: skip
FILL = """
    insert into register_building (id, firm_id, customer_id, name, street, town, region, postcode,
        time_zone, edition, jurisdiction, authority, authority_address, monitoring, instructions,
        releasing, second_test_rule, year_rule, use_extension, extension_approval,
        accreditor_windows, places, out_limits)
    select gen_random_uuid(), %(firm)s, %(customer)s,
        (array['Quillmarsh','Dunmere','Saltgate','Port Ellory'])[1 + n %% 4] || ' House ' || n,
        n || ' Row', 'Town ' || n %% 60, '', '', 'America/New_York', 'nfpa72-2013', '', '', '', '',
        '', '', 'code', 'rolling', true, '', false, '[]', '[]'
    from generate_series(1, %(buildings)s) n;
    insert into register_system (id, firm_id, building_id, name, control_unit, date_order)
    select gen_random_uuid(), %(firm)s, id, 'Main', '', 'mdy' from register_building
    where firm_id = %(firm)s;
    insert into register_device (id, firm_id, building_id, system_id, address, label, kind,
        component, circuit, unsafe_agreement, serial, position, latest_verdict, latest_reason)
    select gen_random_uuid(), %(firm)s, s.building_id, s.id,
        'L' || 1 + n %% 4 || 'D' || lpad((n * 3)::text, 3, '0'),
        (array['Kitchen corridor','Plant room','Office','Stair','Store'])[1 + n %% 5] || ' level '
            || n %% 9,
        'smoke', '', '', '', 'SER-' || lpad((row_number() over ())::text, 7, '0'), n,
        'not_judged', ''
    from register_system s, generate_series(1, %(each)s) n where s.firm_id = %(firm)s;
    insert into findings_finding (id, firm_id, building_id, severity, title, text, cause, found_at,
        found_on, disposition, out_what, correction, proof)
    select gen_random_uuid(), %(firm)s, id, 'deficiency', 'Compensation used up', '', '', now(),
        current_date, 'open', '', '', '' from register_building where firm_id = %(firm)s;
    insert into visits_visit (id, firm_id, building_id, planned_on, state, tasks, frequency,
        purpose, instructions, cautions, sent_back, notified_before, notified_after)
    select gen_random_uuid(), %(firm)s, id, current_date + 20, 'planned', '[]', '', 'Annual test',
        '', '[]', '', '', '' from register_building where firm_id = %(firm)s;
"""


def main() -> None:
    """Fill, search, print."""
    options = argparse.ArgumentParser()
    options.add_argument("--devices", type=int, default=200_000)
    options.add_argument("--times", type=int, default=20)
    chosen = options.parse_args()
    call_command("migrate", verbosity=0)
    began = time.perf_counter()
    firms = []
    for number, devices in enumerate((chosen.devices, chosen.devices // 10)):
        firm = tenancy.found_firm(slug=f"bench-{number}", name=f"Bench {number}")
        firms.append(firm.pk)
        with scope(firm.pk):
            customer = Customer.objects.create(firm_id=firm.pk, name="Saltgate Estates (invented)")
            with connection.cursor() as cursor:
                for statement in FILL.split(";\n")[:-1]:
                    cursor.execute(
                        statement,
                        {
                            "firm": firm.pk,
                            "customer": customer.pk,
                            "buildings": devices // PER_BUILDING,
                            "each": PER_BUILDING,
                        },
                    )
    with connections["owner"].cursor() as cursor:
        cursor.execute("vacuum analyze")
        cursor.execute(
            "select pg_size_pretty(sum(pg_relation_size(indexrelid))) from pg_stat_user_indexes"
            " where indexrelname like '%_words'"
        )
        size = cursor.fetchone()[0]
    spent = time.perf_counter() - began
    print(f"{chosen.devices:,} devices stand after {spent:.0f} s; indexes {size}")

    before = _scans()
    with scope(firms[0]):
        print(f"{'words':34}{'found':>6}{'median':>10}{'slowest':>10}{'ILIKE':>10}")
        worst = 0.0
        for words in SEARCHES:
            times, found = [], 0
            for _ in range(chosen.times):
                spent, found = _timed(
                    lambda words=words: queries.find(firm_id=firms[0], words=words, most=6).count
                )
                times.append(spent)
            usual, _ = _timed(lambda words=words: len(_usual(words)))
            worst = max(worst, max(times))
            print(
                f"{words:34}{found:>6}{statistics.median(times):>8.1f}ms{max(times):>8.1f}ms"
                f"{usual:>8.0f}ms"
            )
        print(f"slowest of {chosen.times * len(SEARCHES)}: {worst:.1f} ms")
    for index, scans in _scans().items():
        print(f"{index}: searched {scans - before[index]} times by this role")
    with scope(firms[0]), connection.cursor() as cursor:
        cursor.execute("select current_user, row_security_active('register_device')")
        print("role, row security:", cursor.fetchone())
        cursor.execute(
            "explain select id from register_device where firm_id = %s and"
            " lower(address || ' ' || label || ' ' || serial) like '%%ser-0150000%%'",
            [firms[0]],
        )
        print(
            "the same LIKE straight behind the wall:",
            *(row[0] for row in cursor.fetchall()),
            sep="\n    ",
        )


def _timed(act: Callable[[], int]) -> tuple[float, int]:
    began = time.perf_counter()
    found = act()
    return (time.perf_counter() - began) * 1000, found


def _usual(words: str) -> list[Device]:
    """Find devices as it is usually written."""
    found = Device.objects.filter(removed_on=None)
    for word in words.split():
        found = found.filter(
            Q(address__icontains=word)
            | Q(label__icontains=word)
            | Q(serial__icontains=word)
            | Q(building__name__icontains=word)
        )
    return list(found.select_related("building", "area", "product").order_by("address", "pk")[:6])


def _scans() -> dict[str, int]:
    with connections["owner"].cursor() as cursor:
        cursor.execute("select pg_stat_clear_snapshot()")
        cursor.execute(
            "select indexrelname, idx_scan from pg_stat_user_indexes"
            " where indexrelname like '%_words' order by 1"
        )
        return dict(cursor.fetchall())


if __name__ == "__main__":
    main()
