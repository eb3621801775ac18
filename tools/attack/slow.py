"""Slow and large clients: heads and bodies that drip one byte a second, and bodies of 300 MB."""

from __future__ import annotations

import contextlib
import socket
import time
from collections.abc import Iterator
from threading import Event, Semaphore, Thread

from tools.attack.server import HOST, Server
from tools.attack.wire import Drip, Others, read_slowly

TOKEN_COOKIE = b"Cookie: csrftoken=" + b"a" * 32 + b"\r\n"
"""With it the program looks at the form; without it a form is refused unread."""
SIGN_IN = b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\n" + TOKEN_COOKIE
FORM = b"Content-Type: application/x-www-form-urlencoded\r\n"
STARTS = {
    "a body": SIGN_IN + FORM + b"Content-Length: 60000\r\n\r\nusername=",
    "a body in pieces": SIGN_IN + FORM + b"Transfer-Encoding: chunked\r\n\r\n1\r\na\r\n",
    "a head": b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\nX-Slow: ",
    "nothing": b"",
}
DROPS = {"a body in pieces": b"1\r\na\r\n", "nothing": b""}
LARGE_BYTES = 300_000_000
PATHS = ["/", "/library/", "/import/", "/bench/"]


def dripping(server: Server, kind: str, count: int) -> Drip:
    """Clients of one kind of STARTS, to be entered."""
    return Drip(server, count, STARTS[kind], DROPS.get(kind, b"a"))


def send_large(
    server: Server, head: bytes = SIGN_IN, declared: int = LARGE_BYTES
) -> tuple[int, bytes]:
    """Send a body of 300 MB as fast as it is taken.

    Returns:
        How many bytes were taken before the connection was closed, and the head of the answer.
    """
    block, taken, answer = b"a" * 65536, 0, b""
    with socket.create_connection((HOST, server.port), timeout=60) as one:
        one.sendall(head + FORM + b"Content-Length: %d\r\n\r\n" % declared)
        with contextlib.suppress(OSError):
            while taken < declared:
                taken += one.send(block)
        with contextlib.suppress(OSError):
            answer = one.recv(65536)
    return taken, answer


def measured(server: Server, seconds: float, counts: list[int]) -> Iterator[str]:
    """One line for each kind and number of slow clients: how a colleague fares meanwhile."""
    others = Others(server, PATHS)
    yield f"nobody else: {others.run_for(seconds)}"
    for kind in STARTS:
        for count in counts:
            with dripping(server, kind, count) as drip:
                time.sleep(1)
                yield f"{count} that drip {kind}: {others.run_for(seconds)}; let go {drip.let_go}"
    yield _with_slow_readers(server, others, seconds, max(counts))
    yield _with_large(server, others, seconds)


def _with_slow_readers(server: Server, others: Others, seconds: float, count: int) -> str:
    over = Event()
    begun = Semaphore(0)
    readers = [
        Thread(
            target=read_slowly, args=(server, "/", others.cookies, begun.release, over), daemon=True
        )
        for _ in range(min(count, 100))
    ]
    for one in readers:
        one.start()
    for _ in readers:  # so many pages at once take their time, whoever reads them
        begun.acquire(timeout=60)
    line = f"{len(readers)} that read 16 bytes a second: {others.run_for(seconds)}"
    over.set()
    for one in readers:
        one.join()
    return line


def _with_large(server: Server, others: Others, seconds: float) -> str:
    taken: list[int] = []
    over = Event()

    def send() -> None:
        while not over.is_set():
            taken.append(send_large(server)[0])

    senders = [Thread(target=send, daemon=True) for _ in range(4)]
    for one in senders:
        one.start()
    line = f"4 that send 300 MB: {others.run_for(seconds)}"
    over.set()
    for one in senders:
        one.join()
    return f"{line}; cut off after {max(taken) / 1e6:.1f} MB at most ({len(taken)} times)"
