"""The red flags of a family, which stand on top of every page about it."""

from __future__ import annotations

import msgspec
from django.utils import timezone

from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment
from suffice.clinical.entry import Record
from suffice.web.family.page import FindingShown, flags_shown, infant_names
from suffice.web.shown.page import Request, wording_of
from suffice.web.shown.wording import Wording


def reds_of(assessed: FamilyAssessment, wording: Wording) -> tuple[FindingShown, ...]:
    """The red flags of an assessment, the most urgent first, as they are read at its time: 'today 09:30'.

    Printed, they say the day: paper is read on another one.
    """
    every = [*assessed.findings, *(one for infant in assessed.infants for one in infant.findings)]
    red, names = [one for one in every if one.colour == "red"], infant_names(assessed)
    near = flags_shown(red, names, msgspec.structs.replace(wording, now=assessed.as_of))
    dated = flags_shown(red, names, msgspec.structs.replace(wording, now=None))
    return tuple(
        msgspec.structs.replace(
            one,
            on_paper=paper.sentence if paper.sentence != one.sentence else "",
            taken_on_paper=paper.taken if paper.taken != one.taken else "",
        )
        for one, paper in zip(near, dated, strict=True)
    )


def reds_now(request: Request, record: Record) -> tuple[FindingShown, ...]:
    """The red flags of now, by the plain rules: for a page that asks nothing else of the assessment.

    Args:
        request: Who asks.
        record: The whole record, as it was read for the page.
    """
    content, policy = request.clinic.content, request.clinic.policy
    assessed = assess(record, timezone.now(), content, policy, engine=False)
    return reds_of(assessed, wording_of(request))
