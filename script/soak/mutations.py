#!/usr/bin/env python
"""Does anything notice when one check is taken away?

    script/soak/run mutations                  200 mutations, chosen evenly by chance
    script/soak/run mutations --many 50 --seed 2
    script/soak/run mutations --only check --of "kind='log'" --of owners/sharing.py

One check at a time is removed from the running program: the permission of a page or of an operation
of the API, a guard ("if not … : raise"), what narrows a list, one condition of a filter or of a
guard's "and", what a page shows to some roles only, the firm of a key between rows, a table's row
security, an append-only grant. Then
the tests that should notice run, in a process of its own; a mutation that none of them notices is
printed. For a check in a function these are, of the tests named below, those that run the
function: each is run once before to learn that.
Filters by firm inside a query are not taken: behind them stand manager and row security, which are.

Everything runs in one pytest session over one database; each mutation is a fork of it, and what a
fork leaves behind in the database is taken out. A test that fails is run once more, in a fork of
its own and without the mutation: if it fails there too it is named and set aside, for it would
notice everything and nothing, and the others are asked.
"""

import argparse
import ast
import gc
import importlib
import json
import os
import random
import sys
import tempfile
import time
import types
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
_MAY = ["tests/web/test_may.py"]
_OFFERS = ["tests/web/test_offers.py"]
_API = ["tests/programs/test_filters.py", "tests/programs/test_examples.py"]
_BODIES = ["tests/programs/test_walls.py"]
#: Where checks stand, and which tests should notice; the first part of a test's name.
WATCHED = {
    "contractor/web/door.py": [
        "tests/web/test_doors.py",
        "tests/people/test_firm.py",
        "tests/test_wall.py",
    ],
    "contractor/web/api.py": ["tests/programs", "tests/readings/test_by_itself.py"],
    "contractor/web/context.py": [
        *_OFFERS,
        "tests/web/test_context.py",
        "tests/tenancy/test_sign_in.py",
    ],
    "contractor/web/limits.py": ["tests/test_headers.py", "tests/tenancy/test_failed.py"],
    "contractor/tenancy/scope.py": ["tests/tenancy", "tests/test_wall.py"],
    "contractor/tenancy/queries.py": [
        "tests/tenancy",
        "tests/web/test_doors.py",
        "tests/web/test_keeping.py",
        "tests/web/test_may.py",
        "tests/people",
        "tests/operations/test_health.py",
        "tests/test_wall.py",
    ],
    "contractor/owners/door.py": ["tests/owners", "tests/test_wall.py"],
    "contractor/owners/queries.py": ["tests/owners"],
    "contractor/owners/services.py": ["tests/owners"],
    "contractor/owners/sharing.py": ["tests/owners"],
    "contractor/owners/shared_views.py": ["tests/owners/test_sharing.py"],
    "contractor/field/door.py": [
        "tests/field/test_each_its_own.py",
        "tests/field/test_tablet.py",
        "tests/test_wall.py::TestTablets",
    ],
    "contractor/field/services/enrolling.py": [
        "tests/field/test_each_its_own.py",
        "tests/field/test_tablet.py",
        "tests/field/test_office.py",
        "tests/field/test_ledger.py",
    ],
    "contractor/field/queries.py": [
        "tests/field/test_each_its_own.py",
        "tests/field/test_tablet.py",
        "tests/field/test_office.py",
        "tests/field/test_unsent.py",
    ],
    "contractor/field/services/parting.py": ["tests/people"],
    "contractor/field/services/rescue.py": ["tests/field/test_office.py"],
    "contractor/operations/views.py": ["tests/operations/test_health.py"],
    "contractor/people/queries.py": ["tests/people"],
    "contractor/people/services/seats.py": ["tests/people"],
    "contractor/programs/authentication.py": ["tests/programs"],
    "contractor/programs/queries.py": ["tests/programs"],
    "contractor/programs/resource.py": ["tests/programs"],
    "contractor/programs/services/tokens.py": [
        "tests/programs/test_tokens.py",
        "tests/programs/test_each_its_own.py",
    ],
    "contractor/programs/outside.py": ["tests/programs/test_hooks.py"],
    "contractor/readings/api.py": [
        "tests/readings/test_by_itself.py",
        "tests/programs/test_each_its_own.py",
        *_API,
    ],
    "contractor/readings/services/addresses.py": [
        "tests/readings/test_by_itself.py",
        "tests/readings/test_mail.py",
    ],
    "contractor/tenancy/deeds.py": ["tests/web/test_keeping.py", "tests/visits/test_several.py"],
}
#: Pages and addresses of programs of which only what asks for a permission, answers 404 or narrows
#: a list is taken; what a form asks besides is the business of the tests of its area.
NARROWLY = [
    (
        "contractor/*/*views*",
        [*_MAY, "tests/{area}", "tests/test_wall.py::TestStrangers", *_OFFERS],
    ),
    ("contractor/*/api*", [*_API, *_BODIES, "tests/{area}"]),
]
SLOW = ("test_schedules", "TestEachLockAlone", "every_route_carries", "a_drill_returns", "killed")
READS = {"filter", "get", "exclude", "get_or_create", "or_404"}
#: What shows that a page asks who it is or what may be seen; or narrows by what a program asked.
ASKS = (
    ".may(", "PermissionDenied", "Http404", "self.asked", "made_by", "owner_id", "is_there",
    "is_open(", "read is None", "list_firm_ids(", "refuse(", "building_id !=",
)  # fmt: skip
#: The same in the files that are taken whole, beside whatever raises.
GUARDS = (
    "firm", "member", "user", "seat", "role", "permission", "token", "tablet", "factor", "limit",
    "allows", "scopes", "revoked", "left_on", "found is None", "pressed", "wait(", "too_", "valid",
    "bearer", "is_global", "HOOK_NETWORKS", "> link.ends_on", ".ends_at",
)  # fmt: skip
FIRM = {"firm_id", "firm", "firm_id__in"}


