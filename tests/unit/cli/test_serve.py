"""`suffice serve` sets itself up, says where it is and who may sign in, and stops cleanly."""

from __future__ import annotations

import os
import re
import signal
import socket
import stat
import subprocess
import sys
import urllib.error
import urllib.request

import pytest

from patience import PATIENCE_S, until
from suffice.cli.server import OTHERS_REACH_IT, warn_of_others


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture
def serving(tmp_path):
    """Starts the server on a home of its own; gives a function that starts it and waits."""
    started = []

    def start(*options):
        port = free_port()
        environment = {
            name: value for name, value in os.environ.items() if name != "DATABASE_URL"
        } | {"SUFFICE_HOME": str(tmp_path / "home"), "OMP_NUM_THREADS": "1"}
        process = subprocess.Popen(
            [sys.executable, "-m", "suffice.cli", "serve", "--port", str(port), *options],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        started.append(process)
        wait_for(port, process)
        return process, port

    yield start
    for process in started:
        if process.poll() is None:
            process.kill()
        process.wait()
        process.stdout.close()


def wait_for(port, process):
    def answers():
        try:
            with urllib.request.urlopen(f"http://localhost:{port}/", timeout=5) as answer:
                return answer.status
        except OSError:  # not there yet, or too busy to answer at once
            assert process.poll() is None, process.stdout.read()
            return None

    assert until(answers, lambda status: status is not None) == 200


def stopped(process):
    """Everything it said, once it was asked to stop."""
    process.send_signal(signal.SIGINT)
    return process.communicate(timeout=PATIENCE_S)[0]


@pytest.mark.slow
def test_first_start_makes_everything_and_a_later_one_changes_nothing(serving, tmp_path):
    process, port = serving("--demo")
    said = stopped(process)
    assert f"http://localhost:{port}/" in said
    assert "49 invented families" in said
    kept = tmp_path / "home" / "first-passphrase"
    passphrase = kept.read_text().strip()
    assert re.search(rf"consultant with the passphrase {passphrase}\b", said)
    for name in ("first-passphrase", "secret-key", "suffice.sqlite3"):
        mode = stat.S_IMODE((tmp_path / "home" / name).stat().st_mode)
        assert mode & 0o077 == 0, (name, oct(mode))

    process, _ = serving("--demo")
    again = stopped(process)
    assert "invented families" not in again
    assert passphrase in again
    assert "Traceback" not in again


def test_a_port_in_use_is_said_before_anything_is_made(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "-m", "suffice.cli", "serve", "--port", str(port)],
            env=os.environ | {"SUFFICE_HOME": str(tmp_path / "home")},
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.startswith("CLI-006")
    assert f"--port {port + 1}" in done.stderr
    assert not (tmp_path / "home").exists()


@pytest.mark.slow
def test_ctrl_c_that_reaches_every_process_of_the_terminal_ends_all(serving, tmp_path):
    # Without a limit to its patience the server went on in more than half of such tries.
    for _ in range(3):
        process, port = serving()
        os.killpg(process.pid, signal.SIGINT)
        said = process.communicate(timeout=PATIENCE_S)[0]
        # The journal of a service is read by others: it says where the passphrase is, and not which.
        kept = tmp_path / "home" / "first-passphrase"
        assert str(kept) in said
        assert kept.read_text().strip() not in said
        with pytest.raises(urllib.error.URLError):
            urllib.request.urlopen(f"http://localhost:{port}/", timeout=5)


@pytest.mark.parametrize(
    ("host", "is_https", "warns"),
    [
        ("127.0.0.1", False, False),
        ("0.0.0.0", False, True),
        ("0.0.0.0", True, False),
    ],
)
@pytest.mark.django_db
def test_an_address_that_others_reach_is_named_unless_a_proxy_speaks_https(
    settings, capsys, host, is_https, warns
):
    settings.SESSION_COOKIE_SECURE = is_https
    warn_of_others(host)
    shown = " ".join(capsys.readouterr().err.split())
    assert (OTHERS_REACH_IT.template in shown) is warns
