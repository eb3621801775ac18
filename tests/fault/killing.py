"""Kills a program at the place at which it says that it is."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path


def kill_at(place: str, command: list[str | Path], environment: dict[str, str]) -> None:
    """Run a script until it writes 'at PLACE', then end it with SIGKILL.

    Args:
        place: The place in the code, as the script names it.
        command: The script and its arguments.
        environment: The variables that it sees.
    """
    program = subprocess.Popen(
        [sys.executable, *map(str, command)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=environment,
    )
    assert program.stdout is not None
    try:
        assert program.stdout.readline() == f"at {place}\n"
        program.send_signal(signal.SIGKILL)
    finally:
        program.kill()
        program.wait()
        program.stdout.close()
