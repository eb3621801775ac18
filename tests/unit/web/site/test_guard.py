"""A request reaches the pages whole, or not at all: too long, too slow, or one too many is refused."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.web.site import limits
from suffice.web.site.guard import BROKEN_OFF, REFUSED, TOO_MANY, TOO_SLOW, Guard

T = TypeVar("T")

SIGNED_IN = (b"cookie", b"session=mine")
Environ = dict[str, Any]


def echo(environ: Environ, start_response: Callable[..., Any]) -> Iterable[bytes]:
    """Says what body it was given, or how long the refused one might have been."""
    if REFUSED in environ:
        start_response("413 Too Long", [])
        return [str(environ[REFUSED]).encode()]
    start_response("200 OK", [("X-Length", environ["CONTENT_LENGTH"])])
    return [environ["wsgi.input"].read()]


def may_send(environ: Environ) -> bool:
    return "session=mine" in environ.get("HTTP_COOKIE", "")


def guard(application: Any = echo) -> Guard:
    return Guard(application, may_send, lambda words, accepted: f"{words.template} [{accepted}]")


class Client:
    """One request of which the test says when each part comes."""

    def __init__(self, *parts: bytes, headers: Iterable[tuple[bytes, bytes]] = ()) -> None:
        self.parts = list(parts)
        self.headers = list(headers)
        self.read_bytes = 0
        self.sent: list[dict[str, Any]] = []
        self.is_silent = False
        """Whether it keeps quiet after its parts, in place of ending."""

    async def receive(self) -> dict[str, Any]:
        if not self.parts and self.is_silent:
            await asyncio.Event().wait()
        if not self.parts:
            return {"type": "http.disconnect"}
        part = self.parts.pop(0)
        self.read_bytes += len(part)
        more = bool(self.parts) or self.is_silent
        return {"type": "http.request", "body": part, "more_body": more}

    async def send(self, event: dict[str, Any]) -> None:
        self.sent.append(event)

    async def ask(self, asked: Guard) -> Client:
        scope = {
            "type": "http",
            "http_version": "1.1",
            "method": "POST",
            "scheme": "http",
            "path": "/",
            "query_string": b"",
            "headers": self.headers,
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 2),
        }
        await asked(scope, self.receive, self.send)
        return self

    @property
    def status(self) -> int:
        return int(self.sent[0]["status"])

    @property
    def answered_headers(self) -> dict[bytes, bytes]:
        return dict(self.sent[0]["headers"])

    @property
    def body(self) -> bytes:
        return b"".join(event["body"] for event in self.sent[1:])


def in_a_loop(scene: Coroutine[Any, Any, T]) -> T:
    """What a scene gives, in a thread of its own: a browser test leaves a loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, scene).result()


def answered(client: Client, asked: Guard | None = None) -> Client:
    return in_a_loop(client.ask(asked or guard()))


@given(st.lists(st.binary(max_size=200), min_size=1, max_size=8))
def test_pages_get_the_body_whole_however_it_came(parts: list[bytes]) -> None:
    client = answered(Client(*parts))
    assert (client.status, client.body) == (200, b"".join(parts))
    assert client.answered_headers[b"x-length"] == str(len(client.body)).encode()


def test_a_length_that_was_declared_too_long_is_refused_before_anything_is_read() -> None:
    for headers, most in (((), limits.STRANGER_BYTES), ((SIGNED_IN,), limits.BODY_BYTES)):
        declared = (b"Content-Length", str(most + 1).encode())
        client = Client(b"x", headers=[*headers, declared])
        receive, seen_before = client.receive, []

        async def noted() -> dict[str, Any]:
            seen_before.append(len(client.sent))  # noqa: B023
            return await receive()  # noqa: B023

        client.receive = noted  # type: ignore[method-assign]
        answered(client)
        assert (client.status, client.body) == (413, str(most).encode())
        assert client.answered_headers[b"connection"] == b"close"
        assert all(seen_before), "read before the answer was sent"


