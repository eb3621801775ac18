"""Runs `suffice` in this process, as the shell would, and gives what it said."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from commands import run_command

Run = Callable[..., tuple[int, str, str]]


def runner(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Run:
    """A function of (arguments, what is typed when asked) to (exit code, output, errors)."""

    def run(arguments: list[str], asked: str = "") -> tuple[int, str, str]:
        return run_command(monkeypatch, capfd, arguments, asked + "\n")

    return run
