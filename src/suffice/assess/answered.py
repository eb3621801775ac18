"""Answers: what a physician knew who gave one, and those that name a flag.

An answer covers what was true before it and entered before it. What is entered afterwards is new,
whatever time it tells of: nobody was told of it. So is a weight or a count that a later entry made
worse than it was known; one that a later entry made better is answered still.

The reviews ask whether a physician has answered at all. An answer that names a flag is none to them; the
facts of its flag are laid out once more as if it had been an answer to everything.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Final
from uuid import UUID

import msgspec

from suffice.clinical.entry import Answer, Birth, Entry, Handover, Known, Weight, standing_at
from suffice.clinical.weight.weighing import Weighing

IN_CARE: Final = (Answer, Handover, Known)
"""Kinds of entry that say what somebody knows of."""
BECOMES: Final = {"breast-lump-new": "breast-lump", "breast-red": "breast-red-longer"}
"""Flags of one sign, by how long it has lasted: the code of the first hours to the later one."""
CLOTHED: Final = "clothed"
MINUTE: Final = timedelta(minutes=1)
"""To what a form writes its time."""


def told_at(entry: Entry) -> datetime:
    """When somebody was told, or answered: the end of the minute that was written, or when it was entered.

    A form writes whole minutes. What was tapped in the same minute, and was on the record before the form was
    sent, was there when somebody was told of it.

    Args:
        entry: A handover, an answer, or what is known to a physician.
    """
    if entry.true_at.second or entry.true_at.microsecond:
        return entry.true_at
    return max(entry.true_at, min(entry.entered_at, entry.true_at + MINUTE))


@dataclass(frozen=True, eq=False)
class KnownThen:
    """What was on the record of an infant, or of the parent, when a physician answered.

    Attributes:
        at: The instant of the answer.
        entries: What stood then, in order of time.
        is_by_name: Whether the answer names the flag that is asked about.
    """

    at: datetime
    entries: tuple[Entry, ...]
    is_by_name: bool = False

    @cached_property
    def ids(self) -> frozenset[UUID]:
        """The ids of those entries."""
        return frozenset(one.id for one in self.entries)

    @cached_property
    def weights_g(self) -> Mapping[tuple[datetime, str], list[float]]:
        """Instant and kind of a weight to the weights known: 'birth', 'clothed' or neither.

        A weight that turns out to have been taken in clothes is worse than it was known.
        """
        found: dict[tuple[datetime, str], list[float]] = {}
        for one in self.entries:
            if isinstance(one.fact, Weight) and one.fact.weight_g > 0:
                kind = CLOTHED if one.fact.clothing == CLOTHED else ""
                found.setdefault((one.true_at, kind), []).append(one.fact.weight_g)
            elif isinstance(one.fact, Birth) and one.fact.birth_weight_g is not None:
                found.setdefault((one.true_at, "birth"), []).append(one.fact.birth_weight_g)
        return found


@dataclass(frozen=True, eq=False)
class Answers:
    """All answers of physicians about one infant, or about the parent.

    Attributes:
        entries: The current entries about them, in order of time.
        history: Every entry of the family, those that were replaced included.
    """

    entries: tuple[Entry, ...] = ()
    history: tuple[Entry, ...] = ()

    @cached_property
    def known_then(self) -> tuple[KnownThen, ...]:
        """What each of them rests on; of an infant what was known of the parent too."""
        given = [
            (one, one.fact)
            for one in self.entries
            if type(one.fact) is Answer and one.fact.is_of_physician
        ]
        return tuple(
            KnownThen(
                one.true_at,
                tuple(
                    known
                    for known in standing_at(self.history, told_at(one), one.entered_at)
                    if known.infant_id in {one.infant_id, None}
                ),
                is_by_name=answer.flag is not None,
            )
            for one, answer in given
        )

    @cached_property
    def _by_id(self) -> Mapping[UUID | None, Entry]:
        return {one.id: one for one in self.entries}

    def cover(self, *entry_ids: UUID | None) -> bool:
        """Whether one answer covers all these entries as they stand."""
        return any(all(one in then.ids for one in entry_ids) for then in self.known_then)

    def cover_by_name(self, *entry_ids: UUID | None) -> bool:
        """The same of the answers that name the flag that is asked about (:func:`answers_to`)."""
        return any(
            then.is_by_name and all(one in then.ids for one in entry_ids)
            for then in self.known_then
        )

    def cover_weights(self, last: Weighing, *before: Weighing | None) -> bool:
        """Whether one answer covers a weight and those before it that it is compared with.

        A weight that was corrected is covered where that made nothing worse: the last one is no lower
        than it was known, those before it are no higher.
        """
        return any(
            any(was <= last.weight_g for was in self._known_g(then, last))
            and all(
                any(was >= one.weight_g for was in self._known_g(then, one))
                for one in before
                if one is not None
            )
            for then in self.known_then
        )

    def _known_g(self, then: KnownThen, weight: Weighing) -> Sequence[float]:
        entry = self._by_id.get(weight.entry_id)
        kind = CLOTHED if weight.clothing == CLOTHED else ""
        kind = "birth" if weight.is_birth else kind
        return () if entry is None else then.weights_g.get((entry.true_at, kind), ())


NO_ANSWERS: Final = Answers()
"""No physician has answered."""


def answers_in(entries: Iterable[Entry], history: Iterable[Entry] | None = None) -> Answers:
    """The answers among the current entries about an infant, or about the parent.

    Args:
        entries: Those entries, in order of time.
        history: Every entry of the family; the same entries where there are no others.
    """
    own = tuple(entries)
    return Answers(own, own if history is None else tuple(history))


def as_first_entered(entries: Sequence[Entry], history: Iterable[Entry]) -> tuple[Entry, ...]:
    """The entries, those that say what somebody knows of as entered when they were first entered.

    An answer that is corrected later was given by somebody who knew no more than then.

    Args:
        entries: The current entries.
        history: Every entry of the family.
    """
    corrected = [one for one in entries if one.replaces and isinstance(one.fact, IN_CARE)]
    if not corrected:
        return tuple(entries)
    every = {one.id: one for one in history}

    def first(entry: Entry) -> datetime:
        at, before = entry.entered_at, every.get(entry.replaces) if entry.replaces else None
        while before is not None:
            at = min(at, before.entered_at)
            before = every.get(before.replaces) if before.replaces else None
        return at

    return tuple(
        msgspec.structs.replace(one, entered_at=first(one)) if one in corrected else one
        for one in entries
    )


def codes_answered(entries: Sequence[Entry]) -> tuple[str, ...]:
    """The codes of the flags that a physician answered by name, each once, with what time alone makes of them."""
    answers = [entry for entry in entries if type(entry.fact) is Answer]
    codes = [answer.flag for entry in answers if (answer := _named(entry)) and answer.flag]
    return tuple(dict.fromkeys([*codes, *(BECOMES[one] for one in codes if one in BECOMES)]))


def answers_to(entries: Sequence[Entry], code: str | None) -> tuple[Entry, ...]:
    """The entries as the facts of one flag see them: answers that name another flag end nothing.

    One that names what this flag was, before nothing but time went by, is an answer to this one too.

    Args:
        entries: The current entries, in order of time.
        code: The flag; None for the facts of all flags that no answer names.
    """
    if not any(type(entry.fact) is Answer for entry in entries):
        return tuple(entries)
    named = {code, *(was for was, now in BECOMES.items() if now == code)}
    return tuple(_seen_by(entry, named) for entry in entries)


def _named(entry: Entry) -> Answer | None:
    fact = entry.fact
    is_named = isinstance(fact, Answer) and fact.flag is not None and fact.is_of_physician
    return fact if is_named and isinstance(fact, Answer) else None


def _seen_by(entry: Entry, codes: Container[str | None]) -> Entry:
    answer = _named(entry)
    if answer is None or answer.flag in codes:
        return entry
    return msgspec.structs.replace(entry, fact=msgspec.structs.replace(answer, who="other"))
