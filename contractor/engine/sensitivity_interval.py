"""Find the day on which a smoke detector's sensitivity must be tested next, and why.

The first test is due within a year of installation, then every alternate year. Two required
tests in range earn an interval of up to five years, for as long as the nuisance alarms of the
zone are recorded and do not rise. A detector found out of its range starts again.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Literal, NamedTuple

from contractor.engine import editions
from contractor.engine.editions import Edition, NoSensitivityRule, SensitivityRule
from contractor.engine.months import add_months, as_day, say_day
from contractor.engine.years import YearRule, check_year_rule, count_years

type Basis = Literal["first_year", "alternate_year", "extended", "restart", "nuisance_increase"]
type Test = tuple[date, bool | None, bool | None]

_DAY = timedelta(days=1)


class Reason(NamedTuple):
    """One step on the way to a due date."""

    on: date
    text: str
    kind: Literal["installed", "test", "nuisance", "due"]


@dataclass(frozen=True, slots=True)
class SensitivityDue:
    """When one detector's sensitivity is due, and everything that led there.

    `reasons` are in order of their days, and the due date itself comes last. `counted_tests` are
    the tests that count towards the longer interval. `note` tells how sure we are of the clause.
    """

    due_on: date
    basis: Basis
    extended: bool
    reasons: tuple[Reason, ...]
    clause: str
    note: str
    edition: str
    counted_tests: tuple[date, ...]
    what_would_change: tuple[str, ...]


def sensitivity_due(
    *,
    installed_on: date | None,
    tests: Iterable[Test],
    nuisance_alarms: Iterable[date] = (),
    nuisance_log_since: date | None = None,
    use_extension: bool = True,
    second_test_rule: Literal["code", "strict"] = "code",
    year_rule: YearRule = "rolling",
    extension_barred: str = "",
    as_of: date,
    edition: str,
) -> SensitivityDue:
    """Compute when a smoke detector's sensitivity must be tested next, with every reason.

    Parameters
    ----------
    installed_on : date or None
        Day on which this detector was installed; a replacement is a new detector. None if not
        known: without a test it is then due at once.
    tests : iterable of (day, as_found_ok, as_left_ok)
        Sensitivity tests in any order. None stands for not judged; an as-left of None after an
        as-found in range means that nothing was done.
    nuisance_alarms : iterable of date
        Days of the zone's nuisance alarms that its detectors caused.
    nuisance_log_since : date or None
        First day from which the zone's nuisance record is unbroken; None if none is kept.
    use_extension : bool, default True
        Whether the firm makes use of the longer interval.
    second_test_rule : "code" or "strict", default "code"
        Whether the test of the first year counts towards the extension ("code") or only those
        of the alternate years do ("strict").
    year_rule : "rolling" or "calendar", default "rolling"
        Whether a zone's nuisance alarms are compared over the twelve months before a day, or
        over calendar years to date.
    extension_barred : str, default ""
        A sentence that says what a local rule still asks for before the longer interval may be
        used; empty where nothing bars it.
    as_of : date
        The day on which the question is asked; what is dated later is left out.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    UnknownEdition
        If the edition is not held.
    NoSensitivityRule
        If the edition asks for no sensitivity test.
    ValueError
        If a day is none, or a rule is unknown.

    Source: NFPA 72, sensitivity clauses of the testing chapter (2010: 14.4.5.3), as restated in
    federal survey reports of 2013 and 2024. Where the code is silent: the as-found result decides,
    a failure starts the count again, a required test is at least nine months after the one before.

    >>> due = sensitivity_due(installed_on=date(2023, 3, 15), tests=[], as_of=date(2023, 6, 1),
    ...                       edition="nfpa72-2010")
    >>> str(due.due_on), due.basis, due.clause
    ('2024-03-15', 'first_year', '14.4.5.3.1')
    """
    if second_test_rule not in ("code", "strict"):
        raise ValueError(f"{second_test_rule!r} is no rule for the second test: code or strict.")
    check_year_rule(year_rule)
    adopted = editions.get(edition)
    rule = adopted.sensitivity
    if rule is None:
        raise NoSensitivityRule(f"{adopted.title} asks for no sensitivity test.")
    as_day(as_of)
    reasons: list[Reason] = []
    if installed_on is not None:
        reasons.append(Reason(as_day(installed_on), "Installed.", "installed"))
    alarms = sorted(as_day(alarm) for alarm in nuisance_alarms if as_day(alarm) <= as_of)
    known = _sort_tests(tests, installed_on=installed_on, as_of=as_of, reasons=reasons)
    run = _follow(known, gap_months=rule.counted_gap_months, reasons=reasons)
    if second_test_rule == "strict" and not run.has_failed:
        run.counted = run.required[1:]
    else:
        run.counted = run.required
    case = _Case(adopted, rule, run, reasons)
    if run.failed_on is not None:
        return case.out_of_range()
    base = run.base
    if base is None:
        return case.first_year(installed_on, as_of=as_of)
    refusal = _refuse_extension(
        run,
        rule=rule,
        use_extension=use_extension,
        nuisance_log_since=nuisance_log_since,
        barred=extension_barred,
    )
    if rule.extended_months is None or refusal is not None:
        return case.repeat(base, refusal)
    longest = add_months(base, rule.extended_months)
    rise = _find_rise(alarms, since=run.in_range_on or base, as_of=as_of, year_rule=year_rule)
    if rise is not None and rise.on < longest:
        return case.nuisance_increase(rise)
    return case.extended(base, longest)


@dataclass(slots=True)
class _Run:
    """What the tests have come to by now."""

    required: list[date] = field(default_factory=list)  # in range, since the last failure
    counted: list[date] = field(default_factory=list)  # those that earn the longer interval
    has_failed: bool = False
    mended_on: date | None = None  # back in range after the last failure
    failed_on: date | None = None  # out of range, and nothing since shows it back in range
    in_range_on: date | None = None  # the latest test that found or left it in range

    @property
    def base(self) -> date | None:
        return self.required[-1] if self.required else self.mended_on


def _sort_tests(
    tests: Iterable[Test], *, installed_on: date | None, as_of: date, reasons: list[Reason]
) -> list[Test]:
    """Put tests in order; on one day a failure comes first, so that a re-test can mend it."""
    known = []
    for on, found_ok, left_ok in tests:
        if as_day(on) > as_of:
            continue
        if installed_on is not None and on < installed_on:
            said = "Test before this detector was installed: it counts for the one before it."
            reasons.append(Reason(on, said, "test"))
            continue
        known.append((on, found_ok, left_ok))
    known.sort(key=lambda test: (test[0], not _failed(test), bool(test[2]), bool(test[1])))
    return known


def _failed(test: Test) -> bool:
    return test[1] is False or test[2] is False


def _follow(tests: Sequence[Test], *, gap_months: int, reasons: list[Reason]) -> _Run:
    run = _Run()
    for test in tests:
        on, found_ok, left_ok = test
        if _failed(test):
            said = _fail(run, on, mended=bool(left_ok), as_found=found_ok is False)
        elif run.failed_on is not None and (found_ok or left_ok):
            run.mended_on, run.failed_on, run.in_range_on = on, None, on
            said = "Tested back in range. The count of required tests starts here, at none."
        elif found_ok:
            said = _pass(run, on, gap_months=gap_months)
        else:
            said = "Not judged as found: it does not count."
        reasons.append(Reason(on, said, "test"))
    return run


def _fail(run: _Run, on: date, *, mended: bool, as_found: bool) -> str:
    run.required, run.has_failed = [], True
    said = "Found out of range" if as_found else "Found in range and left out of it"
    if mended:
        run.mended_on, run.failed_on, run.in_range_on = on, None, on
        return f"{said}, left in range. The count of required tests starts here, at none."
    # A second failure in a row does not make it due any later than the first did.
    run.mended_on, run.failed_on = None, run.failed_on or on
    return f"{said}; nothing shows it back in range."


def _pass(run: _Run, on: date, *, gap_months: int) -> str:
    run.in_range_on = on
    base = run.base
    if base is not None and on < add_months(base, gap_months):
        return (
            f"In range. Less than {gap_months} months after {say_day(base)}: not a required test."
        )
    run.required.append(on)
    return f"In range: required test {len(run.required)}."


def _refuse_extension(
    run: _Run,
    *,
    rule: SensitivityRule,
    use_extension: bool,
    nuisance_log_since: date | None,
    barred: str,
) -> tuple[str, str] | None:
    """Say why the longer interval is not had, and what would earn it."""
    base = run.base
    if rule.extended_months is None or base is None:
        return None
    longer = f"up to {say_day(add_months(base, rule.extended_months))}"
    missing = rule.required_tests - len(run.counted)
    if missing > 0:
        from_on = add_months(base, rule.counted_gap_months)
        more = "One more required test" if missing == 1 else f"{missing} more required tests"
        return (
            f"{more} in range before the interval may be extended.",
            f"A test in range from {say_day(from_on)} on is the next that counts towards "
            f"{rule.extended_months} months.",
        )
    if not use_extension:
        return (
            "The longer interval has been earned; the firm does not use it here.",
            f"Using the longer interval would allow {longer}.",
        )
    if barred:
        return barred, f"With it, the interval may grow {longer}."
    if nuisance_log_since is None:
        return (
            "No record of nuisance alarms is kept for the zone, so the interval is not extended.",
            f"An unbroken record since {say_day(base)} would allow {longer}.",
        )
    if as_day(nuisance_log_since) > base:
        return (
            "The zone's record of nuisance alarms is unbroken only since "
            f"{say_day(nuisance_log_since)}, after the test of {say_day(base)}, so the interval "
            "is not extended.",
            f"An unbroken record since {say_day(base)} would allow {longer}.",
        )
    return None


class _Rise(NamedTuple):
    on: date
    now: int
    before: int


def _find_rise(
    alarms: Sequence[date], *, since: date, as_of: date, year_rule: YearRule
) -> _Rise | None:
    """Find the first day since the latest test on which the zone's alarms rose over a year."""
    happened = set(alarms)
    # An alarm that leaves the year before may also let the count of this year exceed it.
    leaving = {add_months(alarm, 24) + late * _DAY for alarm in alarms for late in range(4)}
    for day in sorted(happened | (leaving if year_rule == "rolling" else set())):
        if not since <= day <= as_of:
            continue
        now, before = count_years(alarms, day, year_rule)
        if now > before:
            now_then, before_then = count_years(alarms, day - _DAY, year_rule)
            if day in happened or now_then <= before_then:
                return _Rise(day, now, before)
    return None


