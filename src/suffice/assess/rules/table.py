"""One row of a rule table asked of what is known: true, false or cannot tell, with the grounds.

The rows are content (:class:`suffice.knowledge.schema.Condition`); the facts are what the reviews
computed. Nothing here knows what a flag or a problem is: whatever has conditions is asked here.

A fact that is not known cannot be told, and neither can a measure whose interval lies on both
sides of the limit; :class:`Verdict` keeps the two apart, and names for every answer what spoke for
it, what against it and what nobody knows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Final, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.answered import NOBODY, Answers
from suffice.assess.rules.truth import Truth, conjunction, disjunction, negation, truth_of
from suffice.clinical.reading.writing import PERCENT_DECIMALS
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content
from suffice.message import Param, Words

CHOICE: Final = "choice:"
CHOSEN: Final = "chosen:"

Gaps = tuple[tuple[str, Param], ...]
"""Name of a gap in a sentence to what fills it."""


class Measure(msgspec.Struct, frozen=True, kw_only=True):
    """A number that a condition compares.

    Attributes:
        value: The value compared.
        age_h: Age of the infant when it was true; 0 where the instant of birth is not known, for an
            infant of unknown age is taken for a newborn.
        figure: What it was taken from; its interval decides where it has a level.
        at: When it was true.
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
    is_answered: bool | None = None
    degree: float | None = None
    entry_ids: tuple[UUID | None, ...] = ()
    gaps: Gaps = ()
    says: tuple[Words, ...] = ()
    working: Working | None = None


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one infant or parent; a name that is not there is not known.

    A name may hold several facts (two illnesses, two doubtful weights): it counts as true where one
    of them is.

    Attributes:
        measures: Name of a measure to its values, in order of time.
        signs: Name of a sign to what was seen, in order of time.
        traits: Name of a trait to its value.
        age_h: Age now; None where it is not known.
        gestation_days: Gestation at birth; None where it is not known.
        answers: What physicians have answered.
    """

    measures: Mapping[str, tuple[Measure, ...]] = {}
    signs: Mapping[str, tuple[Sign, ...]] = {}
    traits: Mapping[str, str] = {}
    age_h: float | None = None
    gestation_days: float | None = None
    answers: Answers = NOBODY

    @property
    def names(self) -> frozenset[str]:
        """The names under which something is known."""
        found = (*self.measures.items(), *self.signs.items())
        return frozenset(name for name, facts in found if facts)

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
        limit: What it was compared with.
        from_age: The age from which it is asked.
        until_age: The age until which it is asked.
        undecided: Whether it is known, and lies on both sides of the limit.
    """

    asked: Condition
    truth: Truth
    compared: Condition | None = None
    fact: Measure | Sign | None = None
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
        found = (one.fact for one in self.grounds if one.fact and one.truth is not Truth.FALSE)
        return tuple(dict.fromkeys(entry_id for fact in found for entry_id in fact.entry_ids))


NOTHING: Final[Mapping[str, Verdict]] = {}


def verdicts(
    condition: Condition,
    facts: Facts,
    content: Content,
    above: Mapping[str, Verdict] = NOTHING,
) -> Iterator[Verdict]:
    """The verdict on a condition, once for each fact of the thing that it asks first.

    Args:
        condition: As the content has it.
        facts: What is known.
        content: The content in force, for the limits.
        above: Code of a row above to the verdict on it.
    """
    first = first_asked(condition)
    found = facts.asked_by(first) if first else ()
    if first is None or len(found) < 2:
        yield evaluate(condition, facts, content, above)
        return
    for fact in found:
        yield evaluate(condition, facts.only(first.measure or first.sign, fact), content, above)


def first_asked(condition: Condition) -> Condition | None:
    """The measure or sign that a condition asks first and not as its opposite; or None."""
    if condition.measure or condition.sign:
        return condition
    parts = (*condition.all_of, *condition.any_of)
    return next((found for part in parts if (found := first_asked(part)) is not None), None)


