"""Cases on which the tablet's JavaScript and the server's Python must say the same.

`python -m tests.field.vectors` writes them anew, by the Python of the engine. The tests hold both
to the files: a change of a rule shows as a change of a file.
"""

import json
import random
from decimal import Decimal
from pathlib import Path

from contractor.engine import label_codes
from contractor.engine.folding import Statement, fold
from contractor.engine.label_standing import Bound, stand
from contractor.field.canonical import canonical, hash_entry

DATA = Path(__file__).parent / "data"
ASKED = {"d": ["functional", "sensitivity"], "e": ["functional"]}


def fold_one(statements):
    """Fold statements to what the vectors hold."""
    folded = fold(
        statements=[
            Statement(**{**one, "supersedes": frozenset(one["supersedes"])}) for one in statements
        ],
        asked=ASKED,
    )
    return {
        device: {
            "outcome": state.outcome,
            "missing": list(state.missing),
            "tasks": {
                name: {
                    "outcome": task.outcome,
                    "heads": [one.id for one in task.heads],
                    "shown": [one.id for one in task.shown],
                    "as_left": [one.id for one in task.as_left],
                    "reason": task.reason,
                }
                for name, task in state.tasks.items()
            },
        }
        for device, state in folded.items()
    }


def make_folding():
    """Make histories in which people see some of what was said, and sometimes lie."""
    chance, cases = random.Random(72), []
    for _ in range(200):
        made = []
        for number in range(chance.randint(1, 9)):
            result = chance.choice(["pass", "pass", "fail", "not_tested", ""])
            made.append(
                {
                    "id": f"{chance.randrange(16**6):06x}-{number}",
                    "device": chance.choice("dddde"),
                    "task": chance.choice(["functional", "functional", "sensitivity"]),
                    "result": result,
                    "stage": chance.choice(["", "", "as_found", "as_left"]),
                    "reason": chance.choice(["", "Damaged", "Room locked"]) if result else "",
                    "author": chance.choice(["T. Varsk", "K. Oduya"]),
                    "value": chance.choice([None, None, 2.1, 2.11, 2.6]),
                    "supersedes": chance.sample(
                        [one["id"] for one in made], chance.randint(0, len(made))
                    ),
                }
            )
        if chance.random() < 0.2:
            made[0]["supersedes"] = [chance.choice(made)["id"]]
        chance.shuffle(made)
        cases.append({"statements": made, "folded": fold_one(made)})
    return cases


def judge_one(device, said):
    """Judge what is typed, on a device that is not in the database."""
    from contractor.readings.services import understand_typed
    from contractor.register.models import Device, Product

    def decimal(value):
        return None if value is None else Decimal(str(value))

    product = None
    if device["has_product"]:
        product = Product(
            marked_low=decimal(device["marked_low"]),
            marked_high=decimal(device["marked_high"]),
            compensation_limit=decimal(device["compensation_limit"]),
            limit_share_of_setting=decimal(device["limit_share"]),
            nearing_share=decimal(device["nearing_share"]),
        )
    found = understand_typed(
        device=Device(product=product, setting=decimal(device["setting"])), said=said
    )
    verdict = found.judged.verdict
    return {
        "state": str(verdict.state),
        "reason": verdict.reason,
        "rule": verdict.rule,
        "side": verdict.side,
        "used": verdict.allowance_used,
        "limit": found.judged.limit,
        "measured": found.evidence.measured,
        "drift": found.evidence.drift,
        "slips": found.slips,
        "problem": found.problem,
    }


def make_judging():
    """Make readings as people type them: in range, at the ends, out, slips, nonsense."""
    chance, cases = random.Random(268), []
    typed = [
        "",
        "2.5",
        "1.0",
        "3.5",
        "0.99",
        "3.51",
        "3.5000001",
        "25",
        "8,0",
        "0",
        "-1",
        "4",
        "4.2",
        "0.125",
        "2.445",
        "1e3",
        "x",
        "10",
        "100",
        "250",
        "7.97",
        "0.36",
        ".5",
        "2.",
        "–",
        "12 %",
    ]
    for _ in range(600):
        low, high = chance.choice(
            [(1.0, 3.5), (0.5, 4.0), (None, 3.8), (None, None), (1.2, None), (3.9, 1.0)]
        )
        has_product = chance.random() < 0.9
        device = {
            "has_product": has_product,
            "marked_low": low if has_product else None,
            "marked_high": high if has_product else None,
            "setting": chance.choice([2.5, 2.5, 3.0, None, 12.0, 0.4]),
            "compensation_limit": chance.choice([None, None, 1.25, 0.9]) if has_product else None,
            "limit_share": chance.choice([0.5, 0.4]) if has_product else 0.5,
            "nearing_share": chance.choice([0.75, 0.8]) if has_product else 0.75,
        }
        said = {
            "measured": chance.choice(typed),
            "drift": chance.choice(
                ["", "", "0.31", "0.93", "0.99", "1.25", "1,31", "0.9375", "-1"]
            ),
            "unit": chance.choice(["%/ft", "%/ft", "%/ft", "%/m", "dB/m"]),
            "used": chance.choice(["", "", "", "74", "75", "99.999", "101", "1200"]),
            "control_unit_says": chance.choice(["", "", "", "in range", "out of range"]),
        }
        cases.append({"device": device, "said": said, "judged": judge_one(device, said)})
    return cases


