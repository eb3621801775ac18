"""Milk on hand: what to use first, until when, and what is done with it; labels as a file."""

from __future__ import annotations

from typing import Final
from uuid import UUID, uuid4

import msgspec
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from suffice.care.family.two_persons import needs_second
from suffice.care.milk.on_hand import (
    LASTS,
    Act,
    Container,
    OnHand,
    act_on,
    on_hand,
)
from suffice.care.papers.making import folder_of
from suffice.clinical.entry import Infant, MilkMoved, Record
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.documents.milk_label import LabelledMilk, milk_labels
from suffice.documents.page import pdf_of
from suffice.errors import InputError
from suffice.language.text import upper_first
from suffice.web.access import Act as Right
from suffice.web.access import allowed, family_of
from suffice.web.entry.going import go_to
from suffice.web.family.reds import reds_now
from suffice.web.fields.refused import say_refused
from suffice.web.fields.sent import infant_asked, sent_id
from suffice.web.papers.asked import asked_of
from suffice.web.shown.fact import value_word
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import LETTERS, names_of, to_choose
from suffice.web.shown.wording import Moment, Wording, as_heading, in_words

LONGEST_CHARACTERS: Final = 120
ENDS: Final = ("used", "discarded")
NEXT: Final = {
    "room": ("used", "fridge", "freezer", "cold box", "warmed", "discarded"),
    "fridge": ("used", "warmed", "freezer", "cold box", "discarded"),
    "cold box": ("used", "fridge", "freezer", "warmed", "discarded"),
    "freezer": ("thawing", "thawed", "warmed", "cold box", "discarded"),
    "thawing": ("thawed", "warmed", "used", "discarded"),
    "thawed": ("used", "warmed", "discarded"),
    "warmed": ("used", "discarded"),
}
"""State of a container to what can be done with it, what is done most often standing first."""


class ContainerShown(msgspec.Struct, frozen=True, kw_only=True):
    """A container in words."""

    id: UUID
    number: str
    what: str
    state: str
    until: Moment
    limit: str
    is_urgent: bool
    needs_second: bool
    acts: tuple[tuple[str, str], ...]
    key: UUID
    by: str = ""
    second: str = ""


@require_http_methods(["GET", "POST"])
def milk(request: Request, family_id: UUID) -> HttpResponse:
    """The milk of one infant; what is sent is put on the record."""
    may = Right.WRITE if request.method == "POST" else Right.READ
    record = family_of(request, family_id, may)
    now, policy = timezone.now(), request.clinic.policy
    infant = infant_asked(request, record, to_choose(record, now, policy))
    if request.method == "POST":
        return _acted(request, family_id, infant)
    wording = wording_of(request)
    found = on_hand(record, infant, request.clinic.content, now=now)
    names = names_of(record, now, wording.policy)
    return page(
        request,
        "milk/milk.html",
        family_id=family_id,
        family_name=names[None],
        family={"id": family_id},
        reds=reds_now(request, record),
        whose=names[infant],
        infant=infant,
        infants=[(one.id, names[one.id]) for one in _with_milk(request, record, infant)],
        is_unit=found.where == "unit",
        containers=[_shown(one, found, wording) for one in found.containers],
        over=[_shown(one, found, wording) for one in found.over],
        ended=[_shown(one, found, wording) for one in found.ended[:10]],
        volume=wording.volume(found.volume_ml),
        cover=None if found.cover_d is None else wording.number(found.cover_d, 1),
    )


def _with_milk(request: Request, record: Record, shown: UUID) -> list[Infant]:
    """The infants of the choice: of one that has died the milk that is left is not lost from sight."""
    now, clinic = timezone.now(), request.clinic
    chosen = to_choose(record, now, clinic.policy, shown)
    return [
        one
        for one in sorted(record.infants, key=lambda one: one.position)
        if one in chosen or on_hand(record, one.id, clinic.content, now=now).containers
    ]


