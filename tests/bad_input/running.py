"""Runs `suffice` in this process, as the shell would, and gives what it said."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable

import pytest

from suffice import cli

Run = Callable[..., tuple[int, str, str]]


def runner(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Run:
    """A function of (arguments, what is typed when asked) to (exit code, output, errors)."""

    def run(arguments: list[str], asked: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["suffice", *arguments])
        monkeypatch.setattr(sys, "stdin", io.StringIO(asked + "\n"))
        # The consoles were made before the streams were captured.
        cli.console.out.file = cli.console.err.file = None
        try:
            cli.main()
            code = 0
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else int(bool(ended.code))
        said = capfd.readouterr()
        return code, said.out, said.err

    return run
