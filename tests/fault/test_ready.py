"""What stands in the place of starting the program again starts, speaks, ends and is killed like it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tool_modules import tool_module

WAITS = "import time; print('ready', flush=True); time.sleep(600)"


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with tool_module("attack.ready").Ready(tmp_path_factory.mktemp("ready")) as one:
        yield one


def code(text: str) -> list[str]:
    return [sys.executable, "-c", text]


def test_a_program_has_its_own_environment_arguments_and_streams(
    ready: Any, tmp_path: Path
) -> None:
    script = tmp_path / "script.py"
    script.write_text(
        "import os, sys; print(os.environ['WHO'], *sys.argv[1:]); print('x', file=sys.stderr)"
    )
    done = ready.run([sys.executable, str(script), "a", "b"], env={"WHO": "ann"})
    assert (done.returncode, done.stdout, done.stderr) == (0, "ann a b\n", "x\n")
    assert "WHO" not in os.environ


@pytest.mark.parametrize(
    ("text", "expected", "said"),
    [
        ("raise SystemExit(3)", 3, ""),
        ("1 / 0", 1, "ZeroDivisionError"),
        ("raise SystemExit('no')", 1, "no"),
    ],
)
def test_how_it_ends_is_told(ready: Any, text: str, expected: int, said: str) -> None:
    done = ready.run(code(text), env={})
    assert done.returncode == expected
    assert said in done.stderr


def test_it_is_a_process_of_its_own_that_can_be_killed(ready: Any) -> None:
    process = ready.Popen(code(WAITS), env={}, stdout=ready.PIPE, stderr=ready.DEVNULL)
    assert process.stdout.readline() == "ready\n"
    os.kill(process.pid, 0)
    process.kill()
    assert process.wait() == -signal.SIGKILL
    assert process.stdout.read() == ""
    process.kill()  # waited for: nobody else is met
    process.stdout.close()
    assert ready.run(code("print(1)"), env={}).stdout == "1\n"


def test_who_takes_too_long_is_ended(ready: Any) -> None:
    with pytest.raises(subprocess.TimeoutExpired):
        ready.run(code(WAITS), env={}, timeout=0.01)


def test_two_do_not_draw_the_same(ready: Any) -> None:
    drawn = [ready.run(code("import random; print(random.random())"), env={}) for _ in range(2)]
    assert drawn[0].stdout != drawn[1].stdout
