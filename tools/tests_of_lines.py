"""Which tests run which line: a plugin of pytest that `tools.mutants` reads the answer of.

`coverage run -m pytest -p tools.tests_of_lines ...` gives every test a context of its own in the
data that coverage keeps, and notes beside them what each test took and whether it passed. What
is computed once and kept is only seen under the first test that asked for it.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

FOLDER = Path("var/mutants")
SECONDS = FOLDER / "seconds.json"
LINES = FOLDER / "coverage"

_took_s: dict[str, float] = {}
_failed: set[str] = set()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    measuring = coverage.Coverage.current()
    if measuring is None:
        raise pytest.UsageError("tools.tests_of_lines needs `coverage run -m pytest`")
    measuring.switch_context(item.nodeid)
    began_s = time.process_time()
    try:
        return (yield)
    finally:
        _took_s[item.nodeid] = time.process_time() - began_s
        measuring.switch_context("")


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.failed:
        _failed.add(report.nodeid)


def pytest_sessionfinish() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    passed = {test: took_s for test, took_s in _took_s.items() if test not in _failed}
    SECONDS.write_text(json.dumps({"passed": passed, "failed": sorted(_failed)}), encoding="utf-8")
