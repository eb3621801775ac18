"""Watch a feed, read it while it goes on, save it once, and look at it afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID, uuid4

import msgspec
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from suffice.assess.parameters import parameters_of
from suffice.assess.watched_feed import end_ms, read_feed
from suffice.care.family.recording import record_following
from suffice.clinical.entry import Entry, Record, WatchedFeed, standing
from suffice.errors import InputError
from suffice.record.values import Appended
from suffice.web.access import Act, allowed, family_of
from suffice.web.entry.confirmation import say_saved
from suffice.web.entry.going import go
from suffice.web.family.reds import reds_now
from suffice.web.feed.forms import LONGEST_EVENTS, Sent, WatchForm
from suffice.web.feed.one_feed import once
from suffice.web.feed.page import (
    others_of,
    sides_shown,
    test_weight_of,
    totals_shown,
    weighed_shown,
)
from suffice.web.fields.sent import infant_sent
from suffice.web.fields.spoken import words_of
from suffice.web.shown.fact import describe
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose
from suffice.web.shown.wording import in_words


@require_http_methods(["GET", "POST"])
def watch(request: Request, family_id: UUID) -> HttpResponse:
    """The live page; what it sends when the feed is over is stored once."""
    record = family_of(request, family_id, Act.WRITE)
    form = _form(request, record)
    if request.method == "POST" and form.is_valid():
        entries = form.entries(now=timezone.now(), actor=request.user.get_username())
        appended = _stored(form, family_id, entries)
        if appended is not None:
            if appended.new:
                say_saved(request, family_id, entries[:1])
            return go(request, "feed", family_id, entries[0].id)
    wording = wording_of(request)
    now = timezone.now()
    names, alive = names_of(record, now, wording.policy), to_choose(record, now, wording.policy)
    return page(
        request,
        "feed/watch.html",
        form=form,
        family_id=family_id,
        family_name=names[None],
        whose=names[alive[0].id] if len(alive) == 1 else names[None],
        family={"id": family_id},
        reds=reds_now(request, record),
        status=200,
    )


@require_POST
def reading(request: Request, family_id: UUID) -> HttpResponse:
    """What the swallows say so far: a piece of the page, computed here and never on the device."""
    allowed(request, family_id, Act.WRITE)
    if len(request.body) > LONGEST_EVENTS:
        return HttpResponse(_("The feed is too long to be read."), status=413)
    try:
        sent = msgspec.json.decode(request.body, type=Sent)
        found = read_feed(sent.events, sent.now_ms, parameters_of(request.clinic.content))
    except msgspec.DecodeError:
        return HttpResponse(_("The events of the feed cannot be read."), status=400)
    except InputError as refusal:
        text = " ".join(words_of(one) for one in refusal.problems)
        return page(request, "feed/reading.html", says=text, is_refused=True)
    wording = wording_of(request)
    return page(
        request,
        "feed/reading.html",
        says=in_words(found.says),
        offer=in_words(found.offer) if found.offer else "",
        sides=sides_shown(found, wording),
        at=f"{wording.local(timezone.now()):%H:%M:%S}",
    )


@require_safe
def feed(request: Request, family_id: UUID, entry_id: UUID) -> HttpResponse:
    """A watched feed afterwards: by side, with the weights where there are some."""
    record = family_of(request, family_id, Act.READ)
    entry = next((one for one in record.entries if one.id == entry_id), None)
    if entry is None or not isinstance(entry.fact, WatchedFeed):
        raise Http404
    wording, parameters = wording_of(request), parameters_of(request.clinic.content)
    current = standing(record.entries)
    lasted_ms = end_ms(entry.fact.events)
    shown: dict[str, Any] = {}
    try:
        found = read_feed(entry.fact.events, lasted_ms, parameters)
    except InputError as refusal:
        shown["problem"] = " ".join(words_of(one) for one in refusal.problems)
    else:
        shown |= {
            "sides": sides_shown(found, wording),
            "totals": totals_shown(found, wording),
        }
        weights = test_weight_of(record, current, entry)
        if weights is not None:
            shown["weighed"] = weighed_shown(weights, found, parameters, wording)
            shown["weights"] = describe(weights, wording)
    names = names_of(record, timezone.now(), wording.policy)
    return page(
        request,
        "feed/feed.html",
        family_id=family_id,
        whose=names.get(entry.infant_id, names[None]),
        entry=entry,
        family={"id": family_id},
        reds=reds_now(request, record),
        what=describe(entry.fact, wording),
        when=wording.when(entry.true_at),
        others=others_of(current, entry, lasted_ms),
        is_current=any(one.id == entry.id for one in current),
        level=round(100 * parameters.watched_feed.level_fraction.value),
        **shown,
    )


def _form(request: Request, record: Record) -> Any:
    wording, clinic = wording_of(request), request.clinic
    now = timezone.now()
    names = names_of(record, now, wording.policy)
    offered = to_choose(record, now, wording.policy, infant_sent(request, record))
    infants = [(one.id, names[one.id]) for one in offered]
    return WatchForm(
        request.POST if request.method == "POST" else None,
        policy=clinic.policy,
        content=clinic.content,
        infants=infants,
        initial={"entry_id": uuid4(), "events": "[]"},
    )


def _stored(form: Any, family_id: UUID, entries: Sequence[Entry]) -> Appended | None:
    """Store the feed; None with problems and questions in the form when it cannot be."""

    def of_this_device(record: Record) -> Sequence[Entry]:
        return once(record, entries)

    now = entries[0].entered_at
    try:
        return record_following(family_id, of_this_device, now=now)
    except InputError as refusal:
        form.refuse(refusal)
        if form.errors:
            return None
        return record_following(family_id, of_this_device, now=now, confirmed=True)
