"""Can it be done? The day of a proposed plan on the clock, what gave way, and what would buy most.

It takes up to a second, so the page of the plan asks for it when it stands; without scripts a link leads
to it. The day of a plan that is kept is kept with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

import msgspec
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from suffice.assess.died import of_living
from suffice.care.plan_day import changes_of, schedule_of
from suffice.clinical.entry import Entry, Plan, Record
from suffice.message import message
from suffice.plan.propose import propose
from suffice.plan.schedule import Schedule
from suffice.plan.schedule_asked import case_of, parent_day_of
from suffice.plan.schedule_changes import Change
from suffice.plan.schedule_words import in_h_min
from suffice.web.access import Act, family_of
from suffice.web.fields.sent import infant_asked
from suffice.web.plan.dial import dial_shown
from suffice.web.plan.known import known_now
from suffice.web.shown.fact import describe
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import as_heading, in_words


@require_safe
def plan_day(request: Request, family_id: UUID) -> HttpResponse:
    """The day of the proposal for one infant: a part of the page of its plan, or a page of its own."""
    asked_of = family_of(request, family_id, Act.READ)
    alive = of_living(asked_of, timezone.now(), request.clinic.policy)
    infant_id = infant_asked(request, alive)
    known = known_now(request, asked_of, infant_id)
    content, record = request.clinic.content, known.answer.record
    wording = msgspec.structs.replace(wording_of(request), now=known.now)
    case = case_of(known.asked, propose(known.asked).plan, (one.id for one in alive.infants))
    found = schedule_of(case, content)
    parent_day = parent_day_of(known.asked.entries)
    return page(
        request,
        "plan/day.html" if request.htmx else "plan/day_page.html",
        family_id=family_id,
        infant=infant_id,
        whose=names_of(record, known.now, wording.policy)[infant_id],
        is_possible=found.is_possible,
        says=_says(found),
        conflicts=[in_words(one) for one in found.conflicts],
        gave=[in_words(one) for one in found.gave],
        dial=dial_shown(found.acts, "day"),
        changes=_changes_shown(changes_of(case, content)),
        parent_day="" if parent_day is None else describe(parent_day, wording),
        is_of_twins=len(alive.infants) > 1,
    )


def on_the_clock(request: Request, entry: Entry, record: Record) -> Entry:
    """A plan that is about to be kept, with the day that was found for it and the plans of the others."""
    plan, infant_id = entry.fact, entry.infant_id
    if not isinstance(plan, Plan) or infant_id is None:
        return entry
    asked = known_now(request, record, infant_id).asked
    alive = of_living(record, asked.as_of, request.clinic.policy)
    case = case_of(asked, plan, (one.id for one in alive.infants))
    acts = schedule_of(case, request.clinic.content).acts
    return msgspec.structs.replace(entry, fact=msgspec.structs.replace(plan, clock=acts))


def _says(found: Schedule) -> str:
    """How long it takes, and the sleep that is left."""
    if not found.is_possible:
        return in_words(message("No day keeps every rule of this plan."))
    taken = in_words(
        message(
            "The parent's part: {parent} of 24 h; unbroken sleep: {sleep}.",
            parent=in_h_min(found.parent_minutes),
            sleep=in_h_min(found.sleep_minutes),
        )
    )
    texts = [taken]
    if found.helper_minutes:
        helped = message("A helper's part: {helper}.", helper=in_h_min(found.helper_minutes))
        texts.append(in_words(helped))
    if not found.case.is_woken:
        drawn = message(
            "The infant is not woken; the day is drawn with feeds no more than {gap} apart.",
            gap=in_h_min(found.case.gap_night_minutes),
        )
        texts.append(in_words(drawn))
    return " ".join(texts)


def _changes_shown(changes: Sequence[Change]) -> list[tuple[str, str, str]]:
    """Each change with the sleep and the minutes that it buys."""
    return [
        (
            as_heading(one.what),
            in_words(message("makes it possible"))
            if one.makes_possible
            else f"+{in_words(in_h_min(one.more_sleep_minutes))}"
            if one.more_sleep_minutes
            else "–",
            f"−{in_words(in_h_min(one.fewer_minutes))}" if one.fewer_minutes else "–",
        )
        for one in changes
    ]
