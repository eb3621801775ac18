"""Starts of the program without the seconds that loading its modules takes, for whoever starts it a thousand times.

    python -m tools.attack.ready SOCKET

One process has loaded what the program needs, and opened nothing. Each start is a fork of it, with the
environment, the arguments and the streams that were asked for: a process of its own that reads, writes,
is killed and ends like one that was begun anew. :class:`Ready` stands in the place of `subprocess`.
"""

from __future__ import annotations

import atexit
import json
import os
import random
import runpy
import select
import signal
import socket
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import IO, Any, Self

LOADED = (
    "django.contrib.auth.hashers",
    "django.core.management",
    "django.db.backends.postgresql.base",
    "django.db.backends.sqlite3.base",
    "django.db.migrations.executor",
    "django.template",
    "psycopg",
    "rich.progress",
    "suffice.assess.assessment",
    "suffice.cli.assessing",
    "suffice.exchange.family.family_json",
    "suffice.exchange.table.importing",
    "suffice.knowledge.store",
    "typer",
)
"""What needs no settings, and takes most of the time of a start."""
MOST_BYTES = 1_000_000
STREAMS = 2
START_S = 120.0


class Forked:
    """A started program, as `subprocess.Popen` has it."""

    def __init__(self, line: socket.socket, text: IO[str] | None, errors: IO[str] | None) -> None:
        self.stdout, self.stderr = text, errors
        self._answers = line.makefile("r", encoding="ascii")
        self._line = line
        self.pid = int(self._answers.readline())
        self.returncode: int | None = None

    def wait(self, timeout: float | None = None) -> int:
        """How it ended; negative: by which signal."""
        if self.returncode is None:
            self._line.settimeout(timeout)
            try:
                self.returncode = int(self._answers.readline())
            except TimeoutError as error:
                raise subprocess.TimeoutExpired("a fork", timeout or 0) from error
            self._answers.close()
            self._line.close()
        return self.returncode

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it was waited for already."""
        if self.returncode is None:
            try:
                os.kill(self.pid, number)
            except ProcessLookupError:
                return

    def kill(self) -> None:
        """kill -9."""
        self.send_signal(signal.SIGKILL)


class Ready:
    """Stands in the place of the module `subprocess` for commands of this interpreter."""

    PIPE, DEVNULL = subprocess.PIPE, subprocess.DEVNULL

    def __init__(self, folder: Path) -> None:
        self.socket = folder / "ready"
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tools.attack.ready", str(self.socket)], stdin=subprocess.PIPE
        )
        given_up_at = time.monotonic() + START_S
        while not self.socket.exists():
            if self.process.poll() is not None or time.monotonic() > given_up_at:
                raise RuntimeError("the process that loads the program did not come up")
            time.sleep(0.05)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.process.communicate()  # its standard input ends, and it with it

    def Popen(  # noqa: N802 -- as `subprocess` calls it
        self,
        command: Sequence[str],
        *,
        env: dict[str, str],
        stdout: Any = None,
        stderr: Any = None,
        text: bool = True,
    ) -> Forked:
        """Start a command of this interpreter."""
        assert command[0] == sys.executable
        assert text or subprocess.PIPE not in (stdout, stderr)
        ours: list[IO[str] | None] = []
        theirs: list[int] = []
        for number, asked in enumerate((stdout, stderr), start=1):
            reader, writer = _stream(asked, number)
            ours.append(reader)
            theirs.append(writer)
        line = socket.socket(socket.AF_UNIX)
        line.connect(str(self.socket))
        said = json.dumps({"argv": [*map(str, command[1:])], "env": env}).encode()
        socket.send_fds(line, [len(said).to_bytes(4, "big")], theirs)
        line.sendall(said)
        for one in theirs:
            os.close(one)
        return Forked(line, ours[0], ours[1])

    def run(
        self,
        command: Sequence[str],
        *,
        env: dict[str, str],
        timeout: float | None = None,
        check: bool = False,
        capture_output: bool = True,
        text: bool = True,
    ) -> subprocess.CompletedProcess[str]:
        """Run a command to its end."""
        assert capture_output
        assert text
        assert not check
        with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
            process = self.Popen(command, env=env, stdout=out, stderr=err)
            try:
                code = process.wait(timeout)
            finally:
                process.kill()
            out.seek(0)
            err.seek(0)
            return subprocess.CompletedProcess(command, code, out.read(), err.read())


def _stream(asked: Any, number: int) -> tuple[IO[str] | None, int]:
    """Our end of a stream, where we have one, and the end that is given away."""
    if asked == subprocess.PIPE:
        reader, writer = os.pipe()
        return os.fdopen(reader, "r", encoding="utf-8"), writer
    if asked == subprocess.DEVNULL:
        return None, os.open(os.devnull, os.O_WRONLY)
    return None, os.dup(number if asked is None else asked.fileno())


def _become(argv: list[str], environment: dict[str, str], streams: list[int]) -> int:
    """Be the command that was asked for, in a fork; the code it ends with."""
    nothing = os.open(os.devnull, os.O_RDONLY)
    for number, stream in enumerate([nothing, *streams]):
        os.dup2(stream, number)
        os.close(stream)
    os.environ.clear()
    os.environ.update(environment)
    random.seed()
    what, *rest = argv
    sys.path[:0] = environment.get("PYTHONPATH", "").split(os.pathsep)
    code: Any = 0
    try:
        if what == "-m":
            sys.argv = rest
            runpy.run_module(rest[0], run_name="__main__", alter_sys=True)
        elif what == "-c":
            sys.argv = ["-c", *rest[1:]]
            exec(compile(rest[0], "-c", "exec"), {"__name__": "__main__"})
        else:
            sys.argv = argv
            sys.path.insert(0, str(Path(what).parent))
            runpy.run_path(what, run_name="__main__")
    except SystemExit as ended:
        code = ended.code
        if isinstance(code, str):
            print(code, file=sys.stderr)
    except BaseException:  # noqa: BLE001 -- as the interpreter does: printed, and it ends with 1
        traceback.print_exc()
        code = 1
    _end()
    sys.stdout.flush()
    sys.stderr.flush()
    return code if isinstance(code, int) else int(code is not None)


def _end() -> None:
    """What an interpreter does at its end: its connections close, and with the last one SQLite's log goes."""
    atexit._run_exitfuncs()  # noqa: SLF001 -- there is no other way to have them run
    if "django.db" in sys.modules and os.environ.get("DJANGO_SETTINGS_MODULE"):
        from django.db import connections  # noqa: PLC0415 -- loaded by whoever needs it

        connections.close_all()


