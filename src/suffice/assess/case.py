"""One infant as of one instant, laid out for the reviews that make up an assessment.

Every review reads the same :class:`Case` and returns what it found
(:class:`suffice.assess.review.result.Reviewed`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Final, TypeVar, cast
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.answered import NO_ANSWERS, Answers, answers_in
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Birth, Entry, Fact, Illness, Infant, TestWeight, Weight
from suffice.clinical.weight.weighing import Weighing, weighings
from suffice.errors import Problem, SufficeError
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import Message, Words, joined, message

AFact = TypeVar("AFact", bound=Fact)

NO_BIRTH: Final = message("The time of birth is not known: enter the birth facts.")
BEFORE_BIRTH: Final = message("This time is before birth.")


class Case(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """What is known of one infant as of an instant.

    Attributes:
        infant: The infant.
        name: What it is called on the list.
        as_of: The instant of the question.
        entries: The current entries about the infant, in order of time; none is before birth.
        content: The content in force, the clinic's own values in it.
        policy: The clinic's policy.
        birth_entry: The entry with the birth facts; None when there is none.
        weighings: All weights by age, the birth weight first; empty without an instant of birth.
        is_before_birth: Whether the birth facts are on the record, but of a later instant.
        answers: What physicians have answered.
        seen_at: When somebody last saw the family; None where nobody has.
    """

    infant: Infant
    name: Words
    as_of: datetime
    entries: tuple[Entry, ...]
    content: Content
    policy: Policy
    birth_entry: Entry | None = None
    weighings: tuple[Weighing, ...] = ()
    is_before_birth: bool = False
    answers: Answers = NO_ANSWERS
    seen_at: datetime | None = None

    @property
    def no_birth(self) -> Message:
        """Why there is no age, where there is none."""
        return BEFORE_BIRTH if self.is_before_birth else NO_BIRTH

    @property
    def birth(self) -> Birth | None:
        """The birth facts."""
        fact = self.birth_entry.fact if self.birth_entry else None
        return fact if isinstance(fact, Birth) else None

    @property
    def born_at(self) -> datetime | None:
        """The instant of birth."""
        return self.birth_entry.true_at if self.birth_entry else None

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which instants are shown: the clinic's."""
        return ZoneInfo(self.policy.zone)

    @property
    def age_h(self) -> float | None:
        """Age in hours as of the question."""
        return self.age_at(self.as_of)

    def age_at(self, instant: datetime) -> float | None:
        """Age in hours at an instant."""
        birth = self.birth_entry
        return None if birth is None else elapsed_h(birth.true_at, instant)

    def at_age(self, hours: float) -> datetime:
        """The instant, in UTC, at which the infant was so old."""
        if self.born_at is None:
            raise ValueError("an infant without an instant of birth has no ages")
        return self.born_at.astimezone(UTC) + timedelta(hours=hours)

    def facts(self, kind: type[AFact]) -> list[tuple[Entry, AFact]]:
        """The entries of one kind with their facts, in order of time."""
        found = [(entry, entry.fact) for entry in self._by_kind.get(kind, ())]
        return cast("list[tuple[Entry, AFact]]", found)

    def of_kinds(self, *kinds: type[Fact]) -> list[Entry]:
        """The entries of some kinds, in order of time."""
        found = [one for one in kinds if one in self._by_kind]
        if len(found) == 1:
            return self._by_kind[found[0]]
        return [entry for entry in self.entries if type(entry.fact) in found] if found else []

    @cached_property
    def _by_kind(self) -> dict[type, list[Entry]]:
        """The entries of each kind; asked for some twenty times of one infant."""
        found: dict[type, list[Entry]] = {}
        for entry in self.entries:
            found.setdefault(type(entry.fact), []).append(entry)
        return found

    def latest(self, kind: type[AFact]) -> tuple[Entry, AFact] | None:
        """The last entry of a kind."""
        found = self.facts(kind)
        return found[-1] if found else None


_WITH_WEIGHT: Final = (Birth, Weight, TestWeight)
"""Kinds of entry that may hold a weight."""


def possible(entries: Iterable[Entry]) -> Iterator[Entry]:
    """The entries without weights of 0 g or less, which no scale shows of an infant.

    They are refused wherever they are entered; of a record that holds one all the same the rest is
    computed, as if nobody had weighed.
    """
    for entry in entries:
        fact = entry.fact
        if type(fact) not in _WITH_WEIGHT:
            yield entry
        elif (
            isinstance(fact, Birth) and fact.birth_weight_g is not None and fact.birth_weight_g <= 0
        ):
            unknown = msgspec.structs.replace(fact, birth_weight_g=None)
            yield msgspec.structs.replace(entry, fact=unknown)
        elif all(weight_g > 0 for weight_g in _weights_g(fact)):
            yield entry


def _weights_g(fact: Fact) -> tuple[float, ...]:
    if isinstance(fact, TestWeight):
        return (fact.before_g, fact.after_g)
    return (fact.weight_g,) if isinstance(fact, Weight) else ()


def refusal_words(refusal: SufficeError) -> Words:
    """A refusal for the reader, without its code."""
    return joined(*(problem_words(problem) for problem in refusal.problems))


def problem_words(problem: Problem, *, with_fix: bool = True) -> Words:
    """A problem for the reader, without its code."""
    return joined(problem.what, problem.why, problem.fix if with_fix else "")


def case_of(
    infant: Infant,
    name: Words,
    entries: Iterable[Entry],
    *,
    as_of: datetime,
    content: Content,
    policy: Policy,
    is_before_birth: bool = False,
    history: Iterable[Entry] | None = None,
) -> Case:
    """Lay out an infant's current entries; what is dated before birth is left out.

    Args:
        infant: The infant.
        name: What it is called.
        entries: The current entries about it, in order of time.
        as_of: The instant of the question.
        content: The content in force.
        policy: The clinic's policy.
        is_before_birth: Whether the birth is known to be later than the question.
        history: Every entry of the family, those that were replaced included; the same entries
            where there are no others.
    """
    own = tuple(entries)
    answers = answers_in(own, history)
    births = [entry for entry in own if type(entry.fact) is Birth]
    if not births:
        return Case(
            infant=infant,
            name=name,
            as_of=as_of,
            entries=own,
            content=content,
            policy=policy,
            is_before_birth=is_before_birth,
            answers=answers,
        )
    birth = births[-1]
    kept = tuple(entry for entry in own if entry.true_at >= birth.true_at or entry is birth)
    return Case(
        infant=infant,
        name=name,
        as_of=as_of,
        entries=kept,
        content=content,
        policy=policy,
        birth_entry=birth,
        weighings=weighings(kept, infant.id),
        answers=answers,
    )


def present_illnesses(entries: Iterable[Entry]) -> list[str]:
    """The illnesses that have been named and not ended, oldest first; entries in order of time."""
    return [what for what, _ in named_illnesses(entries)]


def named_illnesses(entries: Iterable[Entry]) -> list[tuple[str, Entry]]:
    """The same, each as it was first named since it last ended, with that entry.

    One illness is one however it is spelt with small letters, capitals and spaces.
    """
    named: dict[str, tuple[str, Entry]] = {}
    present: dict[str, bool] = {}
    for entry in entries:
        if isinstance(entry.fact, Illness):
            key = " ".join(entry.fact.what.split()).casefold()
            if not present.get(key):
                named[key] = (entry.fact.what, entry)
            present[key] = entry.fact.present
    return [named[key] for key, is_there in present.items() if is_there]
