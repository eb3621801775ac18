"""Reads each request whole, within limits, before a page is asked for it.

Pages are made in one thread of each process. Were a page to read its own request, whoever sends one
byte a second would keep that thread, and everybody waits. Here a request waits on its own until it
is whole, too long, too slow, or one too many:

```
head ──> body, byte by byte ──> whole ──> its turn ──> page ──> answer
           │        │                       │
          413    408, 400                 503
```

The page of a 413 is made like any other, in the clinic's language; what comes too slowly or too
often is refused in few words, since a page for each would cost as much as what is refused.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from typing import Any, TypeVar

from suffice.message import Message, message
from suffice.web.incident import new_number, report
from suffice.web.site import limits
from suffice.web.site.calling import Answer, Application, Scope, call, environ_of

Event = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Event]]
Send = Callable[[Event], Awaitable[None]]
MaySend = Callable[[Mapping[str, Any]], bool]
Wording = Callable[[Message, str], str]
_Done = TypeVar("_Done")

REFUSED = "suffice.refused_bytes"
"""In `environ`: how long the body might have been that was refused as too long."""

TOO_SLOW = message("The request came too slowly and was let go. Nothing was stored. Send it again.")
BROKEN_OFF = message("The request broke off. Nothing was stored. Send it again.")
FAILED = message("Something failed here. What was saved before is safe.")
TOO_MANY = message(
    "Too many requests are waiting. Nothing was stored. Try again in {seconds} seconds.",
    seconds=limits.RETRY_AFTER_S,
)


class TooLongError(Exception):
    """A body is longer than its sender may send; carries how long it may be."""


class TooSlowError(Exception):
    """A body takes longer than its bytes explain."""


class TooManyError(Exception):
    """There is no room for another request, or for more of this one."""


class GoneError(Exception):
    """Whoever asked is not there any more, or sends pieces that cannot be told from one another."""


class Guard:
    """The ASGI application that a process of the server runs.

    Args:
        application: Makes the pages, one at a time.
        may_send: Whether whoever sent these headers, as WSGI has them, may send a long body; asked in
            the thread of the pages.
        in_words: Puts a message into the words of a browser with this Accept-Language.
    """

    def __init__(self, application: Application, may_send: MaySend, in_words: Wording) -> None:
        self.application, self.may_send, self.in_words = application, may_send, in_words
        self.pages = ThreadPoolExecutor(max_workers=1, thread_name_prefix="pages")
        self.held_bytes = 0
        self.waiting = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        if scope["type"] != "http":
            return
        reading = Reading(self, scope, receive)
        try:
            try:
                body = await reading.whole()
                answer = await self.asked(environ_of(scope, body))
            except TooLongError as refused:
                environ = environ_of(scope, b"")
                answer = await self.asked(environ | {REFUSED: refused.args[0]})
            finally:
                self.held_bytes -= reading.held_bytes
        except GoneError:
            # Nobody may be there to hear it; without it the server's library answers 500 to who still is.
            answer = self.refusal(scope, HTTPStatus.BAD_REQUEST, BROKEN_OFF)
        except TooSlowError:
            answer = self.refusal(scope, HTTPStatus.REQUEST_TIMEOUT, TOO_SLOW)
        except TooManyError:
            answer = self.refusal(scope, HTTPStatus.SERVICE_UNAVAILABLE, TOO_MANY)
        except Exception as error:  # noqa: BLE001 -- what the server says of one would hold its words
            report(new_number(), "500 outside of any page", error)
            answer = self.refusal(scope, HTTPStatus.INTERNAL_SERVER_ERROR, FAILED)
        await _sent(answer, send, closing=not reading.is_whole)
        await reading.throw_away()

    async def asked(self, environ: dict[str, Any]) -> Answer:
        """The page that answers, in its turn.

        Raises:
            TooManyError: When too many wait already.
        """
        return await self.in_turn(lambda: call(self.application, environ))

    async def in_turn(self, work: Callable[[], _Done]) -> _Done:
        """What work in the thread of the pages comes to.

        Raises:
            TooManyError: When too many wait already.
        """
        if self.waiting >= limits.WAITING_MOST:
            raise TooManyError
        self.waiting += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self.pages, work)
        finally:
            self.waiting -= 1

    def refusal(self, scope: Scope, status: HTTPStatus, words: Message) -> Answer:
        """An answer in few words, for which no page is made."""
        language = _header(scope, b"accept-language").decode("latin-1")
        return Answer(
            status=status,
            headers=[
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"retry-after", str(limits.RETRY_AFTER_S).encode()),
                (b"cache-control", b"no-store"),
            ],
            body=(self.in_words(words, language) + "\n").encode(),
        )


class Reading:
    """The body of one request, on its way in.

    Attributes:
        held_bytes: How much of the guard's room it takes.
        is_whole: Whether all of it was read.
    """

    def __init__(self, guard: Guard, scope: Scope, receive: Receive) -> None:
        self.guard, self.scope, self.receive = guard, scope, receive
        self.held_bytes = 0
        self.is_whole = False
        self._most_bytes = limits.STRANGER_BYTES

    async def whole(self) -> bytes:
        """The body.

        Raises:
            TooLongError: When it is longer than its sender may send, or says so.
            TooSlowError: When it comes more slowly than :data:`limits.BYTES_PER_S`.
            TooManyError: When there is no room for it.
            GoneError: When its sender has gone.
        """
        declared = _header(self.scope, b"content-length")
        if declared.isdigit():
            await self._need_leave(int(declared))
        loop = asyncio.get_running_loop()
        began = loop.time()
        chunks = []
        while not self.is_whole:
            ends = began + limits.GRACE_S + self.held_bytes / limits.BYTES_PER_S
            try:
                async with asyncio.timeout_at(ends):
                    chunk = await self._next()
            except TimeoutError:
                raise TooSlowError from None
            self._hold(len(chunk))
            await self._need_leave(self.held_bytes)
            chunks.append(chunk)
        return b"".join(chunks)

    async def _next(self) -> bytes:
        event = await self.receive()
        if event["type"] == "http.disconnect":
            raise GoneError
        self.is_whole = not event.get("more_body", False)
        chunk: bytes = event.get("body", b"")
        return chunk

    def _hold(self, count: int) -> None:
        if self.guard.held_bytes + count > limits.HELD_BYTES:
            raise TooManyError
        self.guard.held_bytes += count
        self.held_bytes += count

    async def _need_leave(self, count: int) -> None:
        """Ask who sends so much, once it is more than a stranger may send."""
        if count <= self._most_bytes:
            return
        if self._most_bytes == limits.STRANGER_BYTES:
            head = environ_of(self.scope, b"")
            if await self.guard.in_turn(lambda: self.guard.may_send(head)):
                self._most_bytes = limits.BODY_BYTES
        if count > self._most_bytes:
            raise TooLongError(self._most_bytes)

    async def throw_away(self) -> None:
        """Read on for a moment after a refusal: most senders read no answer before they have sent."""
        thrown = 0
        try:
            async with asyncio.timeout(limits.AFTER_S):
                while not self.is_whole and thrown < limits.AFTER_BYTES:
                    thrown += len(await self._next())
        except (TimeoutError, GoneError):
            return


def _header(scope: Scope, name: bytes) -> bytes:
    return next((value for key, value in scope["headers"] if key.lower() == name), b"")


async def _sent(answer: Answer, send: Send, *, closing: bool) -> None:
    headers = [*answer.headers, (b"connection", b"close")] if closing else answer.headers
    await send({"type": "http.response.start", "status": answer.status, "headers": headers})
    await send({"type": "http.response.body", "body": answer.body, "more_body": False})
