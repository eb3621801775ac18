"""Temperature, signs of the vocabulary and named illnesses, as measures and signs for the table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import msgspec

from suffice.assess.case import Case, Review, present_illnesses
from suffice.assess.parameters import CareParameters
from suffice.assess.review.sign import signs_seen
from suffice.assess.rules.table import Facts, Measure, Sign
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Illness, Temperature
from suffice.clinical.temperature import judge_temperature
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.message import Instant, Message, message

BREAST_RED: Final = "breast_red"
"""Key of the one sign whose level goes by how long it has lasted."""
BREAST_RED_A_DAY: Final = "breast_red_a_day"
PARENT_WORDS: Final = {"mother": message("mother"), "parent": message("parent")}


def review_warnings(case: Case, review: Review, parameters: CareParameters) -> None:
    """Put the latest temperature, every sign entered and the illnesses named before the table."""
    _review_temperature(case, review, parameters)
    for name, sign in signs_seen(case.entries, case.born_at).items():
        review.signs.setdefault(name, []).append(sign)
    for what in present_illnesses(case.entries):
        since = next(entry for entry, fact in case.facts(Illness) if fact.what == what)
        review.sign(
            "illness",
            True,  # noqa: FBT003
            age_h=case.age_at(since.true_at),
            entry_ids=(since.id,),
            what=what,
            at=Instant(since.true_at),
        )


def _review_temperature(case: Case, review: Review, parameters: CareParameters) -> None:
    """The latest temperature: a later usual one takes a fever back.

    It stands for the content's hours only; after that it is old. An infant of unknown age is taken
    for a newborn.
    """
    latest = case.latest(Temperature)
    if latest is None:
        review.missing("temperature_c", message("No temperature was taken."))
        return
    entry, fact = latest
    age_h = case.age_at(entry.true_at) or 0.0
    judged = judge_temperature(
        fact.temperature_c, parameters.temperature, age_d=age_h / HOURS_PER_DAY, site=fact.site
    )
    figure = Figure(value=fact.temperature_c, unit="Cel", working=judged.working)
    review.figures["temperature_c"] = figure
    found = Measure(
        value=fact.temperature_c,
        age_h=age_h,
        at=entry.true_at,
        figure=figure,
        entry_ids=(entry.id,),
    )
    review.measure("last_temperature_c", found)
    if elapsed_h(entry.true_at, case.as_of) <= parameters.temperature_counts_h.value:
        review.measure("temperature_c", found)


def parent_facts(
    entries: Sequence[Entry],
    parameters: CareParameters,
    policy: Policy,
    *,
    as_of: datetime,
    born_at: datetime | None = None,
) -> Facts:
    """What the table asks about the parent: temperature, signs of the vocabulary, illnesses.

    Args:
        entries: The current entries about the parent, in order of time.
        parameters: The content's parameters.
        policy: The clinic's policy, for the word for the parent.
        as_of: The instant of the question.
        born_at: When the youngest infant was born: ages of a row about the parent are time since then.
            None where it is not known.
    """
    parent = ("parent", PARENT_WORDS[policy.parent_word])
    measures: dict[str, tuple[Measure, ...]] = {}
    signs: dict[str, tuple[Sign, ...]]
    signs = {name: (sign,) for name, sign in signs_seen(entries, born_at).items()}
    latest = _parent_temperature(entries, parent)
    if latest is not None:
        measures["last_temperature_c"] = (latest,)
        if elapsed_h(latest.at or as_of, as_of) <= parameters.temperature_counts_h.value:
            measures["temperature_c"] = (latest,)
    red = signs.get(BREAST_RED, (Sign(present=Truth.CANNOT_TELL),))[0]
    if red.at is not None:
        is_long = elapsed_h(red.at, as_of) >= parameters.breast_red_h.value
        present = truth_of(is_long)
        signs[BREAST_RED_A_DAY] = (msgspec.structs.replace(red, present=present),)
    signs["illness"] = tuple(
        Sign(present=Truth.TRUE, gaps=(parent, ("what", what), ("at", _named_at(entries, what))))
        for what in present_illnesses(entries)
    )
    age_h = None if born_at is None else elapsed_h(born_at, as_of)
    return Facts(measures=measures, signs=signs, age_h=age_h)


def _parent_temperature(entries: Sequence[Entry], parent: tuple[str, Message]) -> Measure | None:
    """The parent's latest temperature, however old."""
    taken = [(entry, entry.fact) for entry in entries if isinstance(entry.fact, Temperature)]
    if not taken:
        return None
    entry, fact = taken[-1]
    measured = Working(formula=message("as measured"))
    return Measure(
        value=fact.temperature_c,
        age_h=0.0,
        at=entry.true_at,
        figure=Figure(value=fact.temperature_c, unit="Cel", working=measured),
        entry_ids=(entry.id,),
        gaps=(parent,),
    )


def _named_at(entries: Sequence[Entry], what: str) -> Instant:
    """When an illness was first named."""
    named = (one for one in entries if isinstance(one.fact, Illness) and one.fact.what == what)
    return Instant(next(named).true_at)
