"""A second server of one record is refused, and told where the first is; after it ends there is none."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from patience import PATIENCE_S
from suffice.cli.serving import only_server
from suffice.errors import InputError

FIRST = "http://localhost:8000/"


def refused(home: Path) -> str:
    with pytest.raises(InputError) as raised, only_server(home, "http://localhost:8001/"):
        raise AssertionError("let in")
    return str(raised.value)


def test_second_is_told_where_the_first_is(tmp_path: Path) -> None:
    with only_server(tmp_path, FIRST):
        for _ in range(2):
            said = refused(tmp_path)
            assert said.startswith("SERVE-001")
            assert FIRST in said
            assert str(tmp_path) in said


def test_another_record_is_served_meanwhile(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with only_server(tmp_path, FIRST), only_server(other, FIRST):
        pass


def test_next_one_is_let_in_and_its_shorter_address_is_said(tmp_path: Path) -> None:
    with only_server(tmp_path, FIRST):
        pass
    with only_server(tmp_path, "http://a/"):
        assert refused(tmp_path).count("http://a/ ") == 0
        assert "The first is at http://a/." in refused(tmp_path)


def test_killed_server_keeps_nobody_out(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from suffice.cli.serving import only_server\n"
        "with only_server(Path(sys.argv[1]), 'http://a/'):\n"
        "    print('in', flush=True); sys.stdin.read()"
    )
    first = subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert first.stdout is not None
    assert first.stdout.readline() == "in\n"
    assert "http://a/" in refused(tmp_path)
    os.kill(first.pid, signal.SIGKILL)
    first.wait(timeout=PATIENCE_S)
    with only_server(tmp_path, FIRST):
        pass
    first.communicate()


def test_file_is_for_the_programs_own_user(tmp_path: Path) -> None:
    with only_server(tmp_path, FIRST):
        assert stat.S_IMODE((tmp_path / "serving").stat().st_mode) == 0o600
