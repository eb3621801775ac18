"""The supplement of a proposal: begun, stepped, or held, and the line that says why."""

from __future__ import annotations

import math
from typing import Final

import msgspec

from suffice.clinical.entry.plan import Move, Plan
from suffice.clinical.units import GRAMS_PER_KILOGRAM
from suffice.clinical.working import Working
from suffice.message import Amount, Message, Words, message
from suffice.plan.by_age import divided
from suffice.plan.known import Asked, course_of, given_ml_per_day, has_agreed_amount
from suffice.plan.line import Line
from suffice.plan.parameters import PlanParameters
from suffice.plan.size import NO_INTERVAL, Known, Sized, supplement
from suffice.plan.step import Step, next_step


class Supplement(msgspec.Struct, frozen=True, kw_only=True):
    """The supplement of the proposal: amount, move and its line."""

    move: Move
    line: Line
    ml_per_day: float | None = None
    ml: float | None = None
    feeds_count: int | None = None
    most_ml: float | None = None
    step: Step | None = None

    @property
    def is_given(self) -> bool:
        """Whether any is given by the plan."""
        return bool(self.ml_per_day)


def supplement_of(asked: Asked, known: Known, parameters: PlanParameters) -> Supplement:
    """The supplement that is proposed, with the next step of one that is being given."""
    given = given_ml_per_day(asked)
    sized = supplement(known, parameters)
    if given <= 0:
        return _begun(asked, sized, known, parameters)
    if not known.at_breast:
        return _whole(asked, sized, given, known, parameters)
    if asked.is_short:
        return _of_short(asked, sized, given, known, parameters)
    if not has_agreed_amount(asked):
        why = message("It is what was written down in 24 h: ask whether that is all of it.")
        step = Step(move="hold", to_ml_per_day=given, why=why)
    elif asked.is_unwell:
        why = message("It is unwell: nothing is taken away.")
        step = Step(move="hold", to_ml_per_day=given, why=why)
    else:
        step = next_step(course_of(asked, given, parameters), parameters)
    return _stepped(asked, step, given, known, parameters)


def _before_it_ended(asked: Asked) -> float:
    """What was given last by a plan that had a supplement, mL/day; 0 where there was none."""
    amounts = [plan.supplement_ml_per_day for plan in asked.held]
    return next((one for one in reversed(amounts) if one), 0.0)


def _again(
    asked: Asked, sized: Sized, before: float, known: Known, parameters: PlanParameters
) -> Supplement:
    """It ended and the infant gets too little: back to what was given last, until an amount can be sized."""
    why = message("It gets too little since the supplement ended: what was given before.")
    step = Step(move="back", to_ml_per_day=before, why=why, then=sized.warnings)
    return _stepped(asked, step, 0.0, known, parameters)


def _move_of(last: Plan | None, amount: float | None) -> Move:
    """What an amount is against the last plan, by which nothing is given.

    One that is not known ends nothing, and what was never planned has no end.
    """
    if last is None:
        return "first"
    if amount:
        return "up"
    has_ended = amount is not None and last.supplement_ml_per_day is not None
    return "settle" if has_ended else "hold"


def _begun(asked: Asked, sized: Sized, known: Known, parameters: PlanParameters) -> Supplement:
    """Nothing is given yet, or not any more."""
    last = asked.last
    amount = sized.ml_per_day
    before = _before_it_ended(asked)
    if amount is None and asked.is_short and before > 0:
        return _again(asked, sized, before, known, parameters)
    move = _move_of(last, amount)
    return Supplement(
        move=move,
        line=_sized_line(asked, sized),
        ml_per_day=amount,
        ml=sized.ml,
        feeds_count=sized.feeds_count if sized.ml else None,
        most_ml=sized.most_ml,
    )


def _whole(
    asked: Asked, sized: Sized, given: float, known: Known, parameters: PlanParameters
) -> Supplement:
    """All that is drunk is given: the amount follows the need, no step is tried."""
    amount = sized.ml_per_day
    written = asked.infant.figures.get("milk_given_24h_ml")
    taken = max(given, 0.0 if written is None else written.value)
    is_by_need = asked.suffices and amount is not None and sized.outcome == "amount"
    if is_by_need and _least_that_is_said(asked) <= taken < (amount or 0.0):
        why = message("It gets enough as it is given.")
        step = Step(move="hold", to_ml_per_day=taken, why=why)
        return _stepped(asked, step, taken, known, parameters)
    is_less = amount is None or (sized.outcome == "by age" and amount < taken)
    if is_less and asked.suffices and written is not None and written.value > given:
        why = message("It takes more than was planned, and gets enough: as much as it takes.")
        step = Step(move="up", to_ml_per_day=written.value, why=why, then=sized.warnings)
        return _stepped(asked, step, given, known, parameters)
    if _is_no_ceiling(sized, known, taken, parameters):
        why = message("Nothing is taken away: it takes more than that.")
        step = Step(move="hold", to_ml_per_day=taken, why=why, then=sized.warnings)
        return _stepped(asked, step, taken, known, parameters)
    if amount is None or amount == given:
        step = Step(move="hold", to_ml_per_day=given, why=sized.says, then=sized.warnings)
        return _stepped(asked, step, given, known, parameters)
    move: Move = "up" if amount > given else "down"
    begun = _begun(asked, sized, known, parameters)
    if asked.suffices and 0 < taken < amount:
        ask = message(
            "Only {amount} was written down in 24 h, and it gets enough: ask whether that is all before it is given more.",
            amount=Amount(taken, "mL"),
        )
        line = msgspec.structs.replace(begun.line, warnings=(*begun.line.warnings, ask))
        begun = msgspec.structs.replace(begun, line=line)
    return msgspec.structs.replace(begun, move="first" if asked.last is None else move)


