"""Every call by which a command writes, from `calls.py`; a test says so where the system does not let it look."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from fault.calls import NOT_HERE

CALLS = Path(__file__).with_name("calls.py")


class Call(NamedTuple):
    """A call that has succeeded: what was written to which file, and where it was asked to."""

    name: str
    path: str
    place: int
    content: bytes


def calls_of(
    command: Sequence[object], said: Mapping[str, str], log: Path, timeout_s: float = 600
) -> Iterator[Call]:
    """The calls of a command that must end well, one after another."""
    done = subprocess.run(
        [sys.executable, str(CALLS), str(log), *map(str, command)],
        env=said,
        check=False,
        capture_output=True,
        text=True,
        timeout=timeout_s,
    )
    if done.returncode == NOT_HERE:
        pytest.skip("this system lets no program look at the calls of another (ptrace)")
    assert done.returncode == 0, done.stderr
    with log.open(encoding="ascii") as lines:
        for line in lines:
            one = json.loads(line)
            content = bytes.fromhex(one["content"])
            yield Call(one["call"], one["path"], one["place"], content)
    log.unlink()
