"""What a condition is asked of, the limits it names, and what comes out, with the grounds.

The conditions are content (:class:`suffice.knowledge.schema.Condition`), the facts what the reviews
computed and what was found; :mod:`suffice.assess.rules.question` asks. Nothing here knows what a flag
or a problem is.

A fact that is not known cannot be told, and neither can a measure whose interval lies on both
sides of the limit; :class:`Verdict` keeps the two apart, and names for every answer what spoke for
it, what against it and what nobody knows.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import lru_cache
from typing import Final, Literal, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.answered import NO_ANSWERS, Answers
from suffice.assess.rules.truth import Truth
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.schema import Condition
from suffice.knowledge.series import Series
from suffice.knowledge.store import Content
from suffice.message import Param, Words

CHOICE: Final = "choice:"
CHOSEN: Final = "chosen:"

Gaps = tuple[tuple[str, Param], ...]
"""Name of a gap in a sentence to what fills it."""


ShownSince = Callable[[Callable[["Measure"], bool]], datetime | None]
"""From what says whether a measure is beyond a limit to since when measures have been, one after the other."""


class Measure(msgspec.Struct, frozen=True, kw_only=True):
    """A number that a condition compares.

    Attributes:
        value: The value compared.
        age_h: Age of the infant when it was true; 0 where the instant of birth is not known, for an
            infant of unknown age is taken for a newborn.
        figure: What it was taken from; its interval decides where it has a level.
        at: When it was true.
        looked_at: When it was last looked at again, where that is later and it still stands.
        shown_since: From what says whether a measure is beyond a limit to when the first of those was
            taken that have shown it without a break up to the last; None where the last shows it no
            more. None itself where nothing before it was of the same kind.
        span: Over what it was taken; empty for a value at an instant.
        is_answered: Whether a physician has answered it as it is now or worse; None where the answers
            that cover its entries tell.
        degree: How bad it is, the greater the worse; None where its value tells.
        entry_ids: The entries it rests on.
        gaps: What it fills of a sentence beyond its value, limit and age.
        says: What follows the sentence of the row in its own words.
    """

    value: float
    age_h: float
    figure: Figure
    at: datetime | None = None
    looked_at: datetime | None = None
    shown_since: ShownSince | None = None
    span: Words = ""
    is_answered: bool | None = None
    degree: float | None = None
    entry_ids: tuple[UUID | None, ...] = ()
    gaps: Gaps = ()
    says: tuple[Words, ...] = ()

    @property
    def unit(self) -> str:
        """The unit of the value."""
        return self.figure.unit


class Sign(msgspec.Struct, frozen=True, kw_only=True):
    """Something that is present, absent or not known.

    Attributes:
        present: Which of the three.
        age_h: Age of the infant when it was so; None for now.
        lasts: Whether it has been so ever since: then a condition asks it at any age from `age_h` to
            now, and where the age now is not known, at every age.
        at: When it began; None where that is not told.
        looked_at: When it was last looked at again, where that is later and it still stands.
        shown_since: When it was first looked at, where each look since has shown it.
        is_answered: Whether a physician has answered since. It is still present, and counts beside
            what is new; a row that rests on nothing else is not said again. None where the answers
            that cover its entries tell.
        degree: How bad it is, where it is a matter of degree: the greater the worse. A later entry of
            no greater degree is nothing new to whoever has taken it over.
        entry_ids: The entries it rests on.
        gaps: What it fills of a sentence.
        says: What follows the sentence of the row in its own words.
        working: How it was found, where it was computed.
    """

    present: Truth
    age_h: float | None = None
    lasts: bool = False
    at: datetime | None = None
    looked_at: datetime | None = None
    shown_since: datetime | None = None
    is_answered: bool | None = None
    degree: float | None = None
    entry_ids: tuple[UUID | None, ...] = ()
    gaps: Gaps = ()
    says: tuple[Words, ...] = ()
    working: Working | None = None


Side = Literal["", "left", "right"]


class Found(msgspec.Struct, frozen=True):
    """One find: answers or a number, on which side, and the entries it rests on."""

    answers: tuple[str, ...] = ()
    number: float | None = None
    side: Side = ""
    entry_ids: tuple[UUID, ...] = ()


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one infant or parent; a name that is not there is not known.

    A name may hold several facts (two illnesses, two doubtful weights): it counts as true where one
    of them is.

    Attributes:
        measures: Name of a measure to its values, in order of time.
        signs: Name of a sign to what was seen, in order of time.
        finds: Key to what was found, as one side sees it.
        traits: Name of a trait to its value.
        age_h: Age now; None where it is not known.
        gestation_days: Gestation at birth; None where it is not known.
        answers: What physicians have answered.
        seen_at: When somebody last saw the family; None where nobody has.
    """

    measures: Mapping[str, tuple[Measure, ...]] = {}
    signs: Mapping[str, tuple[Sign, ...]] = {}
    finds: Mapping[str, Found] = {}
    traits: Mapping[str, str] = {}
    age_h: float | None = None
    gestation_days: float | None = None
    answers: Answers = NO_ANSWERS
    seen_at: datetime | None = None

    @property
    def names(self) -> frozenset[str]:
        """The names under which something is known."""
        names = {name for name, found in self.measures.items() if found}
        names.update([name for name, found in self.signs.items() if found])
        return frozenset(names)

    def asked_by(self, asked: Condition) -> tuple[Measure | Sign, ...]:
        """What is known under the name that a condition asks."""
        if asked.measure:
            return self.measures.get(asked.measure, ())
        return self.signs.get(asked.sign, ())

    def only(self, name: str, fact: Measure | Sign) -> Facts:
        """The same with one fact under a name."""
        if isinstance(fact, Measure):
            return msgspec.structs.replace(self, measures={**self.measures, name: (fact,)})
        return msgspec.structs.replace(self, signs={**self.signs, name: (fact,)})


