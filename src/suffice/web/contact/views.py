"""A contact as it happens: start it, answer its parts in any order, end it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple
from urllib.parse import quote, urlencode
from uuid import UUID, uuid4, uuid5

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from suffice.assess.assessment import assess
from suffice.assess.died import of_living
from suffice.assess.problems import problems_of
from suffice.assess.results import FamilyAssessment
from suffice.care.clinic.people import full_names
from suffice.care.contact.answering import Tap, answer, answer_as_expected, decide, start
from suffice.care.contact.expected import expected_now
from suffice.care.contact.visit import Question, Visit, asked_in, visit_of
from suffice.care.family.asking import ask_of
from suffice.care.family.recording import record_following
from suffice.clinical.entry import (
    Basis,
    ContactStart,
    Entry,
    Fact,
    Note,
    ProblemStatus,
    Record,
    Side,
)
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.clinical.entry.observation import BETWEEN
from suffice.errors import InputError
from suffice.knowledge.observable import Observable
from suffice.language.terms import terms_of
from suffice.message import Message
from suffice.web.access import Act, family_of
from suffice.web.contact.drawn import drawings, is_drawn
from suffice.web.contact.ending import (
    SETTING_AT,
    Lack,
    ended_lately,
    missing,
    next_due,
    not_handed_over,
)
from suffice.web.contact.follows import FollowsNow, follows_at, follows_now
from suffice.web.contact.other_papers import other_papers
from suffice.web.contact.page import blocks, expected_list, part_rows
from suffice.web.contact.problems import AskNext, asked_next, named_of
from suffice.web.contact.scores import tools_of
from suffice.web.contact.teaching import teaching_of
from suffice.web.contact.unknown import unknown_answers
from suffice.web.entry.going import OPENED_BY, go_to
from suffice.web.entry.quick import tapped_at
from suffice.web.family.reds import reds_now, reds_of
from suffice.web.fields.refused import say_refused
from suffice.web.fields.sent import infant_named, sent_id
from suffice.web.photograph.page import photographs_of
from suffice.web.shown.doubts import Doubt, doubts_at, doubts_in
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import as_heading

LONGEST_CHARACTERS = 2_000
LONGEST_WHY_CHARACTERS = 500
PHOTOGRAPHED = "latch"
"""The part in which a photograph can be taken."""
CLASS = "class"
"""The place in which several families are taught together: its kit is offered."""
FOLLOWS = "X-Follows"
"""Says to the script what follows now from the answers of the part: where it is new, it is fetched and shown."""
ASK_NEXT = "X-Ask-Next"
"""Says to the script what to ask next after an answer: name, why and link, quoted; empty where nothing is left."""
REFUSED = "X-Refused"
"""Says to the script that an answer was not taken: the page is loaded again and says why."""


@require_http_methods(["GET", "POST"])
def contact(request: Request, family_id: UUID) -> HttpResponse:
    """The contact that is in progress, or how to start one."""
    act = Act.WRITE if request.method == "POST" else Act.READ
    record = family_of(request, family_id, act)
    if request.method == "POST":
        return _started(request, record)
    visit = visit_of(record)
    now = timezone.now()
    wording = wording_of(request)
    names = names_of(record, now, wording.policy)
    if visit is None:
        return page(
            request,
            "contact/start.html",
            family_id=family_id,
            family_name=names[None],
            family={"id": family_id},
            reds=reds_now(request, record),
            places=_choices(ContactStart, "place").items(),
            ended=ended_lately(record, wording, now),
            entry_id=uuid4(),
        )
    found = ask_of(record, as_of=now, rules=request.clinic)
    content = request.clinic.content
    alive = of_living(record, now, request.clinic.policy)
    problems = problems_of(found.record, found.assessment, content, contact_id=visit.id)
    due = next_due(found.assessment, found.record, wording.local(now))
    doubts = [Lack(one.says, one.link(family_id)) for one in doubts_in(record, visit, content, now)]
    reds = reds_of(found.assessment, wording)
    return page(
        request,
        "contact/contact.html",
        family_id=family_id,
        family_name=names[None],
        visit=visit,
        place=_choices(ContactStart, "place").get(visit.place, visit.place),
        is_class=visit.place == CLASS,
        other_papers=list(other_papers(alive, names, content, now, is_class=visit.place == CLASS)),
        started=wording.past_moment(visit.start.true_at, now),
        family={"id": family_id},
        reds=reds,
        named=named_of(problems, record, visit.id, content, names),
        statuses=_choices(ProblemStatus, "status").items(),
        parts=[one for one in part_rows(visit, content, alive) if one.asked],
        doubts=doubts,
        unknown=unknown_answers(visit, content, names),
        taught=teaching_of(visit),
        missing=[
            *not_handed_over(reds, family_id),
            *doubts,
            *missing(visit, alive, content, names),
        ],
        end_with=_end_with(visit, due),
    )


def _end_with(visit: Visit, due: Mapping[str, str]) -> str:
    """What the form of the end is filled with: it leads on to the papers."""
    ends = {"setting": SETTING_AT[visit.place], "contact_id": str(visit.id)}
    return urlencode({**ends, OPENED_BY: "papers", **due})


def _choices(kind: type[Fact], name: str) -> dict[str, str]:
    """What can be chosen of a field of a kind, and what each is called."""
    field = fields_of(kind)[name]
    choices = field.choices if isinstance(field, Chosen) else ()
    return {key: as_heading(called) for key, called in choices}


def _started(request: Request, record: Record) -> HttpResponse:
    place = request.POST.get("place", "")
    texts = {name: request.POST.get(name, "").strip() for name in ("reason", "goal")}
    if place not in _choices(ContactStart, "place") or any(
        len(text) > LONGEST_CHARACTERS for text in texts.values()
    ):
        raise BadRequest
    fact = ContactStart(
        place=place,  # type: ignore[arg-type]  # one of the places, as just checked
        reason=texts["reason"] or None,
        goal=texts["goal"] or None,
    )
    key, now = sent_id(request, "key"), timezone.now()
    if start(record, fact, key=key, now=now, actor=_name(request)) != key:
        _keep_words(request, record, texts, key, now)
    return go_to(request, reverse("contact", args=[record.family_id]))


def _keep_words(
    request: Request, record: Record, texts: Mapping[str, str], key: UUID, now: datetime
) -> None:
    """Keep as a note what was written for the start of a contact that another device had started before."""
    fields = fields_of(ContactStart)
    lines = [f"{as_heading(fields[name].label)}: {text}" for name, text in texts.items() if text]
    if not lines:
        return
    entry = Entry(
        id=uuid5(key, "words"),
        fact=Note(text="\n".join(lines)),
        basis=Basis.REPORTED,
        true_at=now,
        entered_at=now,
        entered_by=_name(request),
    )
    record_following(
        record.family_id,
        lambda there: () if any(one.id == entry.id for one in there.entries) else (entry,),
        now=now,
    )
    messages.info(
        request, _("The contact was in progress already. What you wrote is kept as a note.")
    )


class _Part(NamedTuple):
    """One part of the contact in progress, as it is asked of one infant and the parent."""

    record: Record
    visit: Visit
    infant: UUID | None
    asked: Mapping[Question, Observable]


def _part_of(request: Request, family_id: UUID, key: str, act: Act) -> _Part | None:
    """The part that an address names; None where no contact is in progress."""
    record = family_of(request, family_id, act)
    if key not in request.clinic.content.parts:
        raise Http404
    visit = visit_of(record)
    if visit is None:
        return None
    infant = infant_named(request, of_living(record, timezone.now(), request.clinic.policy))
    asked = asked_in(request.clinic.content, key, [] if infant is None else [infant])
    return _Part(record, visit, infant, asked)


@require_safe
def part(request: Request, family_id: UUID, key: str) -> HttpResponse:
    """One part of the contact: what to look at or to ask, each answered by a tap."""
    found = _part_of(request, family_id, key, Act.READ)
    if found is None:
        return redirect("contact", family_id)
    record, visit, infant, asked = found
    content, now, wording = request.clinic.content, timezone.now(), wording_of(request)
    names = names_of(record, now, wording.policy)
    order = list(content.parts)
    place = order.index(key)
    alive = of_living(record, now, wording.policy)
    has_infants = any(question.infant_id for question in asked)
    drawn = drawings(visit, key, content, wording, now)
    led_to = _led_to(request, record, visit, asked, infant)
    shown = blocks(
        visit,
        asked,
        wording=wording,
        names=full_names(),
        doubts=doubts_at(led_to.doubts, infant),
        follows=follows_at(visit, led_to.assessed, infant, content=content, wording=wording),
        now=now,
    )
    return page(
        request,
        "contact/part.html",
        family_id=family_id,
        family_name=names[None],
        visit=visit,
        part=part_rows(visit, content, alive)[place],
        family={"id": family_id},
        reds=reds_of(led_to.assessed, wording),
        follows=led_to.follows,
        ask_next=led_to.ask_next,
        blocks=[block for block in shown if not block.is_drawn],
        drawings=drawn,
        drawn_blocks=[block for block in shown if block.is_drawn],
        is_drawn=any(is_drawn(one) for one in drawn),
        expected=expected_list(visit, asked, content),
        photographs=photographs_of(record, visit, names, wording) if key == PHOTOGRAPHED else (),
        can_photograph=key == PHOTOGRAPHED,
        infant=infant,
        scores=tools_of(key, visit, record, infant, content, wording),
        infants=[(one.id, names[one.id]) for one in alive.infants]
        if has_infants and len(alive.infants) > 1
        else [],
        following=order[place + 1] if place + 1 < len(order) else "",
        following_title=as_heading(Message(content.parts[order[place + 1]].title))
        if place + 1 < len(order)
        else "",
    )


@require_POST
def answered(request: Request, family_id: UUID, key: str) -> HttpResponse:
    """Put one answer on the record."""
    record = family_of(request, family_id, Act.WRITE)
    given = BETWEEN.join(one for one in request.POST.getlist("answer") if one)
    side = request.POST.get("side", "")
    question = Question(
        request.POST.get("what", ""),
        infant_named(request, record) if request.POST.get("infant") else None,
        _side(side),
    )
    tap = _tap(request, question, given or None)
    going = go_to(request, _place_of(request, family_id, key, question.what))
    try:
        answer(record, tap, request.clinic.content, wording_of(request).mark)
    except InputError as refusal:
        say_refused(request, refusal)
        going[REFUSED] = "yes"
    else:
        now_there = family_of(request, family_id, Act.WRITE)
        visit = visit_of(now_there)
        if visit is None or visit.id != tap.visit_id:
            # It was ended on another device: the page is loaded again, and says so.
            going[REFUSED] = "yes"
        else:
            # Whoever it was answered of, who may have died since: what a part asks is the same of each.
            alive = of_living(now_there, timezone.now(), request.clinic.policy)
            asked = asked_in(request.clinic.content, key, [one.id for one in alive.infants])
            led_to = _led_to(request, now_there, visit, asked, question.infant_id)
            going[FOLLOWS] = led_to.follows.mark
            going[ASK_NEXT] = quote(json.dumps(led_to.ask_next)) if led_to.ask_next else ""
    return going


class _LedTo(NamedTuple):
    """What the answers of a part have led to: the family's state, what does not fit, what follows, what to ask."""

    assessed: FamilyAssessment
    doubts: list[Doubt]
    follows: FollowsNow
    ask_next: AskNext | None


