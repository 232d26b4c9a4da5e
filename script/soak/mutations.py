#!/usr/bin/env python
"""Does anything notice when one check is taken away?

    script/soak/run mutations                  200 mutations, chosen evenly by chance
    script/soak/run mutations --many 50 --seed 2

One check at a time is removed from the running program: a door's permission, a guard ("if not … :
raise"), one condition of a filter or of an "and", the firm of a key between rows, a table's row
security, an append-only grant, the managers' filter. Then the tests that should notice run, in a
process of its own; a mutation that none of them notices is printed. Filters by firm inside a
query are not taken: behind them stand manager and row security, which are taken.

Everything runs in one pytest session over one database; each mutation is a fork of it. Before it
begins, the tests run once without a mutation; where they do not pass in a fork it says so and ends,
which some of the tablet's do so far: no figure has come of it yet.
"""

import argparse
import ast
import gc
import os
import random
import sys
import types
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: Where checks stand, and which tests should notice; the first part of a test's name.
WATCHED = {
    "contractor/web/door.py": ["tests/web/test_doors.py", "tests/test_wall.py"],
    "contractor/tenancy/scope.py": ["tests/tenancy", "tests/test_wall.py"],
    "contractor/tenancy/queries.py": ["tests/tenancy", "tests/web", "tests/test_wall.py"],
    "contractor/owners/door.py": ["tests/owners", "tests/test_wall.py"],
    "contractor/owners/queries.py": ["tests/owners"],
    "contractor/owners/sharing.py": ["tests/owners/test_sharing.py"],
    "contractor/owners/shared_views.py": ["tests/owners/test_sharing.py"],
    "contractor/field/door.py": ["tests/field/test_tablet.py", "tests/test_wall.py::TestTablets"],
    "contractor/field/services/enrolling.py": [
        "tests/field/test_tablet.py",
        "tests/field/test_office.py",
        "tests/field/test_ledger.py",
    ],
    "contractor/field/queries.py": ["tests/field/test_tablet.py", "tests/field/test_office.py"],
    "contractor/readings/api.py": ["tests/readings/test_by_itself.py"],
    "contractor/operations/views.py": ["tests/operations/test_health.py"],
    "contractor/web/limits.py": ["tests/test_headers.py"],
}
SLOW = ("test_schedules", "TestEachLockAlone", "every_route_carries", "a_drill_returns")
READS = {"filter", "get", "exclude", "get_or_create", "or_404"}
FIRM = {"firm_id", "firm", "firm_id__in"}


@dataclass
class Mutation:
    """One check, how it is taken away and given back, and who should notice."""

    name: str
    kind: str
    remove: Callable[[], None]
    noticed_by: list[str]
    restore: Callable[[], None] = field(default=lambda: None)


# --- checks in functions ------------------------------------------------------------------------


class Without(ast.NodeTransformer):
    """Take the n-th check away."""

    def __init__(self, wanted: int) -> None:
        self.wanted, self.seen, self.said = wanted, -1, ""

    def _is_it(self, said: str) -> bool:
        self.seen += 1
        if self.seen == self.wanted:
            self.said = said
        return self.seen == self.wanted

    def visit_If(self, node: ast.If) -> Any:
        self.generic_visit(node)
        leaves = isinstance(node.body[-1], ast.Raise | ast.Return)
        if leaves and self._is_it(f"if {ast.unparse(node.test)}"):
            node.test = ast.Constant(False)
        return node

    def visit_BoolOp(self, node: ast.BoolOp) -> Any:
        self.generic_visit(node)
        if isinstance(node.op, ast.And):
            for place, value in enumerate(node.values):
                if self._is_it(f"and {ast.unparse(value)}"):
                    kept = [each for at, each in enumerate(node.values) if at != place]
                    return kept[0] if len(kept) == 1 else ast.BoolOp(node.op, kept)
        return node

    def visit_Call(self, node: ast.Call) -> Any:
        self.generic_visit(node)
        called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        if called in READS:
            for given in list(node.keywords):
                if given.arg and given.arg not in FIRM and self._is_it(ast.unparse(given)):
                    node.keywords.remove(given)
        return node