def _is_no_ceiling(sized: Sized, known: Known, taken: float, parameters: PlanParameters) -> bool:
    """Whether more is taken by bottle than an amount of the age, or of a need without an interval, and not too much.

    Those amounts were made for what is given after the breast, or are a middle: who drinks more is not cut back.
    """
    is_vague = sized.outcome == "by age" or NO_INTERVAL in sized.warnings
    if not is_vague or sized.ml_per_day is None or known.weight_g is None:
        return False
    most = parameters.most_ml_per_kg_per_day.value * known.weight_g / GRAMS_PER_KILOGRAM
    return sized.ml_per_day < taken <= most


def _least_that_is_said(asked: Asked) -> float:
    """The least that any source says of its need: less that was written down is not all of it, mL/day."""
    need = asked.need
    lowest = (need.lowest_other_ml_per_day, None if need.per_day is None else need.per_day.low)
    return min((one for one in lowest if one is not None), default=math.inf)


def _of_short(
    asked: Asked, sized: Sized, given: float, known: Known, parameters: PlanParameters
) -> Supplement:
    """It gets too little though milk is given: more where that can be sized, else a small step back; never less."""
    amount = sized.ml_per_day
    if amount is not None and amount > given:
        begun = _begun(asked, sized, known, parameters)
        return msgspec.structs.replace(begun, move="first" if asked.last is None else "up")
    step = next_step(course_of(asked, given, parameters), parameters)
    if step.move != "back" or not has_agreed_amount(asked):
        why = message("It still gets too little, and the amount that is safe is not known.")
        if amount is not None:
            why = message("It still gets too little by its weights: nothing is taken away.")
        step = Step(move="hold", to_ml_per_day=given, why=why)
    held = _stepped(asked, step, given, known, parameters)
    line = msgspec.structs.replace(
        held.line, warnings=(*held.line.warnings, *sized.warnings), workings=_workings(sized)
    )
    return msgspec.structs.replace(held, line=line)


def _stepped(
    asked: Asked, step: Step, given: float, known: Known, parameters: PlanParameters
) -> Supplement:
    """The amount after a step, divided into feeds; one that goes down never ends where it was."""
    to = step.to_ml_per_day
    ml, count, most_ml = None, None, None
    day = 0.0
    if to > 0:
        last = asked.last
        if step.move == "hold" and last is not None and _is_kept(last, known):
            ml, count, day = last.supplement_ml, last.supplement_feeds_count, given
            most_ml = last.supplement_most_ml
        else:
            ml, count = divided(to, to, known.feeds_count, parameters, at_breast=known.at_breast)
            day = ml * count
    sentences: list[Words] = [_STEPS[step.move], step.why]
    if ml is not None and count is not None:
        sentences.append(
            message(
                "{ml} at {count} feeds: {day} in 24 h.",
                ml=Amount(ml, "mL"),
                count=count,
                day=Amount(day, "mL"),
            )
        )
    return Supplement(
        move="first" if asked.last is None else step.move,
        line=Line(
            part="supplement",
            says=tuple(sentences),
            warnings=step.then,
            workings=(step.working,) if step.working else (),
        ),
        ml_per_day=day,
        ml=ml,
        feeds_count=count,
        most_ml=most_ml,
        step=step,
    )


def _is_kept(last: Plan, known: Known) -> bool:
    """Whether the last plan's amount of one feed holds: not where feeds would have none, and nothing else is fed."""
    count = last.supplement_feeds_count
    return bool(last.supplement_ml) and (
        known.at_breast or count is None or count >= known.feeds_count
    )


_STEPS: Final[dict[Move, Message]] = {
    "first": message("As it is."),
    "up": message("Step up."),
    "hold": message("No change."),
    "down": message("Step down."),
    "back": message("Step back."),
    "settle": message("Settle: no supplement any more."),
}


def _sized_line(asked: Asked, sized: Sized) -> Line:
    need = asked.need
    says: list[Words] = [sized.says]
    if sized.outcome in {"amount", "weigh feeds"}:
        says.extend(need.messages())
    return Line(
        part="supplement",
        says=tuple(says),
        warnings=sized.warnings,
        workings=(*_workings(sized), *([need.per_day.working] if need.per_day else [])),
    )


def _workings(sized: Sized) -> tuple[Working, ...]:
    return (sized.working,) if sized.working else ()