def _led_to(
    request: Request,
    record: Record,
    visit: Visit,
    asked: Iterable[Question],
    infant: UUID | None,
) -> _LedTo:
    content, now, wording = request.clinic.content, timezone.now(), wording_of(request)
    # What a part asks needs no probability: the engine would be half of the page's time.
    assessed = assess(record, now, content, wording.policy, engine=False)
    doubts = doubts_in(record, visit, content, now)
    asked_of = {question.what for question in asked}
    follows = follows_now(visit, assessed, asked_of, doubts, content=content, wording=wording)
    found = problems_of(record, assessed, content, contact_id=visit.id)
    return _LedTo(assessed, doubts, follows, asked_next(found, infant, record.family_id, content))


@require_POST
def expected(request: Request, family_id: UUID, key: str) -> HttpResponse:
    """Put on the record that what is open in a part was looked at and is as expected."""
    found = _part_of(request, family_id, key, Act.WRITE)
    if found is None:
        return redirect("contact", family_id)
    shown = set(request.POST.getlist("shown"))
    given = {
        question: text
        for question, text in expected_now(
            found.asked, found.visit.answers, request.clinic.content
        ).items()
        if _said_as(question) in shown
    }
    if given:
        tap = _tap(request, next(iter(given)), None)
        answer_as_expected(found.record, given, tap, request.clinic.content)
    return go_to(request, _place_of(request, family_id, key, ""))


