"""Temperature, signs of the vocabulary and named illnesses, as measures and signs for the table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

import msgspec

from suffice.assess.case import Case, present_illnesses
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, figures, measure, missing, sign, together
from suffice.assess.review.sign import signs_seen
from suffice.assess.rules.table import Facts, Measure, Sign
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Answer, Entry, Illness, Temperature
from suffice.clinical.temperature import judge_temperature
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.message import Instant, Message, message

BREAST_RED: Final = "breast_red"
"""Key of the one sign whose level goes by how long it has lasted."""
BREAST_RED_A_DAY: Final = "breast_red_a_day"
PARENT_WORDS: Final = {"mother": message("mother"), "parent": message("parent")}


def review_warnings(case: Case, parameters: CareParameters) -> Reviewed:
    """The temperatures that count, every sign that was entered and the illnesses that were named."""
    seen = signs_seen(case.entries, case.born_at)
    signs = Reviewed(signs={name: (one,) for name, one in seen.items()})
    return together([*_review_temperature(case, parameters), signs, *_review_illnesses(case)])


def _review_illnesses(case: Case) -> Iterator[Reviewed]:
    for what in present_illnesses(case.entries):
        since = next(entry for entry, fact in case.facts(Illness) if fact.what == what)
        yield sign(
            "illness",
            True,  # noqa: FBT003
            age_h=case.age_at(since.true_at),
            entry_ids=(since.id,),
            what=what,
            at=Instant(since.true_at),
        )


def _review_temperature(case: Case, parameters: CareParameters) -> Iterator[Reviewed]:
    """The latest temperature, and those that no physician has answered yet.

    A later usual one takes no fever back, and neither does time: only an answer does. An infant of
    unknown age is taken for a newborn.
    """
    taken = case.facts(Temperature)
    if not taken:
        yield missing("temperature_c", why=message("No temperature was taken."))
        return
    found = [_measured(case, entry, fact, parameters) for entry, fact in taken]
    yield figures(temperature_c=found[-1].figure)
    yield measure("last_temperature_c", found[-1])
    open_ = [one for one in found if not _is_answered(one.at, case.entries)]
    until_h = parameters.temperature.fever_until_age_d.value * HOURS_PER_DAY
    for band in (
        [one for one in open_ if one.age_h < until_h],
        [one for one in open_ if one.age_h >= until_h],
    ):
        if band:
            yield measure("highest_temperature_c", max(band, key=lambda one: one.value))
    if open_:
        yield measure("lowest_temperature_c", min(open_, key=lambda one: one.value))


def _measured(case: Case, entry: Entry, fact: Temperature, parameters: CareParameters) -> Measure:
    age_h = case.age_at(entry.true_at) or 0.0
    judged = judge_temperature(
        fact.temperature_c, parameters.temperature, age_d=age_h / HOURS_PER_DAY, site=fact.site
    )
    return Measure(
        value=fact.temperature_c,
        age_h=age_h,
        at=entry.true_at,
        figure=Figure(value=fact.temperature_c, unit="Cel", working=judged.working),
        entry_ids=(entry.id,),
    )


def _is_answered(at: datetime | None, entries: Sequence[Entry]) -> bool:
    """Whether a physician answered at that time or later."""
    answers = (
        entry.true_at
        for entry in entries
        if isinstance(entry.fact, Answer) and entry.fact.is_of_physician
    )
    return at is not None and any(at <= answered for answered in answers)


def parent_facts(
    entries: Sequence[Entry],
    parameters: CareParameters,
    policy: Policy,
    *,
    as_of: datetime,
    born_at: datetime | None = None,
) -> Facts:
    """What the table asks about the parent: temperature not answered yet, signs and illnesses.

    Args:
        entries: The current entries about the parent, in order of time.
        parameters: The content's parameters.
        policy: The clinic's policy, for the word for the parent.
        as_of: The instant of the question.
        born_at: When the youngest infant was born: ages of a row about the parent are time since
            then. None where it is not known.
    """
    parent = ("parent", PARENT_WORDS[policy.parent_word])
    highest = _highest_temperature(entries, parent)
    measures = {} if highest is None else {"highest_temperature_c": (highest,)}
    signs = {name: (seen,) for name, seen in _signs_of_parent(entries, parameters, as_of, born_at)}
    illnesses = tuple(
        Sign(present=Truth.TRUE, gaps=(parent, ("what", what), ("at", _named_at(entries, what))))
        for what in present_illnesses(entries)
    )
    age_h = None if born_at is None else elapsed_h(born_at, as_of)
    return Facts(measures=measures, signs={**signs, "illness": illnesses}, age_h=age_h)


def _highest_temperature(entries: Sequence[Entry], parent: tuple[str, Message]) -> Measure | None:
    """The parent's highest temperature that no physician has answered."""
    taken = [(entry, entry.fact) for entry in entries if isinstance(entry.fact, Temperature)]
    open_ = [one for one in taken if not _is_answered(one[0].true_at, entries)]
    if not open_:
        return None
    entry, fact = max(open_, key=lambda one: one[1].temperature_c)
    measured = Working(formula=message("as measured"))
    return Measure(
        value=fact.temperature_c,
        age_h=0.0,
        at=entry.true_at,
        figure=Figure(value=fact.temperature_c, unit="Cel", working=measured),
        entry_ids=(entry.id,),
        gaps=(parent,),
    )


def _signs_of_parent(
    entries: Sequence[Entry],
    parameters: CareParameters,
    as_of: datetime,
    born_at: datetime | None,
) -> Iterator[tuple[str, Sign]]:
    """Every sign that was entered, and whether a red breast has lasted."""
    for name, seen in signs_seen(entries, born_at).items():
        yield name, seen
        if name == BREAST_RED and seen.at is not None:
            lasted = elapsed_h(seen.at, as_of) >= parameters.breast_red_h.value
            yield BREAST_RED_A_DAY, msgspec.structs.replace(seen, present=truth_of(lasted))


def _named_at(entries: Sequence[Entry], what: str) -> Instant:
    """When an illness was first named."""
    named = (one for one in entries if isinstance(one.fact, Illness) and one.fact.what == what)
    return Instant(next(named).true_at)
