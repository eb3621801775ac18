"""The plan of an infant that is given no milk until a physician has seen it: expressing and dates, no feed.

Whatever was agreed on before waits. What is expressed meanwhile keeps the milk coming.
"""

from __future__ import annotations

from typing import Final

import msgspec

from suffice.clinical.entry import Plan
from suffice.message import Message, message
from suffice.plan.express import SORE, STOPPING, Expressing, Situation, expressing, keeping
from suffice.plan.line import Line, Part, by_rule
from suffice.plan.parameters import PlanParameters
from suffice.plan.supplement import Supplement

NO_MILK: Final = message("No milk by any way until a physician has seen the infant.")
"""What is said where the plan would have its feeds."""
AFTERWARDS: Final = message("How it is fed afterwards is planned with the physician.")
NO_MILK_FIRST: Final = message(
    "a flag or a problem under which nothing may be given goes before all else"
)
OF_FEEDS: Final[frozenset[Part]] = frozenset({"feeds", "breast", "milk"})
"""Parts of a proposal that would say how to feed."""


def no_supplement(*, is_first: bool) -> Supplement:
    """Nothing is given; what was agreed on is neither taken back nor stepped down.

    Args:
        is_first: Whether the infant has no plan yet.
    """
    return Supplement(
        move="first" if is_first else "hold",
        line=Line(part="supplement", says=(NO_MILK, AFTERWARDS), workings=by_rule(NO_MILK_FIRST)),
    )


def expressing_meanwhile(situation: Situation, parameters: PlanParameters) -> Expressing:
    """What is expressed while the infant takes nothing: what would have been fed at the breast.

    Args:
        situation: What decides; `at_breast` as it was before.
        parameters: The values in force.
    """
    if situation.problems & SORE:
        says = message("By hand, to comfort only, until the infant feeds again.")
        return Expressing(what="relieve", says=(says,))
    if situation.at_breast and STOPPING not in situation.problems:
        return keeping(parameters)
    return expressing(situation, parameters)


def without_feeds(plan: Plan) -> Plan:
    """A plan that says nothing of feeds."""
    return msgspec.structs.replace(
        plan,
        feeds_count=None,
        gap_day_h=None,
        gap_night_h=None,
        at_breast=None,
        sides=None,
        position=None,
        breast_minutes=None,
        proposed_feeds_count=None,
    )


def lines_without_feeds(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """The lines of a proposal, of which none says how to feed."""
    feeds = Line(part="feeds", says=(_until_seen(),), workings=by_rule(NO_MILK_FIRST))
    return (feeds, *(one for one in lines if one.part not in OF_FEEDS))


def _until_seen() -> Message:
    return message("None until a physician has seen the infant.")