@require_POST
def decided(request: Request, family_id: UUID) -> HttpResponse:
    """Put on the record what she decided of a problem, beside what was proposed."""
    record = family_of(request, family_id, Act.WRITE)
    problem, status = request.POST.get("problem", ""), request.POST.get("status", "")
    term = terms_of("problems").get(problem)
    infant = infant_named(request, record) if request.POST.get("infant") else None
    why = request.POST.get("why", "").strip()
    if (
        term is None
        or status not in _choices(ProblemStatus, "status")
        or (term.about == "infant") != (infant is not None)
        or len(why) > LONGEST_WHY_CHARACTERS
    ):
        raise BadRequest
    proposed = request.POST.get("proposed", "")
    fact = ProblemStatus(
        problem=problem,
        status=status,  # type: ignore[arg-type]  # one of them, as just checked
        why=why or None,
        proposed=proposed if proposed in _choices(ProblemStatus, "proposed") else None,  # type: ignore[arg-type]
        contact_id=sent_id(request, "contact"),
    )
    decide(
        record,
        fact,
        infant_id=infant,
        key=sent_id(request, "key"),
        now=timezone.now(),
        actor=_name(request),
    )
    return go_to(request, reverse("contact", args=[family_id]))


def _said_as(question: Question) -> str:
    """A question as the form names it: what was not shown is not asserted."""
    return f"{question.what} {question.side or ''}".strip()


def _tap(request: Request, question: Question, given: str | None) -> Tap:
    now = timezone.now()
    return Tap(
        key=sent_id(request, "key"),
        visit_id=sent_id(request, "contact"),
        question=question,
        answer=given,
        seen=frozenset(UUID(one) for one in request.POST.get("seen", "").split() if _is_uuid(one)),
        at=tapped_at(request, now),
        now=now,
        actor=_name(request),
    )


def _side(text: str) -> Side | None:
    if text not in {"", "left", "right"}:
        raise BadRequest
    return text or None  # type: ignore[return-value]  # one of the sides, as just checked


def _is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def _name(request: Request) -> str:
    return request.user.get_username()


def _place_of(request: Request, family_id: UUID, key: str, what: str) -> str:
    address = reverse("contact-part", args=[family_id, key])
    infant = request.POST.get("infant", "")
    asked = f"?{urlencode({'infant': infant})}" if infant else ""
    return f"{address}{asked}{'#' + quote(what) if what else ''}"
