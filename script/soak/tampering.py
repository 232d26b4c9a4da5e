#!/usr/bin/env python
"""Change single bits of every kind of paper and every value of a record: is each noticed?

    script/soak/run tampering                 300 places of each kind, each asked twice
    script/soak/run tampering --many 5000

The five kinds of paper (inspection and test report, sensitivity report, findings letter, device
list, five-year outlook) are made of an invented visit, signed and kept. Each changed file is shown
to a PDF library that checks signatures (pyHanko), and to the page that checks papers, which has to
say where it differs. Then every single value of the sealed record is changed, one at a time: its
fingerprint has to differ, and the verifier has to name the part.
"""

import argparse
import json
import logging
import os
import sys
import time
from datetime import UTC, datetime
from typing import Any

import django

os.environ.setdefault("SECRET_KEY", "only for soaks")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")


def main() -> int:
    """Make the papers, change them, count what was not noticed."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--many", type=int, default=300)
    options.add_argument("--seed", type=int, default=72)
    chosen = options.parse_args()
    django.setup()
    for name in ("pyhanko_certvalidator", "pyhanko.sign", "fontTools", "weasyprint"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    from django.core.management import call_command

    from contractor.tenancy.scope import scope
    from tests import factories
    from tests.reports import flow, tampering

    call_command("migrate", verbosity=0)
    now = datetime.now(UTC)
    firm = factories.firm(slug="tampering", name="Tarnbeck Alarm Service (invented)")
    failures = 0
    with scope(firm.pk):
        member = factories.MemberFactory(firm=firm, role="principal", name="P. Orla")
        building = factories.BuildingFactory(firm=firm)
        record = flow.sign_visit(building=building, office=member, technician=member, now=now)
        papers = {kind: tampering.keep(kind, record=record, now=now) for kind in tampering.KINDS}
        for kind, data in papers.items():
            failures += try_paper(kind, data, many=chosen.many, seed=chosen.seed)
        failures += try_record(record.body)
    print(f"not noticed in all: {failures}")
    return 1 if failures else 0


def try_paper(kind: str, data: bytes, *, many: int, seed: int) -> int:
    """Change a paper at many places, for the signature and for the page; count the missed."""
    from tests.reports import tampering

    began = time.monotonic()
    accepted = sum(
        tampering.is_intact(changed)
        for _, changed in tampering.change_signed(data, many=many, seed=seed)
    )
    missed, unplaced = tampering.list_missed(tampering.change_any(data, many=many, seed=seed + 1))
    print(
        f"{kind:<12} {len(data):>7,} bytes, {many:,} places: by signature {accepted} accepted; "
        f"by the page {len(missed)} not noticed, {unplaced} noticed but not placed "
        f"({time.monotonic() - began:.0f} s)",
        flush=True,
    )
    return accepted + len(missed)


def try_record(text: str) -> int:
    """Change each value of a record, however deep, and ask the verifier which part it is in."""
    from contractor.visits import verifier

    body = json.loads(text)
    sealed = verifier.fingerprint(text)
    tried = missed = 0
    for path in walk({key: value for key, value in body.items() if key != verifier.DIGESTS}):
        changed = json.loads(text)
        place: Any = changed
        for step in path[:-1]:
            place = place[step]
        was = place[path[-1]]
        place[path[-1]] = "changed" if not isinstance(was, str) else f"{was} "
        written = verifier.canonical(changed)
        said = verifier.locate(written)
        tried += 1
        if verifier.fingerprint(written) == sealed or not (
            len(said) == 1 and said[0].split(":")[0] == path[0]
        ):
            missed += 1
            print(f"record: {path} was changed, and the verifier said {said}")
    print(f"record       {tried:,} values changed one at a time: {missed} not noticed or not named")
    return missed


def walk(value: Any, path: tuple[Any, ...] = ()) -> Any:
    """Give the path of each value that holds no others."""
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            yield from walk(inner, (*path, key))
    elif isinstance(value, list) and value:
        for at, inner in enumerate(value):
            yield from walk(inner, (*path, at))
    else:
        yield path


if __name__ == "__main__":
    sys.exit(main())