@dataclass
class Mutation:
    """One check, how it is taken away and given back, and who should notice."""

    name: str
    kind: str
    remove: Callable[[], None]
    noticed_by: list[str]
    restore: Callable[[], None] = field(default=lambda: None)
    #: The functions that it changes, by file and name: a test that runs none of them is not asked.
    within: frozenset[str] = frozenset()


# --- checks in functions ------------------------------------------------------------------------


class Without(ast.NodeTransformer):
    """Take the n-th check away."""

    def __init__(self, wanted: int, *, narrowly: bool = False) -> None:
        self.wanted, self.narrowly, self.seen, self.said = wanted, narrowly, -1, ""

    def _is_meant(self, *nodes: ast.AST) -> bool:
        """Tell whether it asks for a permission, answers 404, or narrows what was asked."""
        words = " ".join(ast.unparse(node) for node in nodes)
        return any(word in words for word in (ASKS if self.narrowly else GUARDS))

    def _is_it(self, said: str) -> bool:
        self.seen += 1
        if self.seen == self.wanted:
            self.said = said
        return self.seen == self.wanted

    def visit_If(self, node: ast.If) -> Any:
        last = node.body[-1]
        narrows = "self.asked" in ast.unparse(node.test)
        if isinstance(last, ast.Raise) and not self.narrowly:
            is_check = True
        else:
            is_check = isinstance(last, ast.Raise | ast.Return) or narrows
            is_check = is_check and self._is_meant(node.test, last)
        if is_check:
            node.test = self._less(node.test)
            if self._is_it(f"if {ast.unparse(node.test)}"):
                node.test = ast.Constant(False)
        self.generic_visit(node)
        return node

    def visit_Return(self, node: ast.Return) -> Any:
        """Weaken what answers whether something may be."""
        if node.value is not None and self._is_meant(node.value):
            node.value = self._less(node.value)
        self.generic_visit(node)
        return node

    def visit_Dict(self, node: ast.Dict) -> Any:
        """Show everybody what a page shows to those who may."""
        self.generic_visit(node)
        for place, (key, value) in enumerate(zip(node.keys, node.values, strict=True)):
            is_asked = isinstance(key, ast.Constant) and asks_what_may_be(value)
            if is_asked and self._is_it(f"shown to all: {ast.unparse(key)}"):  # type: ignore[arg-type]
                node.values[place] = ast.Constant(True)
        return node

    def visit_Assign(self, node: ast.Assign) -> Any:
        self.generic_visit(node)
        name = ast.unparse(node.targets[0])
        if asks_what_may_be(node.value) and self._is_it(f"shown to all: {name}"):
            node.value = ast.Constant(True)
        return node

    def _less(self, node: ast.expr) -> ast.expr:
        """Take one condition of an "and" away."""
        if isinstance(node, ast.BoolOp) and isinstance(node.op, ast.And):
            for place, value in enumerate(node.values):
                if self._is_it(f"and {ast.unparse(value)}"):
                    kept = [each for at, each in enumerate(node.values) if at != place]
                    return kept[0] if len(kept) == 1 else ast.BoolOp(node.op, kept)
        return node

    def visit_Call(self, node: ast.Call) -> Any:
        self.generic_visit(node)
        called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        if called in READS and not self.narrowly and not is_read_again(node, called):
            for given in list(node.keywords):
                is_filter = given.arg and given.arg not in FIRM | {"defaults"}
                if is_filter and self._is_it(ast.unparse(given)):
                    node.keywords.remove(given)
        return node


