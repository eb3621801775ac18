"""Of whom a page of plans is, and what is known of it now."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.utils import timezone

from suffice.care.contact.visit import Visit, visit_of
from suffice.care.family.asking import Answer, ask_of
from suffice.clinical.entry import Record
from suffice.plan.asked import asked_of
from suffice.plan.known import Asked
from suffice.web.shown.page import Request, wording_of


class Known(NamedTuple):
    """What is known of an infant for whom a plan is made.

    Attributes:
        now: As of when.
        answer: The record and what was assessed of it.
        visit: The contact that is in progress; None where there is none.
        asked: What a plan is proposed from.
    """

    now: datetime
    answer: Answer
    visit: Visit | None
    asked: Asked


def known_now(request: Request, record: Record, infant_id: UUID) -> Known:
    """What is known of an infant now, of a record that was read already."""
    now = timezone.now()
    answer = ask_of(record, as_of=now, rules=request.clinic)
    visit = visit_of(answer.record)
    asked = asked_of(
        answer.record,
        answer.assessment,
        infant_id,
        request.clinic.content,
        wording_of(request).zone,
        None if visit is None else visit.id,
    )
    return Known(now, answer, visit, asked)
