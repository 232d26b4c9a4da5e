"""A record as a visit would seal it, invented, with as many devices as asked."""

from datetime import UTC, datetime
from typing import Any

from contractor.reports import pdf

SEALED_AT = datetime(2026, 3, 12, 9, 40, tzinfo=UTC)
HASH = "9c417be052d8f316a07d3e95c12b684f" * 2
GRADE = "from memory, check against a licensed copy"


def reading(*, at: int, verdict: str = "in_range", stage: str = "as_found") -> dict[str, Any]:
    """One reading: held at 2.5 %/ft, marked 1.0 to 3.5."""
    drift = {"in_range": 0.02 * (at % 35), "nearing_limit": 1.0, "out_of_range": 1.3}[verdict]
    return {
        "stage": stage,
        "typed": {"drift": f"{drift:.2f}"},
        "measured": None,
        "setting": 2.5,
        "drift": round(drift, 4),
        "limit": 1.25,
        "used": round(drift / 1.25, 4),
        "marked_low": 1.0,
        "marked_high": 3.5,
        "verdict": verdict,
        "reason": "The correction is used up." if verdict == "out_of_range" else "",
        "override_reason": "",
        "rule": "marked range",
        "method": "listed control equipment",
        "instrument": "",
        "taken_on": "2026-03-11",
    }


def history(drift: float) -> list[dict[str, Any]]:
    """Five yearly readings up to a drift, cleaned once."""
    return [
        {
            "on": f"{year}-03-11",
            "drift": round(drift * share, 4),
            "limit": 1.25,
            "counted": True,
            "run_cause": cause,
        }
        for year, share, cause in (
            (2020, 0.0, "installed"),
            (2021, 0.4, ""),
            (2022, 0.1, "cleaned"),
            (2024, 0.6, ""),
            (2026, 1.0, ""),
        )
    ]


def device(at: int, *, zone: int, result: str = "pass", verdict: str = "in_range") -> dict:
    """One smoke detector; every seventh device is a manual station."""
    is_detector = at % 7 != 6
    absent = result == "not_tested"
    taken = reading(at=at, verdict=verdict) if is_detector and not absent else None
    state = {"result": result, "reason": "", "by": "" if absent else "T. Varsk", "at": None}
    if absent:
        state["reason"] = "Roof closed, ice"
    if result == "fail":
        state["reason"] = "Does not latch" if not is_detector else "The correction is used up."
    return {
        "id": f"00000000-0000-0000-0000-{at:012d}",
        "address": f"{zone}-{at % 250:03d}",
        "label": f"Kitchen corridor {at}",
        "area": f"Zone {zone}",
        "area_words": f"Level {zone}, kitchen and hall",
        "kind": "smoke" if is_detector else "manual",
        "kind_words": "smoke detector" if is_detector else "manual station",
        "product": "Ostrel P2" if is_detector else "",
        "serial": "",
        "system": "Main system",
        "result": result,
        "tasks": {"functional": state} | ({"sensitivity": state} if is_detector else {}),
        "not_tested_reason": state["reason"] if absent else "",
        "readings": [taken] if taken else [],
        "actions": [],
        "next": {
            "due_on": "2031-03-11",
            "basis": "extended",
            "clause": "14.4.4.3.3",
            "extended": True,
            "reasons": [
                {"on": "2020-03-10", "text": "in range."},
                {"on": "2022-03-11", "text": "in range, the second required test"},
            ],
        }
        if is_detector
        else None,
        "history": history(taken["drift"]) if taken else [],
    }