def asks_what_may_be(node: ast.expr) -> bool:
    """Tell a plain question for a permission: `may(…)`, also as one condition of several."""
    if isinstance(node, ast.BoolOp):
        return any(asks_what_may_be(value) for value in node.values)
    return isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] == "may"


def is_read_again(node: ast.Call, called: str) -> bool:
    """Tell whether a row in hand is read anew: `.get(pk=row.pk)`.

    Without the key it is the same row where there is one, and an error where there are several:
    nothing that anybody could see or do more.
    """
    return called == "get" and [
        given.arg for given in node.keywords if ast.unparse(given.value).endswith(".pk")
    ] == ["pk"]


def codes_in(code: types.CodeType) -> Iterator[types.CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            yield constant
            yield from codes_in(constant)


def watched() -> Iterator[tuple[Path, bool, list[str]]]:
    """List the files, whether only narrowly, and which tests should notice."""
    for file, tests in WATCHED.items():
        yield ROOT / file, False, tests
    for pattern, tests in NARROWLY:
        for place in sorted(ROOT.glob(pattern)):
            for path in [place] if place.is_file() else sorted(place.glob("*.py")):
                name = str(path.relative_to(ROOT))
                if path.suffix == ".py" and name not in WATCHED:
                    area = path.relative_to(ROOT).parts[1]
                    yield path, True, [test.format(area=area) for test in tests]


def function_mutations() -> Iterator[Mutation]:
    for path, narrowly, tests in watched():
        text = path.read_text()
        for number in range(10_000):
            without = Without(number, narrowly=narrowly)
            tree = without.visit(ast.parse(text))
            if not without.said:
                break
            ast.fix_missing_locations(tree)
            within = changed_in(path, text, tree)
            if not within:
                continue
            yield Mutation(
                f"{path.relative_to(ROOT)}: {without.said[:90]}",
                "check",
                lambda path=path, tree=tree: swap(path, tree),  # type: ignore[misc]
                tests,
                within=within,
            )


def own(code: types.CodeType) -> tuple[Any, ...]:
    """What a function does itself, without those inside it."""
    constants = [one for one in code.co_consts if not isinstance(one, types.CodeType)]
    return code.co_code, code.co_names, str(constants)


def changed_in(path: Path, text: str, tree: ast.Module) -> frozenset[str]:
    """Name the functions that differ."""
    was = {one.co_qualname: own(one) for one in codes_in(compile(text, str(path), "exec"))}
    new = {one.co_qualname: own(one) for one in codes_in(compile(tree, str(path), "exec"))}
    return frozenset(name_of(path, name) for name, what in new.items() if was.get(name) != what)


def name_of(path: Path, function: str) -> str:
    """Name a function as what was learned does: alike wherever the folder lies."""
    return f"{path.relative_to(ROOT)}: {function}"


class Inapplicable(Exception):
    """The mutated code cannot stand where the function lives, or is never called as a function."""


def swap(path: Path, tree: ast.Module) -> None:
    """Give every living function of the file its mutated code."""
    # What nobody has asked for yet is not there to be changed.
    importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))
    # With its line: several of one name, such as lambdas, are told apart by it.
    new = {
        (code.co_qualname, code.co_firstlineno): code
        for code in codes_in(compile(tree, str(path), "exec"))
    }
    changed = 0
    for function in gc.get_objects():
        if type(function) is not types.FunctionType:  # to ask a lazy object wakes it
            continue
        old = function.__code__
        code = new.get((old.co_qualname, old.co_firstlineno))
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


