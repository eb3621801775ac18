"""A server that is started for an attack and ended after it: loopback only, its own home."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException
from pathlib import Path

HOST = "127.0.0.1"
START_S = 180.0
"""How long a server may take to answer; a machine that is busy takes long."""
USER = "consultant"
PASSPHRASE = "four quiet words here"


@dataclass(frozen=True)
class Server:
    """A server that answers.

    Attributes:
        port: Where it listens, on 127.0.0.1.
        home: Its SUFFICE_HOME.
        process: The process that `suffice serve` runs in; its workers are its children.
        environment: What it was started with, for commands about the same record.
    """

    port: int
    home: Path
    process: subprocess.Popen[bytes]
    environment: dict[str, str]

    def resident_mb(self) -> float:
        """The memory of the server and all its children, in MB."""
        return sum(_resident_kb(pid) for pid in family_of(self.process.pid)) / 1024

    def processor_s(self) -> float:
        """The processor time that the server and all its children have used, in seconds."""
        return sum(_ticks(pid) for pid in family_of(self.process.pid)) / os.sysconf("SC_CLK_TCK")

    def said(self) -> str:
        """What it wrote to standard output and standard error so far."""
        return (self.home / "said").read_text(encoding="utf-8", errors="replace")


def free_port() -> int:
    """A port that nothing listens on."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def family_of(pid: int) -> list[int]:
    """A process and everything that it has started."""
    found, todo = [], [pid]
    while todo:
        one = todo.pop()
        found.append(one)
        for task in Path(f"/proc/{one}/task").glob("*/children"):
            try:
                todo += [int(child) for child in task.read_text().split()]
            except OSError:  # it has just ended
                continue
    return found


def _resident_kb(pid: int) -> int:
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0
    found = re.search(r"^VmRSS:\s+(\d+)", status, re.MULTILINE)
    return int(found.group(1)) if found else 0


def _ticks(pid: int) -> int:
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0
    return int(fields[11]) + int(fields[12])


def suffice(environment: dict[str, str], *arguments: str, asked: str = "") -> str:
    """Run a command of the program to its end; what it printed.

    Raises:
        RuntimeError: With what it said, when it failed.
    """
    done = subprocess.run(
        [sys.executable, "-m", "suffice.cli", *arguments],
        env=environment, input=asked, text=True, capture_output=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(f"suffice {' '.join(arguments)}: {done.stdout}{done.stderr}")
    return done.stdout


def environment_of(home: Path, database_url: str = "") -> dict[str, str]:
    """The environment of a program with a home, and perhaps a database, of its own."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if name != "DATABASE_URL" and not name.startswith("SUFFICE_")
    }
    environment |= {"SUFFICE_HOME": str(home), "OMP_NUM_THREADS": "1", "PYTHONUNBUFFERED": "1"}
    return environment | ({"DATABASE_URL": database_url} if database_url else {})


@contextmanager
def running(
    *options: str,
    home: Path | None = None,
    database_url: str = "",
    port: int = 0,
    settings: dict[str, str] | None = None,
) -> Iterator[Server]:
    """A server that answers, for the length of the block.

    Args:
        options: Of `suffice serve`, like ``--demo``.
        home: Its home; None makes one that goes with the block.
        database_url: For PostgreSQL.
        port: Where it listens; 0 takes a free one.
        settings: More variables of the environment.

    Raises:
        RuntimeError: With what it said, when it does not come up.
    """
    with tempfile.TemporaryDirectory(prefix="suffice-attack-") as folder:
        home = home or Path(folder)
        environment = environment_of(home, database_url) | (settings or {})
        if not (home / "added").exists():
            suffice(environment, "user", "add", USER, "--admin", asked=PASSPHRASE + "\n")
            (home / "added").touch()
        port = port or free_port()
        with (home / "said").open("ab") as said:
            process = subprocess.Popen(
                [sys.executable, "-m", "suffice.cli", "serve", "--port", str(port), *options],
                env=environment, stdout=said, stderr=said, start_new_session=True,
            )  # fmt: skip
        server = Server(port=port, home=home, process=process, environment=environment)
        try:
            _wait_for(server)
            yield server
        finally:
            stop(process)


def stop(process: subprocess.Popen[bytes]) -> None:
    """End a server and its children; by force where asking did not help."""
    family = family_of(process.pid)
    process.send_signal(signal.SIGINT)
    try:
        process.wait(timeout=30)
    except subprocess.TimeoutExpired:
        for pid in family:
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        process.wait()


def _wait_for(server: Server) -> None:
    given_up_at = time.monotonic() + START_S
    while server.process.poll() is None and time.monotonic() < given_up_at:
        try:
            connection = HTTPConnection(HOST, server.port, timeout=10)
            connection.request("GET", "/sign-in/")
            connection.getresponse().read()
            connection.close()
        except (OSError, HTTPException):
            time.sleep(0.1)
        else:
            return
    raise RuntimeError(f"the server does not answer: {server.said()}")
