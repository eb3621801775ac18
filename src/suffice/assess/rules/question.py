"""A condition of the content made ready to be asked: its limits and ages are found once.

The rows of a table are asked of every infant, most of them in vain. So a question first says its
truth alone, as soon as that is clear; :meth:`Question.verdict` leaves nothing out, so that the
grounds are complete.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from typing import Final

import msgspec

from suffice.assess.rules.scope import ASKED_OF_ALL, Narrowed, Scope
from suffice.assess.rules.table import (
    Facts,
    Found,
    Ground,
    Limit,
    Measure,
    Sign,
    Verdict,
)
from suffice.assess.rules.truth import (
    COMPARE,
    Truth,
    both,
    conjunction,
    disjunction,
    negation,
    truth_of,
)
from suffice.clinical.reading.writing import PERCENT_DECIMALS
from suffice.clinical.working import Constant
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content

Above = Mapping[str, Verdict]
"""Code of a row above to the verdict on it; one that is not there was not told."""
NOTHING: Final[Above] = {}


def question_of(condition: Condition, content: Content) -> Question:
    """A condition with its limits and ages as the content in force has them."""
    if condition.measure:
        return _OfMeasure(condition, content)
    if condition.sign:
        return _OfSign(condition, content)
    if condition.find:
        return _OfFind(condition, content)
    if condition.not_of is not None:
        return _Not(condition, content)
    if condition.parts:
        return _Joined(condition, content)
    return _OfRow(condition, content)


class Question(ABC):
    """One condition, ready to be asked.

    Args:
        condition: As the content has it.
        content: The content in force, for the limits.
    """

    def __init__(self, condition: Condition, content: Content) -> None:
        self.condition = condition
        self._scope = Scope.from_condition(condition, content)
        self._first = first_asked(condition)

    @abstractmethod
    def truth(self, facts: Facts, above: Above = NOTHING) -> Truth:
        """Whether it holds, without the grounds."""

    @abstractmethod
    def verdict(self, facts: Facts, above: Above = NOTHING) -> Verdict:
        """Whether it holds, with all grounds."""

    def facts_of_each(self, facts: Facts) -> Iterable[Facts]:
        """The facts, once with each fact alone of the thing that the condition asks first."""
        first = self._first
        found = facts.asked_by(first) if first else ()
        if first is None or len(found) < 2:
            return (facts,)
        name = first.measure or first.sign
        return (facts.only(name, fact) for fact in found)


def first_asked(condition: Condition) -> Condition | None:
    """The measure or sign that a condition asks first and not as its opposite; or None."""
    if condition.measure or condition.sign:
        return condition
    parts = (*condition.all_of, *condition.any_of)
    return next((found for part in parts if (found := first_asked(part)) is not None), None)


def compares(compare: str | None, value: float, limit: float) -> bool:
    """Whether a value stands so to a limit."""
    return compare is not None and COMPARE[compare](value, limit)


# ---- one thing asked ------------------------------------------------------------------------


class _One(Question):
    """One thing asked: its verdict has one ground."""

    def truth(self, facts: Facts, above: Above = NOTHING) -> Truth:
        return self._ground(facts, above).truth

    def verdict(self, facts: Facts, above: Above = NOTHING) -> Verdict:
        ground = self._ground(facts, above)
        return Verdict(truth=ground.truth, grounds=(ground,))

    @abstractmethod
    def _ground(self, facts: Facts, above: Above) -> Ground:
        """What was asked, and what it says."""


class _OfRow(_One):
    """Whether a row above holds or cannot be told; without one, who it is asked of alone."""

    def _ground(self, facts: Facts, above: Above) -> Ground:
        asked = self.condition
        ground = Ground(asked=asked, truth=Truth.TRUE)
        if asked.flag or asked.undecided:
            ground = _ground_of_row(asked, above)
        if self._scope is None:
            return ground
        narrowed = self._scope.at(facts, facts.age_h, facts.age_h)
        truth = both(narrowed.truth, ground.truth)
        return narrowed.with_ages(msgspec.structs.replace(ground, truth=truth))


def _ground_of_row(asked: Condition, above: Above) -> Ground:
    found = above.get(asked.flag or asked.undecided)
    if found is None:
        return Ground(asked=asked, truth=Truth.CANNOT_TELL if asked.flag else Truth.FALSE)
    truth = found.truth if asked.flag else truth_of(found.is_undecided)
    loudest = next((one for one in found.grounds if one.fact), Ground(asked=asked, truth=truth))
    return msgspec.structs.replace(loudest, asked=asked, truth=truth, undecided=False)


class _OfFind(_One):
    """Whether what was found is one of some answers, or how its number stands to the limit."""

    def __init__(self, condition: Condition, content: Content) -> None:
        super().__init__(condition, content)
        self._key = condition.find
        self._answers = frozenset(condition.answers)
        self._compare = COMPARE.get(condition.compare or "")
        self._limit = content.constant(condition.limit) if condition.limit else None

    def truth(self, facts: Facts, above: Above = NOTHING) -> Truth:
        del above
        truth = self._truth_of(facts.finds.get(self._key))
        if self._scope is None:
            return truth
        return both(self._scope.truth_at(facts, facts.age_h, facts.age_h), truth)

    def _ground(self, facts: Facts, above: Above) -> Ground:
        asked = self.condition
        return Ground(
            asked=asked,
            truth=self.truth(facts, above),
            compared=asked,
            found=facts.finds.get(self._key),
            limit=self._limit,
        )

    def _truth_of(self, found: Found | None) -> Truth:
        if found is None:
            return Truth.CANNOT_TELL
        if self._compare is None or self._limit is None:
            return Truth.FALSE if self._answers.isdisjoint(found.answers) else Truth.TRUE
        if found.number is None:
            return Truth.CANNOT_TELL
        return Truth.TRUE if self._compare(found.number, self._limit.value) else Truth.FALSE


class _OfFact(_One):
    """A measure or a sign; of several facts the one counts that speaks loudest for it."""

    def truth(self, facts: Facts, above: Above = NOTHING) -> Truth:
        """The same as that of its ground, which is laid out only for what holds."""
        del above
        found = facts.asked_by(self.condition)
        if not found:
            return Truth.CANNOT_TELL
        if len(found) == 1:
            return self._truth_of(found[0], facts)
        return disjunction(self._truth_of(fact, facts) for fact in found)

    def _ground(self, facts: Facts, above: Above) -> Ground:
        del above
        found = facts.asked_by(self.condition)
        if not found:
            return Ground(asked=self.condition, truth=Truth.CANNOT_TELL)
        if len(found) == 1:
            return self._ground_of(found[0], facts)
        grounds = [self._ground_of(fact, facts) for fact in found]
        truth = disjunction(one.truth for one in grounds)
        return next(one for one in grounds if one.truth is truth)

    @abstractmethod
    def _ground_of(self, fact: Measure | Sign, facts: Facts) -> Ground:
        """What one fact says."""

    @abstractmethod
    def _truth_of(self, fact: Measure | Sign, facts: Facts) -> Truth:
        """Whether one fact says so."""

    def _asked(self, facts: Facts, age_h: float | None, latest_h: float | None) -> Truth:
        return self._scope.truth_at(facts, age_h, latest_h) if self._scope else Truth.TRUE

    def _narrowed(self, facts: Facts, age_h: float | None, latest_h: float | None) -> Narrowed:
        return self._scope.at(facts, age_h, latest_h) if self._scope else ASKED_OF_ALL


class _OfSign(_OfFact):
    """Whether a sign is present."""

    def _ground_of(self, fact: Measure | Sign, facts: Facts) -> Ground:
        if not isinstance(fact, Sign):
            raise TypeError(f"{self.condition.sign} is no sign")
        narrowed = self._narrowed(facts, *_ages_of(fact, facts))
        return Ground(
            asked=self.condition,
            compared=self.condition,
            truth=both(narrowed.truth, fact.present),
            fact=fact,
            from_age=narrowed.from_age,
            until_age=narrowed.until_age,
        )

    def _truth_of(self, fact: Measure | Sign, facts: Facts) -> Truth:
        if not isinstance(fact, Sign):
            raise TypeError(f"{self.condition.sign} is no sign")
        if fact.present is Truth.FALSE:
            return fact.present
        return both(self._asked(facts, *_ages_of(fact, facts)), fact.present)


def _ages_of(fact: Sign, facts: Facts) -> tuple[float | None, float | None]:
    """The first and the last age at which a sign was so."""
    age_h = facts.age_h if fact.age_h is None else fact.age_h
    if fact.lasts:
        return age_h, math.inf if facts.age_h is None else facts.age_h
    return age_h, age_h


class _OfMeasure(_OfFact):
    """How a measure stands to its limit."""

    def __init__(self, condition: Condition, content: Content) -> None:
        super().__init__(condition, content)
        self._limit = Limit.from_key(condition.limit, content)

    def _ground_of(self, fact: Measure | Sign, facts: Facts) -> Ground:
        if not isinstance(fact, Measure):
            raise TypeError(f"{self.condition.measure} is no measure")
        narrowed = self._narrowed(facts, fact.age_h, fact.age_h)
        limit = self._limit.at(fact.age_h)
        found = self._found(fact, limit)
        return Ground(
            asked=self.condition,
            compared=self.condition,
            truth=both(narrowed.truth, found),
            fact=fact,
            limit=limit,
            from_age=narrowed.from_age,
            until_age=narrowed.until_age,
            undecided=found is Truth.CANNOT_TELL and narrowed.truth is Truth.TRUE,
        )

    def _truth_of(self, fact: Measure | Sign, facts: Facts) -> Truth:
        if not isinstance(fact, Measure):
            raise TypeError(f"{self.condition.measure} is no measure")
        found = self._found(fact, self._limit.at(fact.age_h))
        if found is Truth.FALSE:
            return found
        return both(self._asked(facts, fact.age_h, fact.age_h), found)

    def _found(self, fact: Measure, limit: Constant | None) -> Truth:
        # Where the sources are silent about an age it is not asked.
        return Truth.FALSE if limit is None else compared(self.condition, fact, limit)


def compared(asked: Condition, measure: Measure, limit: Constant) -> Truth:
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


# ---- several things joined ------------------------------------------------------------------


class _Several(Question):
    """Something made of parts; what narrows it narrows all of them."""

    def __init__(self, condition: Condition, content: Content) -> None:
        super().__init__(condition, content)
        self._parts = tuple(question_of(part, content) for part in condition.parts)

    def truth(self, facts: Facts, above: Above = NOTHING) -> Truth:
        if self._scope is None:
            return self._truth_joined(facts, above)
        asked = self._scope.truth_at(facts, facts.age_h, facts.age_h)
        return asked if asked is Truth.FALSE else both(asked, self._truth_joined(facts, above))

    def verdict(self, facts: Facts, above: Above = NOTHING) -> Verdict:
        each = [part.verdict(facts, above) for part in self._parts]
        truth = self._joined([one.truth for one in each])
        grounds = tuple(self._for_whole(ground) for one in each for ground in one.grounds)
        if self._scope is None:
            return Verdict(truth=truth, grounds=grounds)
        narrowed = self._scope.at(facts, facts.age_h, facts.age_h)
        return Verdict(
            truth=both(narrowed.truth, truth),
            grounds=tuple(narrowed.with_ages(ground) for ground in grounds),
        )

    @abstractmethod
    def _joined(self, parts: Iterable[Truth]) -> Truth:
        """What the parts come to."""

    @abstractmethod
    def _truth_joined(self, facts: Facts, above: Above) -> Truth:
        """The same, asking no part once that is clear."""

    def _for_whole(self, ground: Ground) -> Ground:
        """What a ground of a part says of the whole."""
        return ground


class _Joined(_Several):
    """All of them, or any of them."""

    def __init__(self, condition: Condition, content: Content) -> None:
        super().__init__(condition, content)
        self._settles = Truth.FALSE if condition.all_of else Truth.TRUE
        self._whole = negation(self._settles)

    def _joined(self, parts: Iterable[Truth]) -> Truth:
        return conjunction(parts) if self.condition.all_of else disjunction(parts)

    def _truth_joined(self, facts: Facts, above: Above) -> Truth:
        found = self._whole
        for part in self._parts:
            truth = part.truth(facts, above)
            if truth is self._settles:
                return truth
            if truth is Truth.CANNOT_TELL:
                found = truth
        return found


class _Not(_Several):
    """The opposite of its one part."""

    def _joined(self, parts: Iterable[Truth]) -> Truth:
        return negation(conjunction(parts))

    def _truth_joined(self, facts: Facts, above: Above) -> Truth:
        return negation(self._parts[0].truth(facts, above))

    def _for_whole(self, ground: Ground) -> Ground:
        return msgspec.structs.replace(ground, truth=negation(ground.truth))