@dataclass(frozen=True, slots=True)
class _Case:
    """One detector's case, ready to be answered."""

    edition: Edition
    rule: SensitivityRule
    run: _Run
    reasons: list[Reason]

    def first_year(self, installed_on: date | None, *, as_of: date) -> SensitivityDue:
        if installed_on is None:
            said = "Due now: neither a day of installation nor a test in range is known."
            change = ("Enter the day of installation, or record a test.",)
            return self._answer(as_of, "first_year", said, change)
        months = self.rule.first_months
        said = f"First test due within {months} months of installation."
        change = (
            f"A test in range makes the next one due {self.rule.repeat_months} months after it.",
        )
        return self._answer(add_months(installed_on, months), "first_year", said, change)

    def out_of_range(self) -> SensitivityDue:
        assert self.run.failed_on is not None
        said = "Due now: out of range since this test, and nothing shows it back in range."
        change = (
            "A test in range after cleaning or recalibration ends this; so does replacement.",
        )
        return self._answer(self.run.failed_on, "restart", said, change)

    def repeat(self, base: date, refusal: tuple[str, str] | None) -> SensitivityDue:
        basis: Basis = "alternate_year" if self.run.required else "restart"
        change = ["Found out of range, it starts again."]
        said = f"Due {self.rule.repeat_months} months after {say_day(base)}."
        if refusal is not None:
            said = f"{said} {refusal[0]}"
            change.insert(0, refusal[1])
        return self._answer(add_months(base, self.rule.repeat_months), basis, said, change)

    def extended(self, base: date, longest: date) -> SensitivityDue:
        said = (
            f"Due at most {self.rule.extended_months} months after {say_day(base)}: "
            f"{len(self.run.counted)} required tests in range, and an unbroken record of the "
            "zone's nuisance alarms."
        )
        shorter = add_months(base, self.rule.repeat_months)
        change = (
            "More nuisance alarms in the zone than the year before make it due from that day.",
            f"A gap in the zone's record of nuisance alarms brings it back to {say_day(shorter)}.",
            "Found out of range, it starts again.",
        )
        return self._answer(longest, "extended", said, change)

    def nuisance_increase(self, rise: _Rise) -> SensitivityDue:
        counted = (
            f"Nuisance alarms of the zone: {rise.now} in a year, {rise.before} the year before."
        )
        self.reasons.append(Reason(rise.on, counted, "nuisance"))
        said = "Due now: the zone's nuisance alarms rose while its interval was extended."
        change = (f"A test in range after {say_day(rise.on)} ends this.",)
        return self._answer(rise.on, "nuisance_increase", said, change)

    def _answer(
        self, due_on: date, basis: Basis, said: str, change: Iterable[str]
    ) -> SensitivityDue:
        clause = self.edition.clause(basis)
        steps = sorted(self.reasons, key=lambda reason: reason.on)
        return SensitivityDue(
            due_on=due_on,
            basis=basis,
            extended=basis == "extended",
            reasons=(*steps, Reason(due_on, said, "due")),
            clause=clause.number,
            note=clause.note,
            edition=self.edition.key,
            counted_tests=tuple(self.run.counted),
            what_would_change=tuple(change),
        )


class Soonest(NamedTuple):
    """The earliest date among a building's detectors, and how many share it."""

    due_on: date
    detectors: int
    out_of: int


def soonest(dues: Iterable[SensitivityDue]) -> Soonest | None:
    """Find the earliest sensitivity date of a building: one visit serves all that share it.

    >>> soonest([]) is None
    True
    """
    days = Counter(due.due_on for due in dues)
    if not days:
        return None
    first = min(days)
    return Soonest(first, days[first], days.total())