def test_a_length_that_was_not_declared_is_refused_where_it_is_reached() -> None:
    part = b"x" * (limits.STRANGER_BYTES // 4)
    stranger = answered(Client(*[part] * 1000))
    assert stranger.status == 413
    assert stranger.read_bytes <= limits.STRANGER_BYTES + len(part) + limits.AFTER_BYTES
    assert answered(Client(*[part] * 1000, headers=[SIGNED_IN])).status == 200
    many = [part] * (limits.BODY_BYTES // len(part) + 1)
    assert answered(Client(*many, headers=[SIGNED_IN])).status == 413


def test_whoever_gives_a_short_length_and_sends_more_is_refused_too() -> None:
    part = b"x" * limits.STRANGER_BYTES
    assert answered(Client(part, part, headers=[(b"content-length", b"5")])).status == 413


@pytest.mark.parametrize("length", [b"-1", b"+5", b"1e3", "²".encode(), b"", b"9" * 40, b"5, 5"])
def test_a_length_that_is_none_is_not_believed(length: bytes) -> None:
    client = answered(Client(b"abc", headers=[(b"content-length", length)]))
    assert client.status == (413 if len(length) == 40 else 200)


def test_a_body_that_comes_too_slowly_is_let_go_in_the_browsers_language(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(limits, "GRACE_S", 0.05)
    monkeypatch.setattr(limits, "AFTER_S", 0.05)
    client = Client(b"a", headers=[(b"accept-language", b"es")])
    client.is_silent = True
    asked = guard()
    answered(client, asked)
    assert client.status == 408
    assert client.body.decode() == f"{TOO_SLOW.template} [es]\n"
    assert client.answered_headers[b"connection"] == b"close"
    assert asked.held_bytes == 0


def test_whoever_leaves_in_the_middle_reaches_no_page_and_keeps_no_room() -> None:
    client = Client(b"half")
    parts = [{"type": "http.request", "body": b"half", "more_body": True}]

    async def receive() -> dict[str, Any]:
        return parts.pop(0) if parts else {"type": "http.disconnect"}

    client.receive = receive  # type: ignore[method-assign]
    asked = guard()
    answered(client, asked)
    assert client.status == 400
    assert client.body == f"{BROKEN_OFF.template} []\n".encode()
    assert client.answered_headers[b"connection"] == b"close"
    assert (asked.held_bytes, asked.waiting) == (0, 0)


def test_no_more_is_held_than_there_is_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "HELD_BYTES", 1000)
    asked = guard()
    client = answered(Client(b"x" * 600, b"x" * 600), asked)
    assert (client.status, asked.held_bytes) == (503, 0)
    assert answered(Client(b"x" * 600), asked).status == 200


def test_slow_senders_keep_nobody_waiting() -> None:
    asked = guard()

    async def scene() -> tuple[list[asyncio.Task[Client]], Client]:
        silent = [Client(b"a") for _ in range(500)]
        for one in silent:
            one.is_silent = True
        tasks = [asyncio.create_task(one.ask(asked)) for one in silent]
        await asyncio.sleep(0)
        other = await Client(b"quick").ask(asked)
        pending = [not task.done() for task in tasks]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        assert all(pending)
        return tasks, other

    _, other = in_a_loop(scene())
    assert (other.status, other.body) == (200, b"quick")
    assert asked.held_bytes == 0


def test_one_too_many_is_asked_to_come_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "WAITING_MOST", 2)
    go_on = threading.Event()

    def waits(environ: Environ, start_response: Callable[..., Any]) -> Iterable[bytes]:
        go_on.wait()
        return echo(environ, start_response)

    asked = guard(waits)

    async def scene() -> list[Client]:
        tasks = [asyncio.create_task(Client(b"a").ask(asked)) for _ in range(2)]
        for _ in range(5):  # each of them comes to its page without waiting for anything else
            await asyncio.sleep(0)
        assert asked.waiting == 2
        refused = await Client(b"b").ask(asked)
        go_on.set()
        return [*await asyncio.gather(*tasks), refused]

    *served, refused = in_a_loop(scene())
    assert [one.status for one in served] == [200, 200]
    assert refused.status == 503
    assert refused.answered_headers[b"retry-after"] == str(limits.RETRY_AFTER_S).encode()
    assert refused.body.decode().startswith(TOO_MANY.template)


def test_pages_are_made_one_at_a_time() -> None:
    at_once, most = [0], [0]

    def counts(environ: Environ, start_response: Callable[..., Any]) -> Iterable[bytes]:
        at_once[0] += 1
        most[0] = max(most[0], at_once[0])
        answer = list(echo(environ, start_response))
        at_once[0] -= 1
        return answer

    asked = guard(counts)

    async def scene() -> None:
        await asyncio.gather(*(Client(b"a").ask(asked) for _ in range(50)))

    in_a_loop(scene())
    assert most == [1]


def test_page_that_breaks_is_answered_and_its_words_stay_in_the_log(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(environ: Environ, start_response: Callable[..., Any]) -> Iterable[bytes]:
        raise ValueError("Oriane weighs 3150")

    noted: list[str] = []
    monkeypatch.setattr("suffice.web.site.guard.report", lambda *said: noted.append(str(said[1])))
    asked = guard(breaks)
    client = answered(Client(b"a"), asked)
    assert client.status == 500
    assert b"Oriane" not in client.body
    assert noted
    assert capfd.readouterr() == ("", "")
    assert (asked.held_bytes, asked.waiting) == (0, 0)


def test_what_is_no_request_is_left_alone() -> None:
    async def never(*_: object) -> Any:
        raise AssertionError

    in_a_loop(guard()({"type": "websocket"}, never, never))
