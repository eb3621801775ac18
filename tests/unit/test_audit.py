"""An audit that could not ask is not an audit that found nothing."""

from __future__ import annotations

from typing import Any

import pytest

from tool_modules import tool_module

audit = tool_module("audit")

GOOD: dict[str, Any] = {"name": "a", "version": "1", "vulns": []}
BAD: dict[str, Any] = {
    "name": "b",
    "version": "2",
    "vulns": [{"id": "EXAMPLE-1", "fix_versions": ["2.1"]}],
}
SILENT: dict[str, Any] = {"name": "c", "version": "3", "skip_reason": "c (3) is not known"}


@pytest.mark.parametrize(
    ("said", "code", "line"),
    [
        ([GOOD], 0, "1 of 1 packages asked about."),
        ([GOOD, BAD], 1, "b 2: EXAMPLE-1, corrected in 2.1"),
        ([GOOD, SILENT], 2, "1 of 2 packages asked about."),
        ([BAD, SILENT], 1, "NOT AUDITED: the data on vulnerabilities could not be had here."),
        ([], 2, "For example: no route"),
    ],
)
def test_what_is_said_of_it(said: list[dict[str, Any]], code: int, line: str) -> None:
    found, lines = audit.verdict(said, "started\nno route\n")
    assert found == code
    assert line in lines


def test_a_tool_that_does_not_run_has_asked_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    class Done:
        stdout, stderr = "", "no such command"

    monkeypatch.setattr(audit.subprocess, "run", lambda *_, **__: Done())
    assert audit.main([]) == 2
