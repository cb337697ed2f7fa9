"""In CI (DISCSCAN_CI set) nothing may be skipped: a tool that is absent there is a failure."""

from __future__ import annotations

import os
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TypeVar
from uuid import uuid4

import pytest
from hypothesis import settings
from sqlalchemy import create_engine, make_url

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


@pytest.fixture(params=["file", "postgresql"])
def book_named(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A new book as a person names it: a file; a schema of its own on the server of DISCSCAN_TEST_POSTGRESQL."""
    if request.param == "file":
        yield str(tmp_path / "books" / "ledger.sqlite")
        return
    server = os.environ.get("DISCSCAN_TEST_POSTGRESQL")
    if not server:
        pytest.skip("no PostgreSQL server is named by DISCSCAN_TEST_POSTGRESQL")
    url, schema = make_url(server), f"book_{uuid4().hex}"
    engine = create_engine(url.set(drivername="postgresql+psycopg"), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {schema}")
        own = url.update_query_dict({"options": f"-csearch_path={schema}"})
        yield own.render_as_string(hide_password=False)
        connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
    engine.dispose()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    return _no_skip((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    return _no_skip((yield))
