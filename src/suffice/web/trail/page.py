"""Events of the trail as a page shows them, and as a file holds them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from http import HTTPStatus
from typing import NamedTuple
from uuid import UUID

from suffice.care.clinic.noted import EVENTS
from suffice.care.family.erasing import WHY
from suffice.care.trail import ACT_NAMES, Act, Event, Kept
from suffice.knowledge.store import Content
from suffice.web.shown.wording import in_words
from suffice.web.trail.acts import PAGES, REFUSED
from suffice.web.trail.keys import called, given

COLUMNS = (
    "at",
    "who",
    "act",
    "page",
    "method",
    "status",
    "family_id",
    "about",
    "why",
    "address",
    "id",
)


SAY_ALL = frozenset({Act.SIGN_IN, Act.SIGN_IN_FAILED, Act.SIGN_OUT, Act.SEARCH, Act.POLICY})
"""Acts that say by themselves what they were about."""


ELSEWHERE = frozenset({"sign-in-code", "factor", "passkeys", "passphrase", "person", "erasures"})
"""Pages besides that of signing in on which a proof of who somebody is can be refused."""


ANSWERED_BY_REDIRECT = frozenset({Act.POLICY, Act.PEOPLE, Act.ACCOUNT})
"""Acts that lead on once they are done: whose form is shown again, changed nothing."""


FORMULA = frozenset("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
"""What a spreadsheet takes for the beginning of a formula, wide forms included."""


class Line(NamedTuple):
    """An event in words; `key` is what of it has none: an id, or a key of ours."""

    at: datetime
    who: str
    does: str
    what: str
    key: str
    is_refused: bool
    is_not_taken: bool
    family_id: UUID | None
    why: str
    address: str


def lines_of(kept: Iterable[Kept], content: Content, teams: Mapping[UUID, str]) -> list[Line]:
    """Events in the words of the page.

    Args:
        kept: The events.
        content: Names what keys of ours stand for.
        teams: Names of teams.
    """
    return [_line(one.event, content, teams) for one in kept]


def _line(event: Event, content: Content, teams: Mapping[UUID, str]) -> Line:
    page = PAGES.get(event.page)
    name = ACT_NAMES.get(Act(event.act)) if event.act in set(Act) else None
    done = EVENTS.get(event.page)
    words = done[1] if done else None if page is None else page.what
    what = event.page if words is None else in_words(words)
    if event.act in SAY_ALL and event.page not in ELSEWHERE:
        what = ""
    name_of_key = called(event, content, teams)
    return Line(
        at=event.at,
        who=event.who,
        does=event.act if name is None else in_words(name),
        what=f"{what}: {name_of_key}" if name_of_key else what,
        key="" if name_of_key else event.about,
        is_refused=event.status >= REFUSED,
        is_not_taken=event.act in ANSWERED_BY_REDIRECT and event.status == HTTPStatus.OK,
        family_id=event.family_id,
        why=in_words(WHY[event.why]) if event.why in WHY else given(event, teams),
        address=event.address,
    )


def csv_of(events: Iterable[Event]) -> Iterator[str]:
    """A file of events, line by line; times in UTC."""
    yield _row(COLUMNS)
    for event in events:
        values = [getattr(event, name) for name in COLUMNS]
        yield _row([event.at.isoformat(), *("" if one is None else str(one) for one in values[1:])])


def _row(values: Sequence[str]) -> str:
    written = io.StringIO()
    # A value that a spreadsheet would take for a formula is kept a text.
    csv.writer(written).writerow([f"'{one}" if one[:1] in FORMULA else one for one in values])
    return written.getvalue()