def _answer(line: socket.socket) -> None:
    """Start what one caller asks for, in a fork of this fork, and say how it ended."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    head, streams, *_rest = socket.recv_fds(line, 4, STREAMS)
    left, said = int.from_bytes(head, "big"), b""
    while len(said) < left:
        said += line.recv(MOST_BYTES)
    asked = json.loads(said)
    child = os.fork()
    if child == 0:
        line.close()
        code = 1
        try:
            code = _become(asked["argv"], asked["env"], streams)
        finally:
            os._exit(code)
    for one in streams:
        os.close(one)
    line.sendall(f"{child}\n".encode())
    _pid, status = os.waitpid(child, 0)
    line.sendall(f"{os.waitstatus_to_exitcode(status)}\n".encode())


def main(path: str) -> None:
    """Load, then fork for each caller until standard input ends."""
    for name in LOADED:
        import_module(name)
    from suffice.knowledge.store import load  # noqa: PLC0415 -- with the rest

    load()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for who answered
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(path)
        listener.listen(64)
        while True:
            found, _writable, _odd = select.select([listener, sys.stdin], [], [])
            if sys.stdin in found:
                return
            line, _address = listener.accept()
            if os.fork() == 0:
                listener.close()
                try:
                    _answer(line)
                finally:
                    os._exit(0)
            line.close()


if __name__ == "__main__":
    main(sys.argv[1])
