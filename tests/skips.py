"""Fail the run when a test was skipped; script/test loads this where CI=true.

A skip on someone's machine says what to install. In CI it would hide that nothing was tested.
"""

import pytest

skipped: list[str] = []


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail"):
        skipped.append(report.nodeid)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    if report.skipped:
        skipped.append(report.nodeid)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    if skipped and session.exitstatus in {pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED}:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if skipped:
        terminalreporter.section("skipped, which CI does not allow", red=True)
        for nodeid in skipped:
            terminalreporter.line(nodeid)
