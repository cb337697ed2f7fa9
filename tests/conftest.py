"""In CI (DISCSCAN_CI set) nothing may be skipped: a tool that is absent there is a failure."""

from __future__ import annotations

import os
from collections.abc import Generator
from typing import TypeVar

import pytest
from hypothesis import settings

IN_CI = bool(os.environ.get("DISCSCAN_CI"))
# speed is measured in tests/bench, never by a test: a busy machine is no fault of the code
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
Report = TypeVar("Report", pytest.TestReport, pytest.CollectReport)


def _no_skip(report: Report) -> Report:
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped, which CI does not allow: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    return _no_skip((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    return _no_skip((yield))