def evaluate(
    condition: Condition,
    facts: Facts,
    content: Content,
    above: Mapping[str, Verdict] = NOTHING,
) -> Verdict:
    """What a condition comes to for what is known.

    Nothing is left out once the answer is clear, so that the grounds are complete.

    Args:
        condition: As the content has it.
        facts: What is known.
        content: The content in force, for the limits.
        above: Code of a row above to the verdict on it; one that is not there was not told.
    """
    if not condition.parts:
        ground = _ground(condition, facts, content, above)
        return Verdict(truth=ground.truth, grounds=(ground,))
    if condition.not_of is not None:
        found = evaluate(condition.not_of, facts, content, above)
        truth = negation(found.truth)
        grounds = tuple(
            msgspec.structs.replace(one, truth=negation(one.truth)) for one in found.grounds
        )
    else:
        join = conjunction if condition.all_of else disjunction
        each = [evaluate(part, facts, content, above) for part in condition.parts]
        truth = join(one.truth for one in each)
        grounds = tuple(ground for one in each for ground in one.grounds)
    narrowed = _asked_of(condition, facts, content, facts.age_h, facts.age_h)
    return Verdict(
        truth=conjunction((narrowed.truth, truth)),
        grounds=tuple(_within(one, narrowed) for one in grounds),
    )


def limit_of(key: str, content: Content, age_h: float) -> Constant | None:
    """A limit by its key or by the choice in force; of a series, the value at that age.

    Where the chosen series says nothing about that age, the first of the other candidates that
    does holds: a clinic that chose a chart of days 2 to 11 has not given up all other days; not so
    of a key that begins with ``chosen:``. None where none does.
    """
    if key.startswith(CHOSEN):
        return limit_of(content.chosen(key.removeprefix(CHOSEN)), content, age_h)
    if key.startswith(CHOICE):
        disagreement = content.disagreements[key.removeprefix(CHOICE)]
        limits = (
            limit_of(one, content, age_h) for one in (disagreement.chosen, *disagreement.candidates)
        )
        return next((limit for limit in limits if limit is not None), None)
    if key not in content.series:
        return content.constant(key)
    series = content.table(key)
    position = {
        "age_h": age_h,
        "age_d": age_h / HOURS_PER_DAY,
        # Day 1 is the first 24 h; what ends on the stroke of a day speaks of the day before.
        "day": float(max(1, math.ceil(age_h / HOURS_PER_DAY))),
    }[series.axis]
    return series.at(position) if series.covers(position) else None


def compares(compare: str | None, value: float, limit: float) -> bool:
    """Whether a value stands so to a limit."""
    return {
        ">=": value >= limit,
        ">": value > limit,
        "<": value < limit,
        "<=": value <= limit,
    }.get(compare or "", False)


def _ground(
    asked: Condition, facts: Facts, content: Content, above: Mapping[str, Verdict]
) -> Ground:
    """One thing asked."""
    if asked.measure or asked.sign:
        found = facts.asked_by(asked)
        if not found:
            return Ground(asked=asked, truth=Truth.CANNOT_TELL)
        grounds = [_ground_of_fact(asked, fact, facts, content) for fact in found]
        # Of several facts the one counts that speaks loudest for it.
        truth = disjunction(one.truth for one in grounds)
        return next(one for one in grounds if one.truth is truth)
    narrowed = _asked_of(asked, facts, content, facts.age_h, facts.age_h)
    if asked.flag or asked.undecided:
        ground = _ground_of_row(asked, above)
    else:
        ground = Ground(asked=asked, truth=Truth.TRUE)
    joined = conjunction((narrowed.truth, ground.truth))
    return _within(msgspec.structs.replace(ground, truth=joined), narrowed)


def _ground_of_row(asked: Condition, above: Mapping[str, Verdict]) -> Ground:
    found = above.get(asked.flag or asked.undecided)
    if found is None:
        return Ground(asked=asked, truth=Truth.CANNOT_TELL if asked.flag else Truth.FALSE)
    truth = found.truth if asked.flag else truth_of(found.is_undecided)
    loudest = next((one for one in found.grounds if one.fact), Ground(asked=asked, truth=truth))
    return msgspec.structs.replace(loudest, asked=asked, truth=truth, undecided=False)


