"""Run pytest many times without starting Python many times: one process that forks for each run.

It imports the libraries that tests need and nothing of the package or of the tests, so that every
fork reads those as they stand on the disk at that moment. Reads requests as JSON, one a line, from
standard input: `{"tests": [...], "options": [...], "cpu_s": 30}`; answers `passed`, `failed` or
`timeout`, one a line.

The limit is of processor time, which does not depend on what else the machine does. A run that
waits for something that never comes uses none, so it also ends after IDLE_TIMES as long.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import time
from pathlib import Path

# Imported for the forks, which find them there; no plugin of pytest, for it rewrites those itself.
import babel.messages
import django.forms
import django.test
import msgspec
import numpy as np
import pytest
import scipy.special

LOADED = (babel, django, msgspec, np, scipy)
IDLE_TIMES = 10
NO_TESTS = 5
"""pytest's exit code where nothing was collected."""


def _child(tests: list[str], options: list[str], cpu_s: float | None) -> None:
    """In the fork: run the tests and end with pytest's exit code."""
    silence = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(silence, stream)
    if cpu_s is not None:
        limit = max(1, round(cpu_s))
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
    found = pytest.main(["-q", "--no-header", "--tb=no", "--disable-warnings", *options, *tests])
    os._exit(int(found))


def _ended(child: int, limit_s: float | None) -> int | None:
    """The exit code of a fork; negative for a signal, None where it had to be killed."""
    ends = None if limit_s is None else time.monotonic() + IDLE_TIMES * limit_s
    while True:
        pid, status = os.waitpid(child, 0 if ends is None else os.WNOHANG)
        if pid:
            return os.waitstatus_to_exitcode(status)
        if ends is not None and time.monotonic() > ends:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None
        time.sleep(0.02)


def run(tests: list[str], options: list[str], cpu_s: float | None) -> str:
    """Run tests in a fork: `passed`, `failed` or `timeout`."""
    child = os.fork()
    if child == 0:
        try:
            _child(tests, options, cpu_s)
        finally:
            os._exit(1)
    code = _ended(child, cpu_s)
    if code is None or code in (-signal.SIGXCPU, -signal.SIGKILL):
        return "timeout"
    return "passed" if code in (0, NO_TESTS) else "failed"


def main() -> None:
    sys.path[0] = str(Path.cwd())  # as `python -m pytest` has it
    for line in sys.stdin:
        print(run(**json.loads(line)), flush=True)


if __name__ == "__main__":
    main()
