"""Everything that can be asked for, asked by somebody who has not signed in, in every way."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping

from tools.attack.wire import Session

METHODS = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE", "TRACE")
OPEN = frozenset({"sign-in/", "favicon.ico"})
"""What anybody may see: a page that says nothing of a family, and a picture."""
REFUSED = frozenset({301, 302, 403, 404, 405})
CONVERTED = re.compile(r"<(?:(\w+):)?(\w+)>")


def patterns() -> list[str]:
    """All addresses of the program, as its own table has them; Django must be set up."""
    from suffice.web.site.urls import urlpatterns  # noqa: PLC0415 -- only once Django is set up

    return [str(one.pattern) for one in urlpatterns]


def filled(pattern: str, ids: Mapping[str, str]) -> str:
    """An address of a pattern, with ids of a family and an entry that exist."""

    def value(found: re.Match[str]) -> str:
        kind, name = found.groups()
        return ids.get(name, ids["entry_id"] if kind == "uuid" else "weight")

    return "/" + CONVERTED.sub(value, pattern)


def allowed(pattern: str, status: int, location: str) -> bool:
    """Whether an answer to a stranger gives nothing away."""
    if pattern in OPEN:
        return status < 500
    if status in {301, 302}:
        return location.startswith("/sign-in/")
    return status in REFUSED


def matrix(
    port: int, ids: Mapping[str, str], secrets: list[str]
) -> Iterator[tuple[str, int, bool]]:
    """Each method and address with the status of its answer, and whether that is as it must be.

    Args:
        port: Of a server that has families.
        ids: Of a family and an entry, by the names that addresses give them.
        secrets: What no answer may hold, such as names of families.
    """
    stranger = Session(port)
    stranger.get("/sign-in/")
    # With a token of the forms: for want of it a page would refuse that does not ask who comes.
    token = stranger.cookies["csrftoken"]
    for pattern in patterns():
        for method in METHODS:
            answer = stranger.ask(method, filled(pattern, ids), headers={"X-CSRFToken": token})
            stranger.cookies = {"csrftoken": token}
            quiet = not any(secret in answer.text for secret in secrets)
            right = allowed(pattern, answer.status, answer.headers.get("location", ""))
            yield f"{method} /{pattern}", answer.status, quiet and right
    stranger.close()


def counted(statuses: list[int]) -> str:
    """How often each status came."""
    return ", ".join(f"{count} x {status}" for status, count in sorted(Counter(statuses).items()))
