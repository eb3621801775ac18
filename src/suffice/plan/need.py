"""How much a day an infant needs: the number from which every plan starts.

Several sources answer; a plan needs one. It is the engine's where that may be trusted and speaks of
this infant, because it has seen how this infant grows; else the published requirement in force at
its weight and age, by the line of what it is fed; else, where no requirement holds, what infants of
its age were seen to take, and that is said. What the other sources say stays beside it as a range, so that whoever sizes a
plan sees how far they disagree. Where nobody answers, the plan says why and sizes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal

import msgspec

from suffice.assess.engine.answers import engine_answers
from suffice.assess.results import InfantAssessment
from suffice.clinical.milk.requirement import NO_ROOM_FOR_SOLIDS
from suffice.clinical.working import Figure
from suffice.knowledge.store import Content
from suffice.message import Amount, Number, Words, message

UNIT = "mL/d"
LEVEL = 0.8
"""Level of the engine's interval that is shown."""

Answerer = Literal["engine", "requirement", "observed", "nobody"]
"""Who answers how much a day, the one that is asked first named first."""


class Need(msgspec.Struct, frozen=True, kw_only=True):
    """The milk that an infant needs in 24 hours.

    Attributes:
        per_day: The need in mL/day with its interval and working; None where nobody answers.
        by: Who answers: the engine, from this infant's own course, the published requirement, or
            what was observed where there is none.
        lowest_other_ml_per_day: The lowest answer of the other sources; None where there is none.
        highest_other_ml_per_day: The highest.
        own_ml_per_day: What its own course says, where that is lower than every other source and it is short.
        why_none: Why there is no need; empty where there is one.
    """

    per_day: Figure | None = None
    by: Answerer = "nobody"
    lowest_other_ml_per_day: float | None = None
    highest_other_ml_per_day: float | None = None
    own_ml_per_day: float | None = None
    why_none: Words = ""

    def messages(self) -> tuple[Words, ...]:
        """The need in sentences, for whoever sizes a plan."""
        return tuple(_sentences(self))


def need_of(infant: InfantAssessment, content: Content) -> Need:
    """The need that a plan for this infant starts from.

    Args:
        infant: What was computed of it.
        content: The content in force, for the constants of the engine's working.
    """
    answers: dict[Answerer, Figure | None] = {
        "engine": by_engine(infant, content, "requirement"),
        "requirement": infant.figures.get("requirement_ml_per_day"),
        "observed": infant.figures.get("observed_ml_per_day"),
    }
    by: Answerer = next((by for by, one in answers.items() if one), "nobody")
    used = answers.get(by)
    if used is None:
        unknown = message("The need is not known.")
        return Need(why_none=infant.not_computed.get("requirement_ml_per_day", unknown))
    others = [
        view.volume_ml_per_day.value
        for view in infant.needs
        if view.volume_ml_per_day is not None and view.volume_ml_per_day is not used
    ]
    return Need(
        per_day=used,
        by=by,
        lowest_other_ml_per_day=min(others, default=None),
        highest_other_ml_per_day=max(others, default=None),
    )


def no_less(need: Need) -> Need:
    """A need that is no lower than the lowest of the other sources; its interval moves along.

    What an infant that gets too little grew on says what it lived on rather than what it needs.
    """
    used, lowest = need.per_day, need.lowest_other_ml_per_day
    if used is None or lowest is None or need.by != "engine" or lowest <= used.value:
        return need
    more = lowest - used.value
    moved = Figure(
        value=lowest,
        unit=used.unit,
        low=None if used.low is None else used.low + more,
        high=None if used.high is None else used.high + more,
        level=used.level,
        working=used.working,
    )
    return msgspec.structs.replace(need, per_day=moved, own_ml_per_day=used.value)


def by_engine(infant: InfantAssessment, content: Content, key: str) -> Figure | None:
    """What the engine says to one question, where its answer may be trusted and speaks of this infant."""
    estimate = infant.estimate
    if estimate is None or not estimate.is_reliable:
        return None
    for answer in engine_answers(estimate, content, infant.engine_facts):
        if answer.key == key and answer.interval is not None:
            return Figure(
                value=answer.interval.median,
                unit=UNIT,
                low=answer.interval.low_80,
                high=answer.interval.high_80,
                level=LEVEL,
                working=answer.working,
            )
    return None


def _sentences(need: Need) -> Iterator[Words]:
    used = need.per_day
    if used is None:
        yield message("No need to start a plan from:")
        yield need.why_none
        return
    amount, source = Amount(used.value, used.unit), SOURCES[need.by]
    if need.own_ml_per_day is not None:
        source = LEAST
    if used.low is None or used.high is None:
        yield message("A plan starts from {need}, {source}.", need=amount, source=source)
    else:
        yield message(
            "A plan starts from {need} ({level} % interval {low} to {high}), {source}.",
            need=amount,
            level=Number(100 * (used.level or 0.0), 0),
            low=Amount(used.low, used.unit, 0),
            high=Amount(used.high, used.unit, 0),
            source=source,
        )
    if need.own_ml_per_day is not None:
        yield message(
            "Its own course says {own}: on what it grew while it got too little.",
            own=Amount(need.own_ml_per_day, used.unit),
        )
    if NO_ROOM_FOR_SOLIDS in used.working.notes:
        yield NO_ROOM_FOR_SOLIDS
    if need.lowest_other_ml_per_day is not None and need.highest_other_ml_per_day is not None:
        yield message(
            "Other sources say {low} to {high}.",
            low=Amount(need.lowest_other_ml_per_day, used.unit),
            high=Amount(need.highest_other_ml_per_day, used.unit),
        )


SOURCES: Final = {
    "engine": message("from this infant's own course"),
    "requirement": message("the published requirement at its weight and age"),
    "observed": message("what infants of its age took: no requirement"),
}
LEAST: Final = message("the least of the published sources")
