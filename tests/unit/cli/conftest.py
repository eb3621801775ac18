"""Commands run in this process."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from commands import run_command


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    """Run `suffice` with arguments; gives its exit code, standard output and standard error."""

    def running(*arguments: object, stdin: str = "") -> tuple[int, str, str]:
        return run_command(monkeypatch, capfd, arguments, stdin)

    return running