def operation_mutations() -> Iterator[Mutation]:
    """Let each operation of the API ask for no more than reading."""
    from contractor.api_urls import ADDRESSES
    from contractor.tenancy.permissions import Permission

    for address, resource in ADDRESSES.items():
        for method in ("get", "post", "patch", "delete"):
            about = getattr(getattr(resource, method, None), "operation", None)
            if about is None or about.permission == Permission.READ:
                continue
            yield Mutation(
                f"{method} {address}: {about.permission} weakened",
                "operation",
                lambda about=about: object.__setattr__(about, "permission", Permission.READ),  # type: ignore[misc]
                ["tests/test_doors_list.py"],
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


def sweep() -> None:
    """Take out of the database what a fork left there, as a flush would."""
    from django.db import connections

    from contractor.tenancy import wall

    with connections["owner"].cursor() as cursor:
        cursor.execute("select exists (select from tenancy_firm)")
        if cursor.fetchone()[0]:
            cursor.execute(wall.TABLES)
            tables = ", ".join(f'"{row[0]}"' for row in cursor.fetchall() if row[1])
            cursor.execute(f"TRUNCATE {tables}, tenancy_firm, tenancy_user CASCADE")
    connections["owner"].close()


def let_go() -> None:
    """Close what a fork must not share."""
    from django.db import connection, connections

    connection.close_pool()
    connections.close_all()


def quieten() -> None:
    """Say nothing from here on."""
    void = os.open(os.devnull, os.O_WRONLY)
    os.dup2(void, 1)
    os.dup2(void, 2)


@contextmanager
def running(files: set[str]) -> Iterator[set[str]]:
    """Gather which functions of some files run, on whatever thread."""
    ran: set[str] = set()

    def begins(code: types.CodeType, _offset: int) -> Any:
        if code.co_filename not in files:
            return sys.monitoring.DISABLE
        ran.add(name_of(Path(code.co_filename), code.co_qualname))
        return None

    sys.monitoring.use_tool_id(4, "mutations")
    sys.monitoring.register_callback(4, sys.monitoring.events.PY_START, begins)
    sys.monitoring.set_events(4, sys.monitoring.events.PY_START)
    try:
        yield ran
    finally:
        sys.monitoring.set_events(4, 0)
        sys.monitoring.free_tool_id(4)


class Mutating:
    """Run the tests once as they are, then for each mutation those that should notice."""

    def __init__(self, many: int, seed: int, only: str, of: list[str], learned: Path) -> None:
        self.many, self.seed, self.only, self.of, self.learned = many, seed, only, of, learned
        self.known: dict[str, Any] = {}
        self.learned_of: set[str] = set()
        self.code = 1
        self.trusted: set[str] = set()
        self.set_aside: set[str] = set()

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        from pytest_django.plugin import blocking_manager_key

        items = [item for item in session.items if not any(s in item.nodeid for s in SLOW)]
        first = next(item for item in items if "TestSchema" in item.nodeid)
        assert self.passes(session, [first]), "TestSchema fails as it stands"
        # Between tests pytest-django keeps the database shut.
        session.config.stash[blocking_manager_key].unblock()
        if not self.only or "check".startswith(self.only):
            self.learn(session, items)
        chosen = self.choose()
        survivors: list[Mutation] = []
        counted = 0
        for number, mutation in enumerate(chosen, 1):
            if counted == self.many and not self.of:
                break
            wanted = self.wanted(items, mutation)
            noticed = self.is_noticed(session, mutation, wanted)
            if noticed is None:
                continue
            counted += 1
            if not noticed:
                survivors.append(mutation)
            print(f"{number:4} {'' if noticed else 'NOT '}noticed  {mutation.name}", flush=True)
        share_noticed = 1 - len(survivors) / counted
        print(f"\n{counted} mutations, {len(survivors)} not noticed: {share_noticed:.1%}")
        for mutation in survivors:
            print(f"     not noticed  {mutation.name}")
        self.code = 0 if share_noticed >= 0.99 else 1
        return True

    def choose(self) -> list[Mutation]:
        """Choose by chance, each kind by its share."""
        every = [
            *function_mutations(), *door_mutations(), *operation_mutations(), *key_mutations(),
            *wall_mutations(),
        ]  # fmt: skip
        every = [each for each in every if each.kind.startswith(self.only)]
        if self.of:
            return [each for each in every if any(word in each.name for word in self.of)]
        chance = random.Random(self.seed)
        chance.shuffle(every)
        # Checks before the many that are alike and one test holds.
        share = {"check": 0.6, "door": 0.15, "operation": 0.1, "key": 0.05, "wall": 0.07}
        share |= {"grant": 0.03}
        if self.only:
            share = {kind: 1.0 for kind in share if kind.startswith(self.only)}
        chosen: list[Mutation] = []
        for kind, part in share.items():
            of_kind = [each for each in every if each.kind == kind]
            chosen += of_kind[: round(1.2 * self.many * part) + 1]  # some cannot be taken away
            print(f"{kind}: {len(of_kind)} there are")
        chance.shuffle(chosen)
        return chosen

    def wanted(self, items: list[pytest.Item], mutation: Mutation) -> list[pytest.Item]:
        """List the tests that should notice, each once; for a function the quick ones first."""
        found = [i for s in mutation.noticed_by for i in items if i.nodeid.startswith(s)]
        found = list(dict.fromkeys(found))
        if not mutation.within:
            return found
        ran = []
        for place, item in enumerate(found):
            seconds, functions = self.known.get(item.nodeid, [1e9, mutation.within])
            if item.nodeid in self.learned_of and item.nodeid not in self.known:
                continue  # it fails as it stands
            if mutation.within.intersection(functions):
                ran.append((seconds, place, item))
        return [item for _, _, item in sorted(ran, key=lambda each: each[:2])]

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            Path(os.environ["FAILED_TEST"]).write_text(report.nodeid)
            os.write(2, f"{report.nodeid}: {report.longreprtext[-1500:]}\n".encode())

    def learn(self, session: pytest.Session, items: list[pytest.Item]) -> None:
        """Run tests once, in a fork; keep which functions each runs and how long it takes.

        The tests of the areas, which watch a few lines of their pages each, are left out.
        """
        named = [test for tests in WATCHED.values() for test in tests] + [
            *_MAY,
            *_OFFERS,
            *_API,
            *_BODIES,
        ]
        items = [one for one in items if one.nodeid.startswith(tuple(named))]
        known = json.loads(self.learned.read_text()) if self.learned.exists() else {}
        new = [item for item in items if item.nodeid not in known]
        if new:
            files = {str(path) for path, _, _ in watched()}
            let_go()
            if os.fork() == 0:
                quieten()
                for item in new:
                    began = time.monotonic()
                    with running(files) as ran:
                        session.testsfailed = 0
                        passed = self.passes(session, [item])
                    if passed:
                        known[item.nodeid] = [time.monotonic() - began, sorted(ran)]
                self.learned.write_text(json.dumps(known))
                os._exit(0)
            os.wait()
            sweep()
        self.known = json.loads(self.learned.read_text())
        self.learned_of = {item.nodeid for item in items}
        print(f"{len(self.known)} of {len(items)} tests pass as they stand", flush=True)

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
        """Run the tests with the check taken away; believe only those that pass with it."""
        nothing = Mutation("nothing", "none", lambda: None, [])
        while True:
            left = [item for item in items if item.nodeid not in self.set_aside]
            noticed = self.forked(session, mutation, left)
            if not noticed:
                return noticed
            name = Path(os.environ["FAILED_TEST"]).read_text()
            if not name:
                return None  # it ended without a test that failed
            if name in self.trusted:
                return True
            if not self.forked(session, nothing, [i for i in items if i.nodeid == name]):
                self.trusted.add(name)
                return True
            print(f"set aside, it fails as it stands: {name}", flush=True)
            self.set_aside.add(name)

    def forked(
        self, session: pytest.Session, mutation: Mutation, items: list[pytest.Item]
    ) -> bool | None:
        """Fork, take the check away, run the tests; None where it cannot be taken away."""
        let_go()
        Path(os.environ["FAILED_TEST"]).write_text("")
        child = os.fork()
        if child == 0:
            quieten()
            try:
                mutation.remove()
            except BaseException:
                os._exit(4)
            try:
                code = 0 if self.passes(session, items) else 3
            except BaseException:
                code = 3
            os._exit(code)
        _, status = os.waitpid(child, 0)
        mutation.restore()
        code = os.waitstatus_to_exitcode(status)
        sweep()
        return None if code == 4 else code != 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--many", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--only", default="", help="one kind: check, door, operation, key, wall, grant"
    )
    parser.add_argument(
        "--of", action="append", default=[], help="only, and all, whose name has this in it"
    )
    parser.add_argument(
        "--learned", type=Path, help="a file that keeps which test runs what, for the next time"
    )
    asked = parser.parse_args()
    every = [test for _, _, tests in watched() for test in tests]
    tests = sorted({start.partition("::")[0] for start in every})
    tests = [test for test in tests if (ROOT / test).exists()] + ["tests/test_doors_list.py"]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FAILED_TEST"] = f"{folder}/failed"
        learned = (asked.learned or Path(folder) / "learned").resolve()
        plugin = Mutating(asked.many, asked.seed, asked.only, asked.of, learned)
        chosen = ["-q", "-p", "no:cacheprovider", "--no-header", "-m", "not browser", *tests]
        ended = pytest.main(chosen, plugins=[plugin])
    return plugin.code if ended in (0, 1) else int(ended)


if __name__ == "__main__":
    sys.exit(main())
