"""Observations of the record as finds: the latest of each thing and side decides.

History counts at later contacts too. What was seen counts for its own contact: at the next one it stands
beside the new look, and is carried over only by whoever looks.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

from suffice.assess.problems.found import SIDES
from suffice.assess.rules.table import Found, Side
from suffice.clinical.entry import Entry, Observation
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content


def latest_contact(entries: Iterable[Entry]) -> UUID | None:
    """The contact to which the latest observation belongs; None where none belongs to one."""
    found = [one.fact.contact_id for one in entries if isinstance(one.fact, Observation)]
    return next((one for one in reversed(found) if one is not None), None)


def looked_at(entries: Iterable[Entry], contact_id: UUID | None) -> datetime | None:
    """When the last observation of a contact was made, or the contact began; None where there is neither."""
    times = (
        one.true_at
        for one in entries
        if contact_id is not None
        and (
            one.id == contact_id
            or (isinstance(one.fact, Observation) and one.fact.contact_id == contact_id)
        )
    )
    return max(times, default=None)


def observed_finds(
    entries: Iterable[Entry],
    content: Content,
    as_of: datetime,
    contact_id: UUID | None,
    *,
    stands: bool = False,
) -> dict[str, tuple[Found, ...]]:
    """What was observed of one person, by key.

    A key or answer that the vocabulary does not know says nothing here; it stays on the record.

    Args:
        entries: The entries that stand about one infant or the parent, in order of time.
        content: The content in use.
        as_of: The time of the question.
        contact_id: The contact whose look counts; what belongs to none counts for a day.
        stands: Whether each answer counts until a later one takes its place, however long ago the look was.
    """
    since = as_of - timedelta(hours=content.constant("problem.look_counts_h").value)
    words = content.vocabularies[FOLDER]
    found: dict[str, dict[Side, Found | None]] = {}
    for entry in entries:
        fact = entry.fact
        word = words.get(fact.what) if isinstance(fact, Observation) else None
        if not isinstance(fact, Observation) or not isinstance(word, Observable):
            continue
        is_of_contact = fact.contact_id is not None and fact.contact_id == contact_id
        is_loose = fact.contact_id is None and entry.true_at > since
        if not (stands or content.parts[word.part].lasts or is_of_contact or is_loose):
            continue
        by_side = found.setdefault(fact.what, {})
        for side in _sides(fact, word):
            by_side[side] = _find(fact, word, side, entry.id)
        if word.by_side and not fact.side:
            by_side |= dict.fromkeys(SIDES, None)
    sides: tuple[Side, ...] = (*SIDES, "")
    finds = {
        key: tuple(one for side in sides if (one := by_side.get(side)) is not None)
        for key, by_side in found.items()
    }
    return {key: one for key, one in finds.items() if one}


def _sides(fact: Observation, word: Observable) -> tuple[Side, ...]:
    if not word.by_side or fact.side is None:
        return ("",)
    return SIDES if fact.side == "both" else (fact.side,)


def _find(fact: Observation, word: Observable, side: Side, entry_id: UUID) -> Found | None:
    """What an observation says; None where it was left open, or cannot be read."""
    if fact.answer is None:
        return None
    if word.type == "number":
        value = fact.number
        return Found((), value, side, (entry_id,)) if value is not None else None
    # A text has no answers that can be chosen: it says nothing to a rule.
    known = word.answers
    answers = tuple([one for one in fact.answers if one in known])
    return Found(answers, None, side, (entry_id,)) if answers else None
