"""A published score at a contact: its numbers, its total, and beside the total how far it can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Final, NamedTuple
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from suffice.care.contact.visit import Visit, visit_of
from suffice.care.family.recording import record_entry
from suffice.clinical.entry import Basis, Entry, Record, Score, standing
from suffice.knowledge.score import SCORES, ScoreTool
from suffice.knowledge.store import Content
from suffice.language.kinds import BASES
from suffice.message import Message, message
from suffice.web.access import Act, family_of
from suffice.web.family.reds import reds_now
from suffice.web.fields.sent import infant_named, sent_id
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose
from suffice.web.shown.wording import Moment, Wording, as_heading, in_words

BETWEEN: Final = ", "
"""Stands between the numbers of a score, as they are on the record."""


class Trust(NamedTuple):
    """How far a total can be trusted, and where that stands."""

    says: str
    source: str


class Total(NamedTuple):
    """A total that was given."""

    total: int
    most: int
    points: str
    at: Moment
    is_of_this_contact: bool


class Tool(NamedTuple):
    """A score as a link shows it, with its last total."""

    key: str
    name: str
    last: Total | None
    trust: tuple[Trust, ...]


class Row(NamedTuple):
    """One number that is asked."""

    key: str
    name: str
    numbers: range
    given: int | None


def tools_of(
    part: str, visit: Visit, record: Record, infant: UUID | None, content: Content, wording: Wording
) -> list[Tool]:
    """The scores that a part offers; the latch offers every one."""
    now = timezone.now()
    return [
        Tool(
            key,
            as_heading(Message(one.name)),
            next(iter(_totals(key, one, visit, record, infant, wording, now)), None),
            _trust(one, content),
        )
        for key, one in _tools(content).items()
        if part in {one.part, "latch"}
    ]


@require_http_methods(["GET", "POST"])
def score(request: Request, family_id: UUID, which: str) -> HttpResponse:
    """One score: its numbers to choose, or put its total on the record."""
    record = family_of(request, family_id, Act.WRITE)
    content = request.clinic.content
    tool = _tools(content).get(which)
    if tool is None:
        raise Http404
    visit = visit_of(record)
    if visit is None:
        return redirect("contact", family_id)
    infant = _infant(request, record, tool)
    given: Mapping[str, int] = {}
    if request.method == "POST":
        given = _given(request, tool)
        if len(given) == len(tool.components):
            return _store(request, record, visit, which, infant, list(given.values()))
        messages.error(
            request,
            in_words(message("Choose a number in each row: a total of some of them is no total.")),
        )
    wording, now = wording_of(request), timezone.now()
    names = names_of(record, now, wording.policy)
    offered = to_choose(record, now, wording.policy, infant) if infant else ()
    return page(
        request,
        "contact/score.html",
        family_id=family_id,
        family_name=names[None],
        family={"id": family_id},
        reds=reds_now(request, record),
        infant=infant,
        infant_name=names[infant] if infant else "",
        infants=[(one.id, names[one.id]) for one in offered] if len(offered) > 1 else [],
        name=as_heading(Message(tool.name)),
        look=in_words(Message(tool.look)),
        most=tool.most,
        part=tool.part,
        rows=[
            Row(one.key, as_heading(Message(one.name)), range(one.most + 1), given.get(one.key))
            for one in tool.components
        ],
        key=uuid4(),
        totals=_totals(which, tool, visit, record, infant, wording, now),
        trust=_trust(tool, content),
    )


def _tools(content: Content) -> dict[str, ScoreTool]:
    words = content.vocabularies.get(SCORES, {})
    return {key: one for key, one in words.items() if isinstance(one, ScoreTool)}


def _given(request: Request, tool: ScoreTool) -> dict[str, int]:
    """The numbers that were chosen, in the order of the score."""
    found: dict[str, int] = {}
    for one in tool.components:
        text = request.POST.get(f"n-{one.key}", "")
        if not text:
            continue
        if text not in {str(number) for number in range(one.most + 1)}:
            raise BadRequest
        found[one.key] = int(text)
    return found


def _store(
    request: Request,
    record: Record,
    visit: Visit,
    which: str,
    infant: UUID | None,
    numbers: list[int],
) -> HttpResponse:
    key, now = sent_id(request, "key"), timezone.now()
    if all(entry.id != key for entry in record.entries):
        fact = Score(
            score=which,
            total=sum(numbers),
            points=BETWEEN.join(map(str, numbers)),
            contact_id=visit.id,
        )
        entry = Entry(
            id=key,
            fact=fact,
            basis=Basis.OBSERVED,
            true_at=now,
            entered_at=now,
            entered_by=request.user.get_username(),
            infant_id=infant,
        )
        record_entry(record.family_id, entry, now=now)
    asked = f"?infant={infant}" if infant else ""
    return redirect(reverse("contact-score", args=[record.family_id, which]) + asked)


def _totals(
    which: str,
    tool: ScoreTool,
    visit: Visit,
    record: Record,
    infant: UUID | None,
    wording: Wording,
    now: datetime,
) -> list[Total]:
    """The totals of a score that stand, the last first."""
    whose = infant if tool.about == "infant" else None
    return [
        Total(
            entry.fact.total,
            tool.most,
            entry.fact.points or "",
            wording.past_moment(entry.true_at, now),
            entry.fact.contact_id == visit.id,
        )
        for entry in reversed(standing(record.entries))
        if isinstance(entry.fact, Score) and entry.fact.score == which and entry.infant_id == whose
    ]


def _trust(tool: ScoreTool, content: Content) -> tuple[Trust, ...]:
    """What is said of its reliability, each with its source or that it has none."""
    return tuple(
        Trust(
            in_words(Message(one.says)),
            "; ".join(
                [
                    *(content.sources[source].short for source in one.sources),
                    *([] if one.basis == "published" else [in_words(BASES[one.basis])]),
                ]
            ),
        )
        for one in tool.reliability
    )


def _infant(request: Request, record: Record, tool: ScoreTool) -> UUID | None:
    """Whose score it is: the infant that is named, else the first that lives; None for the parent's."""
    if tool.about == "parent":
        return None
    alive = to_choose(record, timezone.now(), request.clinic.policy)
    return infant_named(request, record, alive)