def make_hashing():
    """Make entries with whatever people write."""
    texts = [
        "plain",
        "Bäckerei, 2. OG",
        "“quoted” \\ /",
        "line\nbreak\ttab",
        "\u2028\u0007\u007f",
        "🔥 hot",
        "",
    ]
    cases = []
    for number, text in enumerate(texts):
        entry = {
            "id": str(number),
            "seq": number,
            "body": {"text": text, "z": [1, None, True, {"b": "2,5", "a": -3}]},
            "Ä": text,
        }
        cases.append({"entry": entry, "canonical": canonical(entry), "hash": hash_entry(entry)})
    return cases


def make_labels():
    """Make codes as they are scanned and typed, rightly and wrongly, and what was bound of them."""
    chance, read, bound = random.Random(37), [], []
    for _ in range(60):
        code = label_codes.draw_code(chance.randrange)
        at, other = chance.randrange(12), chance.choice(label_codes.ALPHABET)
        for text in (
            code,
            label_codes.say_code(code).lower(),
            f"HTTPS://HOST.EXAMPLE:8443/D/{code}",
            f"http://host/d/{code.lower()}/",
            f"https://host/other/{code}",
            code[:at] + other + code[at + 1 :],
            code.replace("0", "o").replace("1", "l"),
            f"  SN {code[:5]}\x1d-\u00e4 ",
        ):
            scanned = label_codes.read_scanned(text)
            read.append(
                {
                    "text": text,
                    "scanned": scanned,
                    "typed": label_codes.read_code(text),
                    "said": label_codes.say_code(scanned),
                }
            )
    for _ in range(120):
        made: list[dict] = []
        for number in range(chance.randint(0, 6)):
            seen = chance.sample([one["id"] for one in made], chance.randint(0, len(made)))
            device = chance.choice([None, "d1", "d1", "d2", "d3"])
            made.append(
                {
                    "id": f"{chance.randrange(16**6):06x}-{number}",
                    "device": device,
                    "replaces": seen,
                }
            )
        chance.shuffle(made)
        standing = stand(
            bindings=[Bound(one["id"], one["device"], frozenset(one["replaces"])) for one in made]
        )
        bound.append(
            {
                "bindings": made,
                "heads": [one.id for one in standing.heads],
                "device": standing.device,
                "disputed": standing.is_disputed,
            }
        )
    return [*read, *bound]


def make_measuring():
    """Sound levels, ranges and batteries, around each limit."""
    from contractor.engine import battery, editions, measuring
    from contractor.visits.services.measuring import STATES

    cases = []
    for mode in measuring.MODES:
        for ambient, loudest in ((None, None), (45, 66), (54, None), (None, 70), (30, 35)):
            for level in (40, 44.9, 45, 59, 64, 69, 71, 74.5, 75, 110, 110.5):
                verdict = measuring.judge_sound(
                    mode=mode, level_dba=level, ambient_dba=ambient, loudest_dba=loudest
                )
                said = {"level": level, "ambient": ambient, "loudest": loudest, "mode": mode}
                cases.append({"what": "sound", "said": _typed(said), "state": verdict.state})
    for low, high in ((None, None), (0.01, 1.11), (0.01, None), (None, 1.11)):
        for value in (0.009, 0.01, 0.5, 1.11, 1.12):
            verdict = measuring.judge_range(value=value, low=low, high=high)
            said = {"value": value, "low": low, "high": high, "unit": "in. w.c."}
            cases.append({"what": "range", "said": _typed(said), "state": verdict.state})
    for edition in ("nfpa72-2013", "nfpa72-2016", "nfpa72-2019", "nfpa72-2022"):
        rules = editions.get(edition).battery
        rule = rules and {
            "replace_at_or_below": rules.replace_at_or_below,
            "replace_soon_below": rules.replace_soon_below,
            "cells": {
                key: {"float": one.float_v, "tolerance": one.float_tolerance_v, "load": one.load_v}
                for key, one in rules.cells.items()
            },
        }
        for chemistry, volts, cells in (("vrla", 12, 6), ("vented", 24, 12), ("nicad", 12, 10)):
            for measured in (
                *({"float_v": cells * per} for per in (2.2, 2.27, 2.3, 2.33, 2.35, 1.4)),
                *({"load_v": cells * per} for per in (1.9, 1.92, 2.05, 2.1, 1.1)),
                *({"capacity_share": share} for share in (0.79, 0.8, 0.81, 0.84, 0.85, 0.9)),
                {"float_v": cells * 2.3, "load_v": cells * 1.0},
            ):
                verdict = battery.judge(
                    edition=edition, chemistry=chemistry, cells=cells, **measured
                )
                said = {"chemistry": chemistry, "volts": volts, **measured}
                if "capacity_share" in said:
                    said["capacity"] = round(said.pop("capacity_share") * 100, 6)
                cases.append(
                    {
                        "what": "battery",
                        "said": _typed(said),
                        "rule": rule,
                        "state": str(STATES[verdict.state]),
                    }
                )
    return cases


def _typed(said):
    return {
        key: one if isinstance(one, str) else f"{round(one, 6):g}"
        for key, one in said.items()
        if one is not None
    }


MADE = {
    "folding": make_folding,
    "judging": make_judging,
    "hashing": make_hashing,
    "labels": make_labels,
    "measuring": make_measuring,
}


def load(name):
    """Load one file of cases."""
    return json.loads((DATA / f"{name}.json").read_text())


def write():
    """Write all of them anew."""
    DATA.mkdir(exist_ok=True)
    for name, make in MADE.items():
        lines = ",\n".join(json.dumps(case, ensure_ascii=False, sort_keys=True) for case in make())
        (DATA / f"{name}.json").write_text(f"[\n{lines}\n]\n")


if __name__ == "__main__":
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    write()
