"""Bad input on the command line: said to the letter, with its exit code and no traceback."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from bad_input.cli_door import arguments, as_typed, lay_out, taken_port
from bad_input.family import IDS, everything_stored
from bad_input.running import runner
from bad_input.table import cases, filled, named, problems

CASES = cases("cli")


def expected(case: dict[str, Any]) -> str:
    """The lines that stand on standard error."""
    lines = [
        f"{code} ({at}): {message}" if at else f"{code}: {message}"
        for code, at, message in problems(case)
    ]
    return filled("\n".join(lines), IDS)


@pytest.mark.parametrize("case", CASES, ids=named)
def test_command_says_it_and_ends_with_its_code(
    families: None,
    case: dict[str, Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    lay_out(tmp_path)
    monkeypatch.setenv("COLUMNS", "500")
    files = {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    before = everything_stored()
    with taken_port() as taken:
        port = taken.getsockname()[1]
        run = runner(monkeypatch, capfd)
        code, out, err = run(arguments(case, tmp_path, port), case.get("asked", ""))
    said = as_typed(err, tmp_path, port).strip()
    assert code == case["exit"], err
    assert "Traceback" not in err
    if case["then"] == "stored":
        assert everything_stored() != before
        return
    assert everything_stored() == before
    assert out == ""
    assert {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()} == files
    if case.get("code") == "usage":
        shown = " ".join(said.replace("│", " ").split())
        assert filled(case["message"], IDS) in shown
    else:
        assert said == expected(case)