def _shown(one: Container, found: OnHand, wording: Wording) -> ContainerShown:
    now, until = timezone.now(), one.use_by
    parts = [value_word(one.fact.milk), str(wording.volume(one.fact.volume_ml))]
    if one.fact.side:
        parts.append(value_word(one.fact.side))
    if one.fact.lot:
        parts.append(_("lot %(lot)s") % {"lot": one.fact.lot})
    field = fields_of(MilkMoved)["to"]
    words = {"room": _("in the room")}
    if isinstance(field, Chosen):
        words |= {key: in_words(label) for key, label in field.choices}
    acts = () if until.state in ENDS else NEXT[until.state]
    if one.is_over:
        acts = ("discarded",)
    return ContainerShown(
        id=one.entry.id,
        number=one.number,
        what=", ".join(parts),
        state=(_("%(state)s %(at)s") if until.state in ENDS else _("%(state)s since %(at)s"))
        % {"state": upper_first(words[until.state]), "at": wording.near(until.since, now)},
        until=wording.due_moment(until.at, now),
        limit=_("date of the bank")
        if until.limit is None
        else str(wording.quantity(until.limit.value, until.limit.unit, 0)),
        is_urgent=until.at - now <= LASTS,
        needs_second=needs_second(one.fact, found.where),
        acts=tuple((key, as_heading(words[key])) for key in acts),
        key=uuid4(),
        by=one.by or "",
        second=one.second or "",
    )


def _acted(request: Request, family_id: UUID, infant: UUID) -> HttpResponse:
    sent = request.POST
    second, number = sent.get("second", ""), sent.get("number", "")
    to = sent.get("to", "")
    if to not in {act for acts in NEXT.values() for act in acts}:
        raise BadRequest
    if max(len(second), len(number)) > LONGEST_CHARACTERS:
        raise BadRequest
    act = Act(
        key=sent_id(request, "key"),
        milk_id=sent_id(request, "milk"),
        to=to,
        second=second,
        number=number,
        now=timezone.now(),
        actor=request.user.get_username(),
    )
    try:
        made = act_on(family_id, act, request.clinic.content)
    except InputError as refusal:
        say_refused(request, refusal)
    else:
        if len(made) > 1:
            messages.success(request, _("Put down as given; the feed is on the record too."))
        else:
            messages.success(request, _("Put down."))
    return go_to(request, f"{reverse('milk', args=[family_id])}?infant={infant}")


@require_safe
def labels(request: Request, family_id: UUID) -> HttpResponse:
    """The labels of what is kept for an infant, or of one container, as a file."""
    asked = asked_of(request)
    folder = folder_of(allowed(request, family_id, Right.READ), asked, request.clinic)
    record = folder.record
    alive = to_choose(record, asked.as_of, request.clinic.policy)
    infant = infant_asked(request, record, alive)
    found = on_hand(record, infant, folder.source.content, now=asked.as_of)
    only = request.GET.get("milk", "")
    chosen = [one for one in found.containers if only in {"", str(one.entry.id)}]
    if not chosen:
        raise Http404
    position = next(one.position for one in record.infants if one.id == infant)
    made = milk_labels(
        folder.source,
        folder.source.named(infant),
        LETTERS[(position - 1) % len(LETTERS)] if len(record.infants) > 1 else "",
        tuple(
            LabelledMilk(
                number=one.number,
                milk=one.fact.milk,
                volume_ml=one.fact.volume_ml,
                expressed_at=one.expressed_at,
                use_by_at=one.use_by.at,
                thawed_at=one.thawed_at,
                side=one.fact.side,
                lot=one.fact.lot,
                needs_two=needs_second(one.fact, found.where),
            )
            for one in chosen
        ),
    )
    response = HttpResponse(pdf_of(made, settings.HOME), "application/pdf")
    local = wording_of(request).local(asked.as_of)
    response["Content-Disposition"] = f'inline; filename="labels-{local:%Y%m%d-%H%M}.pdf"'
    response["Cache-Control"] = "no-store"
    return response