def _ground_of_fact(
    asked: Condition, fact: Measure | Sign, facts: Facts, content: Content
) -> Ground:
    age_h = facts.age_h if fact.age_h is None else fact.age_h
    latest_h = age_h
    if isinstance(fact, Sign) and fact.lasts:
        latest_h = math.inf if facts.age_h is None else facts.age_h
    narrowed = _asked_of(asked, facts, content, age_h, latest_h)
    limit, found = None, Truth.FALSE
    if isinstance(fact, Sign):
        found = fact.present
    else:
        limit = limit_of(asked.limit, content, fact.age_h)
        # Where the sources are silent about an age it is not asked.
        found = Truth.FALSE if limit is None else _compared(asked, fact, limit)
    truth = conjunction((narrowed.truth, found))
    is_undecided = (
        isinstance(fact, Measure)
        and truth is Truth.CANNOT_TELL
        and found is truth
        and narrowed.truth is Truth.TRUE
    )
    ground = Ground(
        asked=asked, truth=truth, compared=asked, fact=fact, limit=limit, undecided=is_undecided
    )
    return _within(ground, narrowed)


def _compared(asked: Condition, measure: Measure, limit: Constant) -> Truth:
    """How the measure stands to the limit.

    An interval (a figure with a level) must lie on the far side whole for a plain 'true'; where
    only the value does, it cannot be told.
    """
    if not compares(asked.compare, as_shown(measure), limit.value):
        return Truth.FALSE
    figure = measure.figure
    is_below = (asked.compare or "").startswith("<")
    far_end = figure.high if is_below else figure.low
    if asked.interval == "value" or figure.level is None or far_end is None:
        return Truth.TRUE
    return Truth.TRUE if compares(asked.compare, far_end, limit.value) else Truth.CANNOT_TELL


def as_shown(measure: Measure) -> float:
    """The value that is compared: a percentage as it is shown.

    A loss that reads '10.0 %' must not pass for less than ten, nor '0.0 %' for still below.
    """
    return round(measure.value, PERCENT_DECIMALS) if measure.unit == "%" else measure.value


class _Narrowed(NamedTuple):
    """Whether something is asked at all, and the ages between which it is."""

    truth: Truth
    from_age: Constant | None
    until_age: Constant | None


ASKED_OF_ALL: Final = _Narrowed(Truth.TRUE, None, None)


def _within(ground: Ground, narrowed: _Narrowed) -> Ground:
    """The ground with the ages of what it is part of, where it has none of its own."""
    if narrowed.from_age is None and narrowed.until_age is None:
        return ground
    return msgspec.structs.replace(
        ground,
        from_age=ground.from_age or narrowed.from_age,
        until_age=ground.until_age or narrowed.until_age,
    )


def _asked_of(
    asked: Condition,
    facts: Facts,
    content: Content,
    age_h: float | None,
    latest_h: float | None,
) -> _Narrowed:
    """Whether the condition is asked of this infant at an age from `age_h` to `latest_h`."""
    if not asked.narrows:
        return ASKED_OF_ALL
    gestation_h = None if facts.gestation_days is None else facts.gestation_days * HOURS_PER_DAY
    from_age, until_age, from_gestation, until_gestation = (
        limit_of(key, content, age_h or 0.0) if key else None
        for key in (asked.from_age, asked.until_age, asked.from_gestation, asked.until_gestation)
    )
    parts = [
        *_from_until(from_age, until_age, age_h, latest_h),
        *_from_until(from_gestation, until_gestation, gestation_h, gestation_h),
    ]
    for name, values in asked.traits.items():
        parts.append(truth_of(None if name not in facts.traits else facts.traits[name] in values))
    return _Narrowed(conjunction(parts), from_age, until_age)


def _from_until(
    start: Constant | None, end: Constant | None, first_h: float | None, last_h: float | None
) -> Iterator[Truth]:
    """Whether a stretch of age (or a gestation) reaches between one limit and the other."""
    if start is not None:
        yield truth_of(None if last_h is None else last_h >= hours_of(start))
    if end is not None:
        yield truth_of(None if first_h is None else first_h < hours_of(end))


def hours_of(constant: Constant) -> float:
    """An age in hours."""
    return constant.value * (HOURS_PER_DAY if constant.unit == "d" else 1)
