"""The real server answers while others send one byte a second, 300 MB, or what is no request."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

import pytest

from tool_modules import tool_module

server = tool_module("attack.server")
slow = tool_module("attack.slow")
wire = tool_module("attack.wire")

DRIPPING = 60
"""Many times the threads that make pages; `make attack` takes 500."""


@pytest.fixture(scope="module")
def running() -> Iterator[Any]:
    """A server with one process, so that whatever holds it up holds everybody up."""
    with server.running("--workers", "1") as started:
        yield started


@pytest.fixture
def colleague(running: Any) -> Iterator[Any]:
    session = wire.Session(running.port)
    session.sign_in()
    yield session
    session.close()


@pytest.mark.slow
@pytest.mark.parametrize("kind", list(slow.STARTS))
def test_colleague_is_served_while_others_drip(running: Any, colleague: Any, kind: str) -> None:
    with slow.dripping(running, kind, DRIPPING) as drip:
        for path in slow.PATHS:
            assert colleague.get(path).status == 200
        assert drip.refused == 0


@pytest.mark.slow
def test_300_mb_from_a_stranger_are_cut_off_and_the_page_says_why(running: Any) -> None:
    taken, answer = slow.send_large(running)
    assert taken < slow.LARGE_BYTES / 10
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"SITE-001" in answer


@pytest.mark.slow
def test_300_mb_from_a_colleague_are_cut_off_too(running: Any, colleague: Any) -> None:
    cookies = "; ".join(f"{name}={value}" for name, value in colleague.cookies.items())
    head = f"POST /import/ HTTP/1.1\r\nHost: localhost\r\nCookie: {cookies}\r\n".encode()
    taken, answer = slow.send_large(running, head)
    assert taken < slow.LARGE_BYTES / 5
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"SITE-002" in answer


POST = b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\n"
CHUNKED = POST + b"Transfer-Encoding: chunked\r\n\r\n"
NEXT = b"GET /hidden HTTP/1.1\r\nHost: localhost\r\n\r\n"
ODD = {
    "another version": b"GET / HTTP/9.9\r\n\r\n",
    "a head without an end": b"X" * 100_000,
    "TLS": b"\x16\x03\x01" * 50,
    "a bare CR": b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: b\rX-B: c\r\n\r\n",
    "a zero byte": b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: b\0c\r\n\r\n",
    "a space before the colon": POST + b"Content-Length : 3\r\n\r\nabc",
    "a folded header": b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: b\r\n c\r\n\r\n",
    "two lengths": POST + b"Content-Length: 0\r\nContent-Length: 3\r\n\r\n" + NEXT,
    "lengths in a row": POST + b"Content-Length: 0, 3\r\n\r\n" + NEXT,
    "a length with a sign": POST + b"Content-Length: +0\r\n\r\n" + NEXT,
    "chunks and more": POST + b"Transfer-Encoding: chunked, identity\r\n\r\n0\r\n\r\n" + NEXT,
    "chunks called otherwise": POST + b"Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n" + NEXT,
    "a length and chunks": POST
    + b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"
    + NEXT,
    "chunks of HTTP/1.0": CHUNKED.replace(b"/1.1", b"/1.0") + b"0\r\n\r\n" + NEXT,
    "a size of a chunk with a bare LF": CHUNKED + b"1\na\n0\n\n" + NEXT,
    "a bare LF behind a size": CHUNKED + b"1;\nxx\r\na\r\n0\r\n\r\n" + NEXT,
    "a size of a chunk that is none": CHUNKED + b"5\r\nhello\r\n0x1\r\na\r\n0\r\n\r\n" + NEXT,
    "a chunk longer than its size": CHUNKED + b"1\r\nab0\r\n\r\n" + NEXT,
}
"""What two programs could read in two ways, each followed by what would be a request of its own."""


def all_of(port: int, sent: bytes) -> bytes:
    """What comes back until the server closes the connection."""
    answer = b""
    with (
        contextlib.suppress(ConnectionError),
        wire.socket.create_connection((server.HOST, port), timeout=60) as one,
    ):
        one.sendall(sent)
        while got := one.recv(65536):
            answer += got
    return answer


@pytest.mark.slow
@pytest.mark.parametrize("odd", list(ODD))
def test_what_could_be_read_in_two_ways_is_refused_and_nothing_behind_it_is_asked(
    running: Any, odd: str
) -> None:
    answer = all_of(running.port, ODD[odd])
    assert answer == b"" or answer.startswith(b"HTTP/1.1 4")
    assert answer.count(b"HTTP/1.1 ") <= 1
    assert b"/hidden" not in answer


@pytest.mark.slow
def test_lines_of_a_head_may_end_in_a_bare_lf_and_a_value_never_holds_one(running: Any) -> None:
    """By RFC 9112 (2.2) it may be taken for the end of a line; a proxy that took it so too sees the same."""
    closing = b"Connection: close\n\n"
    head = b"GET /sign-in/ HTTP/1.1\nHost: localhost\nX-A: b\nX-Forwarded-For: 198.51.100.7\n"
    answer = all_of(running.port, head + closing + NEXT)
    assert answer.startswith(b"HTTP/1.1 200 ")
    assert answer.count(b"HTTP/1.1 ") == 1
