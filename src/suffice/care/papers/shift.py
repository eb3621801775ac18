"""The families of the caseload as the next shift has to know them, with what waits for an answer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import msgspec

from suffice.assess.assessment import ENGINE_VERSION, assess
from suffice.assess.results import Tier
from suffice.care.caseload.listing import CaseloadRow
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Record
from suffice.documents.shift_page import Shift, ShiftFamily, ShiftInfant
from suffice.knowledge.policy import Clinic, Language, PaperSize
from suffice.message import Words, joined, message
from suffice.record import repository

MAY_WAIT: Final = frozenset({Tier.NOW, Tier.TODAY, Tier.HANDED_OVER, Tier.WITHIN_A_DAY})
"""Groups in which something can have been handed over that has no answer yet."""


def shift_of(
    rows: Sequence[CaseloadRow],
    rules: Clinic,
    *,
    now: datetime,
    language: Language,
    size: PaperSize,
    author: str,
    which: Words,
) -> Shift:
    """What the hand-over of a shift is made from.

    Args:
        rows: The families of the list, in the order of need.
        rules: The clinic as it is set up.
        now: When it is made.
        language: Its language.
        size: The sheet.
        author: Who hands over, as people call them.
        which: Which families, in words.

    Raises:
        StorageError: RECORD-010.
    """
    asked = [row.family_id for row in rows if row.tier in MAY_WAIT]
    records = repository.read_many(asked)
    return Shift(
        now=now,
        families=tuple(_family(row, records.get(row.family_id), rules, now) for row in rows),
        which=which,
        policy=msgspec.structs.replace(rules.policy, language=language),
        size=size,
        author=author,
        content_version=rules.content.version,
        engine_version=ENGINE_VERSION,
    )


def _family(row: CaseloadRow, record: Record | None, rules: Clinic, now: datetime) -> ShiftFamily:
    return ShiftFamily(
        name=row.name,
        tier=row.tier,
        reason=row.reason,
        waiting=() if record is None else _waiting(record, row.reason, rules, now),
        setting=None if row.setting is None else row.setting.value,
        infants=tuple(
            ShiftInfant(
                name=one.name,
                age_h=elapsed_h(one.born_at, now) if one.born_at and one.born_at <= now else None,
                weight_g=one.weight_g,
                weight_at=one.weight_at,
            )
            for one in sorted(row.infants, key=lambda infant: infant.position)
        ),
        due_at=row.next_due_at,
        as_of=row.as_of if row.outdated is not None else None,
    )


def _waiting(
    record: Record, reason: Sequence[Words], rules: Clinic, now: datetime
) -> tuple[Words, ...]:
    """Of what is handed over: to whom, and by when an answer is due, where the reason does not say it."""
    assessed = assess(record, now, rules.content, rules.policy, engine=False)
    found = [*assessed.findings, *(one for infant in assessed.infants for one in infant.findings)]
    said_already = " ".join(str(one) for one in reason)
    waiting: dict[str, Words] = {}
    for one in found:
        taken = one.handed_over
        if taken is None:
            continue
        is_said = any(str(form) in said_already for form in (taken.says, taken.briefly) if form)
        words: Words = "" if is_said else taken.says
        if taken.asked:
            words = joined(words, message("Asked: “{asked}”.", asked=taken.asked))
        waiting.setdefault(f"{taken.says}{taken.asked}", words)
    return tuple(waiting.values())
