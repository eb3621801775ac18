"""A family with a plan that was agreed on an hour ago, as papers are made from it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import msgspec

from paper_source import NOW, folder_of_record, records, visited
from suffice.clinical.entry import Plan
from suffice.documents.frame import Source

KEY = "thriving"
SOME = Plan(
    move="first",
    feeds_count=8,
    at_breast="every feed",
    supplement_ml=45,
    supplement_feeds_count=5,
    supplement_ml_per_day=225,
    method="cup",
    milk="own",
)


def source_of(plan: Plan, *, age_h: float | None = None, **policy: Any) -> Source:
    """A family with that plan, agreed on an hour ago; its infant of that age now, where one is given."""
    record = records()[KEY]
    made = folder_of_record(visited(record, (plan, record.infants[-1].id)), **policy).source
    if age_h is None:
        return made
    *others, infant = made.assessment.infants
    aged = msgspec.structs.replace(
        infant,
        born_at=NOW - timedelta(hours=age_h),
        age_h=age_h,
        age_days=int(age_h // 24),
        gestation_days=276,
    )
    assessment = msgspec.structs.replace(made.assessment, infants=(*others, aged))
    return msgspec.structs.replace(made, assessment=assessment)