def codes_in(code: types.CodeType) -> Iterator[types.CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            yield constant
            yield from codes_in(constant)


def function_mutations() -> Iterator[Mutation]:
    for file, tests in WATCHED.items():
        path = ROOT / file
        if not path.exists():
            continue
        for number in range(10_000):
            without = Without(number)
            tree = without.visit(ast.parse(path.read_text()))
            if not without.said:
                break
            ast.fix_missing_locations(tree)
            yield Mutation(
                f"{file}: {without.said[:90]}",
                "check",
                lambda path=path, tree=tree: swap(path, tree),  # type: ignore[misc]
                tests,
            )


class Inapplicable(Exception):
    """The mutated code cannot stand where the function lives, or is never called as a function."""


def swap(path: Path, tree: ast.Module) -> None:
    """Give every living function of the file its mutated code."""
    new = {code.co_qualname: code for code in codes_in(compile(tree, str(path), "exec"))}
    changed = 0
    for function in gc.get_objects():
        if not isinstance(function, types.FunctionType):
            continue
        old = function.__code__
        code = new.get(old.co_qualname)
        if code is None or old.co_filename != str(path):
            continue
        if code.co_freevars != old.co_freevars:
            raise Inapplicable
        changed += (code.co_code, code.co_names) != (old.co_code, old.co_names)
        function.__code__ = code
    if not changed:
        raise Inapplicable


# --- doors, keys, walls, grants -----------------------------------------------------------------


def door_mutations() -> Iterator[Mutation]:
    """Weaken each page's permission to the weakest, and take weak doors away."""
    from django.urls import URLPattern, URLResolver, get_resolver

    from contractor.tenancy.permissions import Permission
    from contractor.web.door import firm_view, open_view

    def walk(patterns: Any) -> Iterator[Any]:
        for pattern in patterns:
            if isinstance(pattern, URLResolver):
                yield from walk(pattern.url_patterns)
            elif isinstance(pattern, URLPattern):
                yield pattern

    for pattern in walk(get_resolver().url_patterns):
        view = pattern.callback
        label = getattr(view, "door", "")
        if not str(label).startswith("firm:") or not hasattr(view, "__wrapped__"):
            continue
        weak = label == f"firm:{Permission.READ}"
        other = open_view("mutated") if weak else firm_view(Permission.READ)

        def remove(pattern: Any = pattern, other: Any = other, view: Any = view) -> None:
            pattern.callback = other(view.__wrapped__)
            for module in list(sys.modules.values()):  # the walk's own list of routes
                routes = getattr(module, "ROUTES", None)
                if isinstance(routes, list):
                    routes[:] = [
                        (path, name, pattern.callback if found is view else found)
                        for path, name, found in routes
                    ]

        yield Mutation(
            f"{pattern.name}: {label} weakened", "door", remove, ["tests/test_doors_list.py"]
        )


def key_mutations() -> Iterator[Mutation]:
    from django.apps import apps

    from contractor.tenancy.constraints import SameFirm

    for model in apps.get_models():
        for constraint in model._meta.constraints:
            if isinstance(constraint, SameFirm):
                yield Mutation(
                    f"{model._meta.label}: SameFirm({constraint.field})",
                    "key",
                    lambda m=model, c=constraint: m._meta.constraints.remove(c),  # type: ignore[misc]
                    ["tests/test_doors_list.py"],
                )


def as_owner(statement: str) -> None:
    from django.db import connections

    with connections["owner"].cursor() as cursor:
        cursor.execute(statement)
    connections["owner"].close()


def wall_mutations() -> Iterator[Mutation]:
    from django.db import connections

    from contractor.tenancy import wall

    with connections["owner"].cursor() as cursor:
        cursor.execute(wall.TABLES)
        tables = [row[0] for row in cursor.fetchall() if row[1]]
    connections["owner"].close()
    schema = ["tests/test_wall.py::TestSchema"]
    for table in tables:
        for off, on in (
            ("DISABLE ROW LEVEL SECURITY", "ENABLE ROW LEVEL SECURITY"),
            ("NO FORCE ROW LEVEL SECURITY", "FORCE ROW LEVEL SECURITY"),
        ):
            change = f'ALTER TABLE "{table}" '
            yield Mutation(
                change + off,
                "wall",
                lambda said=change + off: as_owner(said),  # type: ignore[misc]
                schema,
                lambda said=change + on: as_owner(said),  # type: ignore[misc]
            )
        drop = f'DROP POLICY firm_wall ON "{table}"'
        make = f'CREATE POLICY firm_wall ON "{table}" USING ({wall.POLICY})'
        yield Mutation(
            drop,
            "wall",
            lambda said=drop: as_owner(said),  # type: ignore[misc]
            schema,
            lambda said=make: as_owner(said),  # type: ignore[misc]
        )
    for table in sorted(wall.APPEND_ONLY):
        yield Mutation(
            f'GRANT UPDATE ON "{table}"',
            "grant",
            lambda said=f'GRANT UPDATE ON "{table}" TO app': as_owner(said),  # type: ignore[misc]
            schema,
            lambda said=f'REVOKE UPDATE ON "{table}" FROM app': as_owner(said),  # type: ignore[misc]
        )


# --- the session --------------------------------------------------------------------------------


class Mutating:
    """Run the tests once as they are, then for each mutation those that should notice."""

    def __init__(self, many: int, seed: int, only: str) -> None:
        self.many, self.seed, self.only = many, seed, only
        self.code = 1

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        from pytest_django.plugin import blocking_manager_key

        items = [item for item in session.items if not any(s in item.nodeid for s in SLOW)]
        first = next(item for item in items if "TestSchema" in item.nodeid)
        assert self.passes(session, [first]), "TestSchema fails as it stands"
        # Between tests pytest-django keeps the database shut.
        session.config.stash[blocking_manager_key].unblock()
        every = [
            *function_mutations(), *door_mutations(), *key_mutations(), *wall_mutations(),
        ]  # fmt: skip
        every = [each for each in every if self.only in each.kind]
        # Each kind by its share, but checks and doors before the many alike.
        chance = random.Random(self.seed)
        chance.shuffle(every)
        share = {"check": 0.45, "door": 0.3, "key": 0.1, "wall": 0.1, "grant": 0.05}
        chosen: list[Mutation] = []
        for kind, part in share.items():
            of_kind = [each for each in every if each.kind == kind]
            chosen += of_kind[: max(1, round(self.many * part))] if of_kind else []
        chance.shuffle(chosen)
        # What fails without a mutation would notice all of them, and none.
        for starts in {tuple(mutation.noticed_by) for mutation in chosen}:
            whole = Mutation("nothing", "none", lambda: None, list(starts))
            wanted = [item for start in starts for item in items if item.nodeid.startswith(start)]
            if self.is_noticed(session, whole, wanted):
                sys.exit(f"As it stands this fails: {', '.join(starts)}")
        survivors: list[Mutation] = []
        counted = 0
        for number, mutation in enumerate(chosen, 1):
            wanted = [
                item
                for start in mutation.noticed_by
                for item in items
                if item.nodeid.startswith(start)
            ]
            noticed = self.is_noticed(session, mutation, wanted)
            if noticed is None:
                continue
            counted += 1
            if not noticed:
                survivors.append(mutation)
            print(f"{number:4} {'' if noticed else 'NOT '}noticed  {mutation.name}", flush=True)
        share_noticed = 1 - len(survivors) / counted
        print(f"\n{counted} mutations, {len(survivors)} not noticed: {share_noticed:.1%}")
        self.code = 0 if share_noticed >= 0.99 else 1
        return True

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            os.write(2, f"{report.nodeid}: {report.longreprtext[-1500:]}\n".encode())

    def passes(self, session: pytest.Session, items: list[pytest.Item]) -> bool:
        """Run items; end at the first that fails."""
        for place, item in enumerate(items):
            # After the last, all but the session's own is torn down: what follows lies elsewhere.
            elsewhere = (each for each in session.items if each.path != item.path)
            outermost = min(elsewhere, key=lambda each: len(each.path.parts))
            after = items[place + 1] if place + 1 < len(items) else outermost
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            if session.testsfailed:
                return False
        return True

    def is_noticed(
        self, session: pytest.Session, mutation: Mutation, items: list[pytest.Item]
    ) -> bool | None:
        from django.db import connection, connections

        connection.close_pool()
        connections.close_all()
        child = os.fork()
        if child == 0:
            void = os.open(os.devnull, os.O_WRONLY)
            os.dup2(void, 1)
            if mutation.kind != "none":
                os.dup2(void, 2)
            try:
                mutation.remove()
                code = 0 if self.passes(session, items) else 3
            except Inapplicable:
                code = 4
            except BaseException:
                code = 3
            os._exit(code)
        _, status = os.waitpid(child, 0)
        mutation.restore()
        code = os.waitstatus_to_exitcode(status)
        return None if code == 4 else code != 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--many", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="one kind: check, door, key, wall, grant")
    asked = parser.parse_args()
    plugin = Mutating(asked.many, asked.seed, asked.only)
    tests = sorted({start.partition("::")[0] for starts in WATCHED.values() for start in starts})
    tests = [test for test in tests if (ROOT / test).exists()]
    more = ["tests/test_doors_list.py"]
    tests += [test for test in more if (ROOT / test).exists()]
    ended = pytest.main(["-q", "-p", "no:cacheprovider", "--no-header", *tests], plugins=[plugin])
    return plugin.code if ended in (0, 1) else int(ended)


if __name__ == "__main__":
    sys.exit(main())
