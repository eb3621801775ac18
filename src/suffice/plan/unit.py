"""The plan of an infant that a unit feeds: how often and how much is ordered there, the parent is told when to express."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import msgspec

from suffice.clinical.entry import Contact, ContactStart, Entry, ParentDay, Plan, Setting
from suffice.message import message
from suffice.plan.known import Asked, is_at_breast, is_before_the_breast
from suffice.plan.line import Line, by_rule
from suffice.plan.parameters import PlanParameters

NOWHERE: Final = frozenset({None, Setting.PHONE, "class"})
"""What says nothing of where the infant is."""


def is_fed_by_unit(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether a unit feeds it: it is not at the breast, and is on a unit or before 34 weeks since conception.

    Args:
        asked: What is known.
        parameters: The values in force.
    """
    if is_at_breast(asked, parameters):
        return False
    return is_on_unit(asked.entries) or is_before_the_breast(asked, parameters)


UNIT_FIRST: Final = message("what a unit orders goes before every amount here")


def is_on_unit(entries: Iterable[Entry]) -> bool:
    """Whether it is on a neonatal unit: by the place of the last contact, or as the parent's day says.

    What the parent's day says ends with a contact at home; a contact by telephone has no place.
    """
    by_day = by_contact = False
    for entry in entries:
        if isinstance(entry.fact, ParentDay):
            by_day = entry.fact.is_on_unit
        elif (place := _place_of(entry)) not in NOWHERE:
            by_contact = place == Setting.NEONATAL_UNIT
            by_day = by_day and place != Setting.HOME
    return by_day or by_contact


def _place_of(entry: Entry) -> str | None:
    """Where a contact is; None of any other entry."""
    fact = entry.fact
    if isinstance(fact, Contact):
        return fact.setting
    return fact.place if isinstance(fact, ContactStart) else None


def fed_by_unit(plan: Plan, lines: tuple[Line, ...]) -> tuple[Plan, tuple[Line, ...]]:
    """A plan and its lines without feeds, gaps and amounts, which are not the family's to keep.

    Args:
        plan: What would be proposed to a family that feeds it.
        lines: The lines of that.
    """
    without = msgspec.structs.replace(
        plan,
        feeds_count=None,
        gap_day_h=None,
        gap_night_h=None,
        supplement_ml_per_day=None,
        supplement_feeds_count=None,
        supplement_ml=None,
        supplement_most_ml=None,
        milk=None,
        method=None,
        proposed_feeds_count=None,
        proposed_ml_per_day=None,
    )
    said = {
        "feeds": Line(
            part="feeds",
            says=(message("The unit feeds it: how often is ordered there."),),
            workings=by_rule(UNIT_FIRST),
        ),
        "supplement": Line(
            part="supplement",
            says=(message("The unit feeds it: how much is ordered there."),),
            workings=by_rule(UNIT_FIRST),
        ),
    }
    return without, tuple(said.get(one.part, one) for one in lines if one.part != "milk")
