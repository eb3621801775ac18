"""The real server answers while others send one byte a second, or 300 MB."""

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


@pytest.mark.slow
def test_what_is_no_head_is_refused(running: Any) -> None:
    for sent in (b"GET / HTTP/9.9\r\n\r\n", b"X" * 100_000, b"\x16\x03\x01" * 50):
        with (
            contextlib.suppress(ConnectionError),
            wire.socket.create_connection((server.HOST, running.port), timeout=60) as one,
        ):
            one.sendall(sent + b"\r\n\r\n")
            answer = one.recv(100)
            assert answer == b"" or answer.startswith(b"HTTP/1.1 4")
