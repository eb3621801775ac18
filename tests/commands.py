"""Runs `suffice` in this process, as the shell would, and gives what it said."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterable

import pytest

from suffice import cli


def run_command(
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    arguments: Iterable[object],
    stdin: str = "",
) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    monkeypatch.setattr(sys, "argv", ["suffice", *map(str, arguments)])
    monkeypatch.setattr(sys, "stdin", io.StringIO(stdin))
    # To the streams of the moment; a patch that is undone would leave them this test's for ever.
    cli.console.out.file = cli.console.err.file = None
    try:
        cli.main()
        code = 0
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else int(bool(ended.code))
    said = capfd.readouterr()
    return code, said.out, said.err
