"""What a family has agreed to: one rule for every kind of consent."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from suffice.clinical.entry.contact import Consent
from suffice.clinical.entry.record import Entry


def consents(standing: Iterable[Entry]) -> tuple[Entry, ...]:
    """The consents among entries that stand, the one that counts last.

    A form takes minutes: of two for one minute the one that was entered later counts, and of two entered at
    once the 'no'.
    """
    spoken = [
        (one.true_at, one.entered_at, not one.fact.given, one.id.int, one)
        for one in standing
        if isinstance(one.fact, Consent)
    ]
    return tuple(one for *_, one in sorted(spoken, key=lambda one: one[:4]))


def last_words(standing: Iterable[Entry], to: str) -> dict[UUID | None, bool]:
    """What each person said last about one thing; None: the parent. Whoever was never asked is not in it."""
    return {
        one.infant_id: one.fact.given
        for one in consents(standing)
        if isinstance(one.fact, Consent) and one.fact.to == to
    }