class Ground(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that was asked, and what it says of the whole.

    Attributes:
        asked: The condition as written.
        truth: What it says for the whole: below a ``not`` the opposite of what was found.
        compared: The condition that compared the fact: that of a row above where `asked` asks of one.
        fact: What was compared; None where it is not known, or where no fact was asked.
        found: What was found, where a find was asked; None where nothing was.
        limit: What it was compared with.
        from_age: The age from which it is asked.
        until_age: The age until which it is asked.
        undecided: Whether it is known, and lies on both sides of the limit.
    """

    asked: Condition
    truth: Truth
    compared: Condition | None = None
    fact: Measure | Sign | None = None
    found: Found | None = None
    limit: Constant | None = None
    from_age: Constant | None = None
    until_age: Constant | None = None
    undecided: bool = False


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """What a condition comes to, and on what grounds."""

    truth: Truth
    grounds: tuple[Ground, ...] = ()

    @property
    def supports(self) -> tuple[Ground, ...]:
        """What speaks for it."""
        return tuple(one for one in self.grounds if one.truth is Truth.TRUE)

    @property
    def against(self) -> tuple[Ground, ...]:
        """What speaks against it."""
        return tuple(one for one in self.grounds if one.truth is Truth.FALSE)

    @property
    def not_known(self) -> tuple[Ground, ...]:
        """What nobody knows; a measure on both sides of its limit is known, and undecided."""
        cannot_tell = (one for one in self.grounds if one.truth is Truth.CANNOT_TELL)
        return tuple(one for one in cannot_tell if not one.undecided)

    @property
    def is_undecided(self) -> bool:
        """Whether everything is known, and yet it cannot be told on which side of a limit it lies."""
        return (
            self.truth is Truth.CANNOT_TELL
            and not self.not_known
            and any(one.undecided for one in self.grounds)
        )

    @property
    def rests_on(self) -> tuple[UUID | None, ...]:
        """The entries behind what supports it, or behind what cannot be decided."""
        spoken = (one for one in self.grounds if one.truth is not Truth.FALSE)
        found = (one.fact or one.found for one in spoken)
        return tuple(dict.fromkeys(one for fact in found if fact for one in fact.entry_ids))


def limit_of(key: str, content: Content, age_h: float) -> Constant | None:
    """A limit by its key or by the choice in force; of a series, the value at that age.

    None where nothing is said about that age (:class:`Limit`).
    """
    return _limit(key, content).at(age_h)


@lru_cache(maxsize=1024)
def _limit(key: str, content: Content) -> Limit:
    return Limit.from_key(key, content)


class Limit(NamedTuple):
    """A limit with what holds where: the first that says something about an age.

    Where the chosen series says nothing about that age, the first of the other candidates that
    does holds: a clinic that chose a chart of days 2 to 11 has not given up all other days; not so
    of a key that begins with ``chosen:``.

    Attributes:
        candidates: Constants, which hold at every age, and series.
    """

    candidates: tuple[Constant | Series, ...]

    @classmethod
    def from_key(cls, key: str, content: Content) -> Limit:
        """The limit of a key, or of the choice in force."""
        if key.startswith(CHOSEN):
            return cls.from_key(content.chosen(key.removeprefix(CHOSEN)), content)
        if key.startswith(CHOICE):
            disagreement = content.disagreements[key.removeprefix(CHOICE)]
            keys = (disagreement.chosen, *disagreement.candidates)
            return cls(
                tuple(found for one in keys for found in cls.from_key(one, content).candidates)
            )
        return cls((content.table(key) if key in content.series else content.constant(key),))

    def at(self, age_h: float) -> Constant | None:
        """The value at an age; None where nothing is said about it."""
        for one in self.candidates:
            if isinstance(one, Constant):
                return one
            position = _position(one.axis, age_h)
            if one.covers(position):
                return one.at(position)
        return None


def _position(axis: str, age_h: float) -> float:
    """Where an age stands on the axis of a series."""
    if axis == "age_h":
        return age_h
    if axis == "age_d":
        return age_h / HOURS_PER_DAY
    # Day 1 is the first 24 h; what ends on the stroke of a day speaks of the day before.
    return float(max(1, math.ceil(age_h / HOURS_PER_DAY)))


def hours_of(constant: Constant) -> float:
    """An age in hours."""
    return constant.value * (HOURS_PER_DAY if constant.unit == "d" else 1)
