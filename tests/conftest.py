"""What could not be tested is said plainly; under CI it is an error."""

from __future__ import annotations

import os

import pytest


def _could_not(config: pytest.Config) -> list[str]:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    reports = reporter.stats.get("skipped", []) if reporter else []
    return [
        f"{report.nodeid}: {report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr}"
        for report in reports
    ]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if exitstatus == pytest.ExitCode.OK and os.environ.get("CI") == "true" and _could_not(session.config):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if lines := _could_not(config):
        terminalreporter.section("could not be tested")
        for line in lines:
            terminalreporter.line(line)
        if os.environ.get("CI") == "true":
            terminalreporter.line("CI=true: this counts as an error", red=True)
