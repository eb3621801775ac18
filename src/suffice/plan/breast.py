"""The line of a plan about the breast: whether it feeds there, sides, position, minutes, and what each rests on."""

from __future__ import annotations

from collections.abc import Iterator

from suffice.clinical.entry import Plan
from suffice.clinical.entry.position import POSITION
from suffice.clinical.units import DAYS_PER_WEEK
from suffice.clinical.working import Constant, Working
from suffice.message import Amount, Message, Number, Words, message
from suffice.plan.comfort import comfort_of
from suffice.plan.known import (
    Asked,
    is_before_the_breast,
    is_breast_unwritten,
    is_given_lately,
    is_seen_at_breast,
)
from suffice.plan.line import Line
from suffice.plan.parameters import PlanParameters
from suffice.plan.position import stopped_sides
from suffice.plan.size import Known


def breast_line(asked: Asked, plan: Plan, known: Known, parameters: PlanParameters) -> Line:
    """Whether and how it feeds at the breast, what the pathways do there, and what that rests on.

    Args:
        asked: What is known.
        plan: The plan that is proposed.
        known: What the plan is sized from.
        parameters: The values in force.
    """
    comfort = tuple(comfort_of(asked))
    if not known.at_breast:
        away = message("Not at the breast now; skin to skin.")
        return Line(
            part="breast",
            says=(away, *comfort),
            workings=(_working(asked, plan, parameters, is_at_breast=False),),
        )
    says: list[Words] = [_first_words(plan)]
    if plan.position is not None:
        position = dict(POSITION.choices)[plan.position]
        says.append(
            message(
                "Position: {position}. Any other that does not hurt is as good.", position=position
            )
        )
    if plan.breast_minutes is not None:
        says.append(
            message(
                "At most {minutes} in all, then the supplement, then rest.",
                minutes=Amount(plan.breast_minutes, "min", 0),
            )
        )
    return Line(
        part="breast",
        says=(*says, *comfort),
        warnings=tuple(_asks(asked, parameters)),
        workings=(_working(asked, plan, parameters, is_at_breast=True),),
    )


def _first_words(plan: Plan) -> Words:
    """How it is at the breast, in a sentence."""
    if plan.at_breast == "some feeds":
        return message("At the breast at fewer feeds step by step; other milk in their place.")
    if plan.sides != "both sides":
        return message("First at every feed, from the side that is clear.")
    return message("First at every feed; change sides when swallowing fades, offer the second.")


def _asks(asked: Asked, parameters: PlanParameters) -> Iterator[Words]:
    """What has to be asked before a plan at the breast is agreed on."""
    if is_breast_unwritten(asked, parameters):
        yield message(
            "No feed at the breast is written down lately, only measured milk: ask whether it still feeds"
            " there."
        )
    if stopped_sides(asked) is None:
        yield message(
            "Which side has blisters is not on record: look, and choose the side to feed from."
        )


# ---- what it rests on ------------------------------------------------------------------------


def _working(
    asked: Asked, plan: Plan, parameters: PlanParameters, *, is_at_breast: bool
) -> Working:
    """What decided, in words: nothing is computed here but the hours that are looked back on."""
    used: list[Constant] = [parameters.stopped_at_breast_h]
    if is_before_the_breast(asked, parameters):
        used.append(parameters.late_preterm_from_days)
    notes = [_why(asked, parameters, is_at_breast=is_at_breast)]
    if is_at_breast:
        notes += [_why_sides(asked), *_why_position(asked, plan)]
    if plan.breast_minutes is not None:
        used.append(parameters.late_preterm_breast_minutes)
    return Working(
        formula=message(
            "what was seen at the breast lately, then the plan before, then what is given"
        ),
        constants=tuple(used),
        notes=tuple(notes),
    )


def _why(asked: Asked, parameters: PlanParameters, *, is_at_breast: bool) -> Message:
    """What decided whether it is at the breast, in the order in which it is asked."""
    hours = Number(parameters.stopped_at_breast_h.value, 0)
    if is_seen_at_breast(asked, parameters):
        return message("A feed at the breast is on record in the last {hours} h.", hours=hours)
    if is_before_the_breast(asked, parameters):
        return message(
            "Fewer than {weeks} weeks since conception and none seen at the breast: the unit decides.",
            weeks=Number(parameters.late_preterm_from_days.value / DAYS_PER_WEEK, 0),
        )
    if asked.last is not None:
        return message(
            "None seen at the breast in the last {hours} h: as in the plan before.", hours=hours
        )
    if not is_given_lately(asked, parameters):
        return message(
            "No feed is on record in the last {hours} h, and nothing on record is against it.",
            hours=hours,
        )
    if is_at_breast:
        return message(
            "What is given is only part of the need: the rest is taken to be at the breast."
        )
    return message(
        "Only measured milk is on record in the last {hours} h, not shown to be a part of it.",
        hours=hours,
    )


def _why_sides(asked: Asked) -> Message:
    """What decided on the sides."""
    stopped = stopped_sides(asked)
    if stopped is None:
        return message("Sides: a problem leaves one out, and which is not on record.")
    if stopped:
        return message("Sides: blisters were seen on the one that is left out.")
    return message("Sides: no named problem leaves one out.")


def _why_position(asked: Asked, plan: Plan) -> Iterator[Message]:
    """Where the position is from."""
    if plan.position is None:
        return
    is_kept = asked.last is not None and asked.last.position is not None
    yield (
        message("Position: as in the plan before.")
        if is_kept
        else message("Position: leaning back, as a named problem asks for.")
    )
