"""A fuzzer of pages and forms: takes what a page offers, spoils part of it, sends it.

It learns addresses and forms from the pages that it is shown, so a new page is attacked without a
word here. The same seed makes the same requests as long as the pages stay the same.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from urllib.parse import quote_from_bytes, urlsplit
from uuid import UUID

from tools.attack.forms import Form, read_page
from tools.attack.hostile import HEADERS, METHODS, VALUES, files
from tools.attack.wire import BOUNDARY

UUIDS = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
QUERY = (
    "page",
    "as_of",
    "known_by",
    "q",
    "sort",
    "next",
    "infant",
    "family",
    "show",
    "mine",
    "group",
    "when",
)
AWAY = ("/sign-in/", "/account/codes/")
"""Where whoever may not go on is led."""
KNOWN_MOST = 400
"""How many pages and forms of one shape are kept to be attacked again."""


@dataclass(frozen=True)
class Sent:
    """A request, whole."""

    method: str
    path: str
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""

    def __str__(self) -> str:
        head = ", ".join(f"{name}: {value[:40]!r}" for name, value in self.headers)
        return f"{self.method} {self.path[:300]} [{head}] {self.body[:3000]!r}"


@dataclass(frozen=True)
class Got:
    """What came back: a status, and a page where it was one. Status 0: the connection broke."""

    status: int
    location: str = ""
    html: str = ""


Ask = Callable[[Sent], Got]


@dataclass
class Found:
    """What an attack found.

    Attributes:
        statuses: How often each status came.
        failures: The requests that were answered with 500 or above, or not at all.
        led_away: How many were led to signing in, or to setting a second factor up: they came to no page.
        shapes: Shapes of addresses that gave a page.
    """

    statuses: Counter[int] = field(default_factory=Counter)
    failures: list[tuple[int, Sent]] = field(default_factory=list)
    led_away: int = 0
    shapes: set[str] = field(default_factory=set)

    def note(self, sent: Sent, got: Got) -> None:
        """Count an answer; 503 is a refusal with its reason, not a failure."""
        self.statuses[got.status] += 1
        self.led_away += got.location.startswith(AWAY) and not sent.path.startswith(AWAY)
        if got.status == 200 and got.html:
            self.shapes.add(shape_of(sent.path))
        if got.status == 0 or (got.status >= 500 and got.status != 503):
            self.failures.append((got.status, sent))

    def __str__(self) -> str:
        counts = ", ".join(f"{count} x {status}" for status, count in sorted(self.statuses.items()))
        shapes = Counter((status, shape_of(sent.path)) for status, sent in self.failures)
        lines = [f"  {count} x {status} at {shape}" for (status, shape), count in shapes.items()]
        reached = f"{self.led_away} led away, {len(self.shapes)} shapes of addresses gave a page"
        return "\n".join([f"{sum(self.statuses.values())} requests: {counts}; {reached}", *lines])


def shape_of(path: str) -> str:
    """An address without its ids and its query."""
    return UUIDS.sub("<id>", urlsplit(path).path) if path.startswith("/") else path


class Fuzzer:
    """Attacks what it is shown.

    Args:
        ask: Sends a request.
        seed: Draws everything.
        starts: Addresses to begin with.
        token: The form token of now, which forms are sent with.
        spared: Shapes of addresses that are never posted to, such as signing out.
    """

    def __init__(
        self,
        ask: Ask,
        seed: int,
        starts: Iterable[str],
        token: Callable[[], str],
        spared: Iterable[str] = (),
    ) -> None:
        self.ask, self.dice, self.token = ask, random.Random(seed), token
        self.spared = set(spared)
        self.links: dict[str, list[str]] = {}
        self.forms: dict[tuple[str, str, tuple[str, ...]], list[Form]] = {}
        self.files = files(random.Random(seed))
        self.found = Found()
        self.ids: list[str] = [str(UUID(int=0))]
        for path in starts:
            self._learn_link(path)

    def run(self, count: int, progress: Callable[[int], None] = lambda _done: None) -> Found:
        """Send so many requests."""
        for done in range(count):
            sent = self._next(done)
            got = self.ask(sent)
            self.found.note(sent, got)
            self._learn(sent, got)
            progress(done + 1)
        return self.found

    def _learn(self, sent: Sent, got: Got) -> None:
        if got.location.startswith("/"):
            self._learn_link(got.location)
        if not got.html or got.status != 200:
            return
        links, forms = read_page(sent.path, got.html)
        self.ids = (self.ids + UUIDS.findall(got.html)[:20])[-200:]
        for path in links:
            self._learn_link(path)
        for form in forms:
            key = (shape_of(form.action), form.method, tuple(sorted({n for n, _ in form.values})))
            kept = self.forms.setdefault(key, [])
            kept.append(form)
            del kept[:-5]

    def _learn_link(self, path: str) -> None:
        shape = shape_of(path)
        if shape not in self.links and len(self.links) >= KNOWN_MOST:
            return
        kept = self.links.setdefault(shape, [])
        if path not in kept:
            kept.append(path)
            del kept[:-10]

    def _next(self, done: int) -> Sent:
        """The next request: a page as it is, a spoiled address, or a spoiled form."""
        drawn = self.dice.random()
        if done < len(self.links) or drawn < 0.15 or not self.forms:
            return Sent("GET", self._link())
        if drawn < 0.45:
            return self._spoiled_address()
        form = self.dice.choice(self.forms[self.dice.choice(sorted(self.forms))])
        return self._spoiled_form(form)

    def _link(self) -> str:
        return self.dice.choice(self.links[self.dice.choice(sorted(self.links))])

    def _value(self) -> bytes:
        if self.dice.random() < 0.1:
            return self.dice.choice(self.ids).encode()
        return self.dice.choice(VALUES)

    def _spoiled_address(self) -> Sent:
        """A known address with another method, query, part or header."""
        path = self._link()
        parts = urlsplit(path)
        pieces = parts.path.split("/")
        if self.dice.random() < 0.4 and len(pieces) > 2:
            at = self.dice.randrange(1, len(pieces))
            pieces[at] = quote_from_bytes(self._value(), safe="")[:2000]
        query = [parts.query] if parts.query else []
        for _ in range(self.dice.randrange(3)):
            value = quote_from_bytes(self._value(), safe="")[:4000]
            query.append(f"{self.dice.choice(QUERY)}={value}")
        address = "/".join(pieces) + ("?" + "&".join(query) if query else "")
        method = self.dice.choice(METHODS)
        if method != "GET" and shape_of(path) in self.spared:
            method = "GET"
        return Sent(method, address, self._headers())

    def _headers(self) -> tuple[tuple[str, str], ...]:
        chosen = dict(self.dice.sample(HEADERS, self.dice.choice((0, 0, 0, 0, 0, 1, 2))))
        return tuple(chosen.items())

    def _spoiled_form(self, form: Form) -> Sent:
        values = [(name, value.encode("utf-8", "replace")) for name, value in form.values]
        for name, choices in form.choices.items():
            if self.dice.random() < 0.5:
                values.append((name, self.dice.choice(choices).encode()))
        for _ in range(self.dice.choice((0, 1, 1, 1, 2, 3))):
            self._spoil(values, form)
        if form.method == "GET":
            asked = "&".join(
                f"{quote_from_bytes(n.encode())}={quote_from_bytes(v)[:4000]}" for n, v in values
            )
            return Sent("GET", f"{form.action.partition('?')[0]}?{asked}", self._headers())
        if shape_of(form.action) in self.spared:
            return Sent("GET", form.action)
        if self.dice.random() > 0.03:
            token = self.token().encode()
            values = [(n, token if n == "csrfmiddlewaretoken" else v) for n, v in values]
        return self._posted(form, values)

    def _spoil(self, values: list[tuple[str, bytes]], form: Form) -> None:
        names = [name for name, _ in values] + list(form.choices)
        if not names:
            return
        name = self.dice.choice(names)
        drawn = self.dice.random()
        if drawn < 0.65:
            values[:] = [one for one in values if one[0] != name]
            values.append((name, self._value()))
        elif drawn < 0.75:
            values[:] = [one for one in values if one[0] != name]
        elif drawn < 0.85:
            values.append((name, self._value()))
        elif drawn < 0.95:
            values.append((self.dice.choice(QUERY), self._value()))
        else:
            values.append((self._value().decode("utf-8", "replace")[:200], self._value()))

    def _posted(self, form: Form, values: list[tuple[str, bytes]]) -> Sent:
        extra = dict(self._headers())
        extra.pop("Content-Encoding", None)
        if self.dice.random() < 0.3:  # as a script of ours sends it, which is led on in another way
            extra["X-Kept-Form"] = "yes"
        if form.files or self.dice.random() < 0.05:
            kind = f"multipart/form-data; boundary={BOUNDARY.decode()}"
            body = self._in_parts(values, form.files)
        else:
            kind = "application/x-www-form-urlencoded"
            body = "&".join(
                f"{quote_from_bytes(name.encode())}={quote_from_bytes(value)}"
                for name, value in values
            ).encode()
        if self.dice.random() < 0.02:
            body = body[: self.dice.randrange(len(body) + 1)]
        return Sent("POST", form.action, tuple(({"Content-Type": kind} | extra).items()), body)

    def _in_parts(self, values: list[tuple[str, bytes]], named: Iterable[str]) -> bytes:
        parts = []
        for name, value in values:
            head = f'Content-Disposition: form-data; name="{name}"'.encode("utf-8", "replace")
            parts.append(b"--" + BOUNDARY + b"\r\n" + head + b"\r\n\r\n" + value + b"\r\n")
        for name in named:
            title = self.dice.choice(("a.csv", "a.json", "../../a", "a" * 500, "\x00.csv", "é.png"))
            head = f'Content-Disposition: form-data; name="{name}"; filename="{title}"'.encode()
            content = self.files[self.dice.choice(sorted(self.files))]
            parts.append(b"--" + BOUNDARY + b"\r\n" + head + b"\r\n\r\n" + content + b"\r\n")
        return b"".join(parts) + b"--" + BOUNDARY + b"--\r\n"