def record(*, devices: int = 40, zones: int = 4, paper: str = "letter", **visit: Any) -> dict:
    """A record of a visit to Quillmarsh House: mostly well, some not."""
    listed = []
    for at in range(devices):
        result, verdict = "pass", "in_range"
        if at % 41 == 5:
            result, verdict = "fail", "out_of_range"
        elif at % 19 == 8:
            result = "not_tested"
        elif at % 13 == 3:
            verdict = "nearing_limit"
        listed.append(device(at, zone=at * zones // devices + 1, result=result, verdict=verdict))
    results = [one["result"] for one in listed]
    verdicts = [one["readings"][0]["verdict"] for one in listed if one["readings"]]
    return {
        "format": "driftbook-record/1",
        "firm": {
            "name": "Tarnbeck Alarm Service (invented)",
            "address": "3 Cooperage Lane\nPort Ellory",
            "telephone": "555 0100",
            "email": "office@tarnbeck.example",
            "licence": "FA 20417 (invented)",
            "paper": paper,
        },
        "property": {
            "building": "Quillmarsh House",
            "address": "14 Saltgate Row, Port Ellory",
            "customer": "Saltgate Estates (invented)",
            "jurisdiction": "Port Ellory",
            "authority": "Port Ellory fire prevention office",
            "authority_address": "1 Quay Street, Port Ellory",
            "monitoring": "Ellory Watch, account 4471",
            "time_zone": "America/New_York",
        },
        "visit": {
            "id": "00000000-0000-0000-0000-00000000aaaa",
            "planned_on": "2026-03-11",
            "began_on": "2026-03-11",
            "ended_on": "2026-03-11",
            "tasks": ["functional", "sensitivity"],
            "tasks_in_words": "functional test, sensitivity test",
            "frequency": "functional test: annual; sensitivity test: by its interval",
            "purpose": "annual test",
            "notified_before": "Station told at 7:42 by T. Varsk",
            "notified_after": "Station told at 15:20 by T. Varsk; 31 signals sent, 31 received",
            "revision": 1,
            "reason": "",
        }
        | visit,
        "systems": [{"name": "Main system", "control_unit": "Ostrel C4 (invented)"}],
        "edition": {
            "key": "nfpa72-2013",
            "title": "NFPA 72, 2013 edition",
            "clauses": [
                {"task": "functional test", "clause": "Table 14.4.3.2", "grade": GRADE},
                {
                    "task": "sensitivity test: Five methods are permitted.",
                    "clause": "14.4.4.3.4",
                    "grade": GRADE,
                },
            ],
        },
        "people": [
            {
                "name": "T. Varsk",
                "role": "technician",
                "licence": "TX-4471 (invented)",
                "part": f"tested {devices} devices",
            },
            {
                "name": "I. Tarrowby",
                "role": "office",
                "licence": "",
                "part": "reviewed and signed off",
            },
        ],
        "instruments": [
            {
                "name": "Sensitivity tester no. 2",
                "serial": "ST-0207",
                "calibrated_on": "2026-01-15",
                "calibration_ends_on": "2026-12-05",
            }
        ],
        "methods": ["listed control equipment"],
        "devices": listed,
        "counts": {
            "devices": devices,
            "passed": results.count("pass"),
            "failed": results.count("fail"),
            "not_tested": results.count("not_tested"),
            "in_range": verdicts.count("in_range"),
            "nearing": verdicts.count("nearing_limit"),
            "out": verdicts.count("out_of_range"),
            "not_judged": 0,
        },
        "findings": [
            {
                "severity": "critical_deficiency",
                "severity_words": "critical deficiency",
                "device": "1-005 Kitchen corridor 5",
                "address": "1-005",
                "title": "Correction used up",
                "text": "Clean or replace it.",
                "found_on": "2026-03-11",
                "corrected_on": None,
                "correction": "",
            }
        ],
        "impairments": [
            {
                "title": "Loop 2 open after building work",
                "what": "Loop 2, level 3",
                "began_at": "2026-02-03T07:40:00-05:00",
                "back_at": "2026-02-03T18:10:00-05:00",
                "is_over": True,
                "hours": 10.5,
                "measures": ["Cable spliced in ceiling 3.12"],
                "rounds": 20,
                "first_round_at": "2026-02-03T08:00:00-05:00",
                "last_round_at": "2026-02-03T17:30:00-05:00",
                "watched_by": ["O. Brandt", "K. Liss"],
                "told": [
                    {
                        "at": "2026-02-03T07:50:00-05:00",
                        "whom": "Port Ellory fire prevention office",
                        "what": "the authority, more than 8 hours",
                        "text": "",
                    }
                ],
                "corrected_on": "2026-02-03",
                "correction": "New splice",
                "proof": "All 41 devices of the loop tested again",
            }
        ],
        "notes": [
            {"by": "T. Varsk", "at": "2026-03-11T18:00:00+00:00", "text": "Key at the desk."}
        ],
        "cautions": [
            "What was not tested is listed with its reason, as prominently as what passed."
        ],
        "statement": "Whether the installation meets the adopted code is for the authority having "
        "jurisdiction to decide.",
        "sealed": {"at": SEALED_AT.isoformat(), "by": "I. Tarrowby", "revision": 1},
    }


def seal(**more: Any) -> pdf.Sealed:
    """Its seal, invented."""
    return pdf.Sealed(
        record_hash=HASH,
        chain_number=1318,
        chain_hash="ab" * 32,
        sealed_at=SEALED_AT,
        verify_at="https://driftbook.example/verify/",
        **more,
    )


def outlook(*, detectors: int = 12) -> dict[str, Any]:
    """An outlook of Quillmarsh House as it would be gathered, invented."""
    base = record(devices=3, zones=1)

    def job(words: str, often: str, devices: int, year: int) -> dict[str, Any]:
        return {"words": words, "often": often, "devices": devices, "latest": f"{year}-12-20"}

    years = [
        {
            "first": f"{year}-03-01",
            "last": f"{year + 1}-02-28",
            "stops": [
                {
                    "on": f"{year}-{month}-15",
                    "booked": year == 2026,
                    "latest": f"{year}-12-20",
                    "jobs": [
                        job("functional test", "annual", 61, year),
                        job("inspection", "semiannual", 0, year),
                    ],
                }
                for month in ("06", "11")
            ],
            "expected": 1.4,
            "lives": int(year == 2027),
        }
        for year in range(2026, 2031)
    ]
    return {
        "format": "driftbook-outlook/1",
        "firm": base["firm"],
        "property": base["property"],
        "edition": {"title": base["edition"]["title"]},
        "on": "2026-03-11",
        "first": "2026-03-01",
        "last": "2031-02-28",
        "years": years,
        "followed": 61,
        "detectors": [
            {
                "address": f"1-{at:03d}",
                "label": f"Kitchen corridor {at}",
                "area": "Zone 1",
                "chances": [0.1, 0.3, 0.5, 0.7, 0.9],
                "even_on": "2029-01-10",
                "is_over": False,
                "readings": 6,
            }
            for at in range(detectors)
        ],
        "more_detectors": 0,
        "lives": [
            {
                "on": "2027-10-01",
                "words": "replacement",
                "why": "made 2012; 15 years end then",
                "clause": "14.4.5",
                "devices": ["B1 battery", "1-009 Attic"],
            }
        ],
        "assumptions": ["Each task is done on the day shown."],
        "owners": ["inspection, weekly"],
        "statement": base["statement"],
    }
