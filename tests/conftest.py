"""Shared fixtures: where the open data lies, if it is here. In CI a skipped test is a failure."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder of the open data, named by BEACONRY_OPEN_DATA; tests that need it skip where it is absent."""
    folder = os.environ.get("BEACONRY_OPEN_DATA", "")
    if not folder or not Path(folder).is_dir():
        pytest.skip("BEACONRY_OPEN_DATA does not name a folder with the open data")
    return Path(folder).resolve()


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """With BEACONRY_NOTHING_SKIPPED set, end as failed when any test was skipped for want of something."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter is not None else []
    if os.environ.get("BEACONRY_NOTHING_SKIPPED") and skipped and exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
