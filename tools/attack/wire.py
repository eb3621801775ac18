"""HTTP by hand: a browser's session in few lines, and clients that are as slow as they like."""

from __future__ import annotations

import contextlib
import gzip
import re
import socket
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from threading import Event, Thread
from typing import Self
from urllib.parse import urlencode

from tools.attack.server import HOST, PASSPHRASE, USER, Server

TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')
BOUNDARY = b"----attack"
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@dataclass
class Answer:
    """What came back; names of headers in small letters."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        """The body as text, unpacked where it was asked for packed."""
        is_packed = self.headers.get("content-encoding") == "gzip"
        body = gzip.decompress(self.body) if is_packed else self.body
        return body.decode("utf-8", "replace")


@dataclass
class Session:
    """One browser: its cookies, and a connection that is kept as browsers keep it."""

    port: int
    timeout_s: float = 60.0
    cookies: dict[str, str] = field(default_factory=dict)
    _connection: HTTPConnection | None = None

    def ask(
        self,
        method: str,
        path: str,
        body: bytes = b"",
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        """Send a request and read the answer whole; redirects are not followed.

        Raises:
            OSError, HTTPException: As the connection fails.
        """
        sent = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        sent |= dict(headers or {})
        if self._connection is None:
            self._connection = HTTPConnection(HOST, self.port, timeout=self.timeout_s)
        try:
            self._connection.request(method, path, body or None, sent)
            response = self._connection.getresponse()
            answer = Answer(
                response.status,
                {name.lower(): value for name, value in response.headers.items()},
                response.read(),
            )
            set_cookies = response.headers.get_all("Set-Cookie") or []
        except BaseException:
            self.close()
            raise
        for one in set_cookies:
            name, _, value = one.partition(";")[0].partition("=")
            self.cookies[name.strip()] = value.strip().strip('"')
        return answer

    def get(self, path: str, headers: Mapping[str, str] | None = None) -> Answer:
        """GET a page."""
        return self.ask("GET", path, headers=headers)

    def post(self, path: str, fields: Mapping[str, str]) -> Answer:
        """POST a form, with the token that the session's cookie asks for."""
        token = {"csrfmiddlewaretoken": self.cookies.get("csrftoken", "")}
        return self.ask("POST", path, urlencode(token | dict(fields)).encode(), FORM)

    def send_file(self, content: bytes, path: str = "/import/") -> Answer:
        """POST a file, as the page that takes files does."""
        self.get(path)
        head = b'Content-Disposition: form-data; name="%s"'
        parts = [
            head % b"csrfmiddlewaretoken" + b"\r\n\r\n" + self.cookies["csrftoken"].encode(),
            head % b"file" + b'; filename="a.csv"\r\n\r\n' + content,
        ]
        body = b"".join(b"--" + BOUNDARY + b"\r\n" + part + b"\r\n" for part in parts)
        kind = {"Content-Type": f"multipart/form-data; boundary={BOUNDARY.decode()}"}
        return self.ask("POST", path, body + b"--" + BOUNDARY + b"--\r\n", kind)

    def sign_in(self, name: str = USER, passphrase: str = PASSPHRASE) -> None:
        """Sign in as a user.

        Raises:
            RuntimeError: When the server does not let the user in.
        """
        self.get("/sign-in/")
        answer = self.post("/sign-in/", {"username": name, "password": passphrase})
        if answer.status != 302:
            raise RuntimeError(f"not signed in: {answer.status}")

    def close(self) -> None:
        """Let the connection go; the next request makes another."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None


class Drip:
    """Many clients that each send one byte a second and never come to an end.

    Each sends `start` at once, then the bytes of `drop` one by one, again and again. What the server
    answers is read and counted: how many clients it has let go.
    """

    def __init__(self, server: Server, count: int, start: bytes, drop: bytes = b"a") -> None:
        self.server, self.count, self.start_bytes, self.drop = server, count, start, drop
        self.let_go = 0
        self.refused = 0
        self.answers: dict[bytes, int] = {}
        self._over = Event()
        self._thread = Thread(target=self._go_on, daemon=True)

    def __enter__(self) -> Self:
        self._open: list[socket.socket] = []
        for _ in range(self.count):
            self._connect()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()
        for one in self._open:
            one.close()

    def _connect(self) -> None:
        try:
            one = socket.create_connection((HOST, self.server.port), timeout=5)
            one.sendall(self.start_bytes)
        except OSError:
            self.refused += 1
            return
        one.settimeout(0)
        self._open.append(one)

    def _go_on(self) -> None:
        sent = 0
        while not self._over.wait(1.0):
            letter = self.drop[sent % len(self.drop) :][:1] if self.drop else b""
            sent += 1
            for one in list(self._open):
                if self._ended(one, letter):
                    self._open.remove(one)
                    one.close()
                    self.let_go += 1
                    self._connect()  # whoever was let go comes back at once

    def _ended(self, one: socket.socket, letter: bytes) -> bool:
        try:
            with contextlib.suppress(BlockingIOError):
                got = one.recv(65536)
                line = got.partition(b"\r\n")[0]
                self.answers[line] = self.answers.get(line, 0) + 1
                if not got:
                    return True
            one.send(letter)
        except BlockingIOError:
            return False
        except OSError:
            return True
        return False


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which a share of all are; nan of none."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else float("nan")


@dataclass
class Timings:
    """How long requests took, in seconds, and which of them failed."""

    took_s: list[float] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)

    @contextlib.contextmanager
    def timing(self, name: str) -> Iterator[None]:
        """Take the time of the block; a connection that fails is counted and goes no further."""
        began = time.monotonic()
        try:
            yield
        except (OSError, EOFError, HTTPException) as error:
            self.failed.append(f"{type(error).__name__} {name}")
        self.took_s.append(time.monotonic() - began)

    def note(self, name: str, status: int) -> None:
        """Count an answer that refuses."""
        if status >= 400:
            self.failed.append(f"{status} {name}")

    def __str__(self) -> str:
        p50, p99 = (percentile(self.took_s, share) for share in (0.5, 0.99))
        failed = f", {len(self.failed)} failed ({self.failed[0]}, ...)" if self.failed else ""
        return f"{len(self.took_s)} requests, p50 {p50:.2f} s, p99 {p99:.2f} s{failed}"


def read_slowly(
    server: Server, path: str, cookies: Mapping[str, str], begun: Callable[[], object], over: Event
) -> None:
    """Ask for a page and take 16 bytes a second of it, until told to stop.

    Args:
        server: Who is asked.
        path: For what.
        cookies: Of a session.
        begun: Called when the first bytes have come.
        over: Set when it is enough.
    """
    with socket.socket() as one:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        one.connect((HOST, server.port))
        cookie = "; ".join(f"{name}={value}" for name, value in cookies.items())
        one.sendall(f"GET {path} HTTP/1.1\r\nHost: localhost\r\nCookie: {cookie}\r\n\r\n".encode())
        one.settimeout(60)
        with contextlib.suppress(OSError):
            one.recv(16)
            begun()
            while not over.wait(1.0) and one.recv(16):
                pass


class Others:
    """A colleague who reads page after page all the while, and how long each takes."""

    def __init__(self, server: Server, paths: list[str], wait_s: float = 0.05) -> None:
        self.paths, self.wait_s = paths, wait_s
        self._session = Session(server.port, timeout_s=30)
        self._session.sign_in()

    @property
    def cookies(self) -> dict[str, str]:
        """Of the session in which they signed in."""
        return self._session.cookies

    def run_for(self, seconds: float) -> Timings:
        """Ask for one page after the other for so long."""
        timings = Timings()
        ends_at = time.monotonic() + seconds
        at = 0
        while time.monotonic() < ends_at:
            path = self.paths[at % len(self.paths)]
            at += 1
            with timings.timing(path):
                timings.note(path, self._session.get(path).status)
            time.sleep(self.wait_s)
        return timings
