"""What belongs to a physician whatever the weight says: temperature and illness, as measures and signs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

from suffice.assess.case import Case, present_illnesses
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, figures, measure, missing, sign, together
from suffice.assess.rules.table import Facts, Measure, Sign
from suffice.assess.rules.truth import Truth
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Illness, Temperature
from suffice.clinical.temperature import judge_temperature
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.message import Instant, message

PARENT_WORDS: Final = {"mother": message("mother"), "parent": message("parent")}


def review_warnings(case: Case, parameters: CareParameters) -> Reviewed:
    """The latest temperature and the illnesses that were named."""
    return together([*_review_temperature(case, parameters), *_review_illnesses(case)])


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
    """The latest temperature: a later usual one takes a fever back.

    It stands for the content's hours only; after that it is old. An infant of unknown age is taken
    for a newborn.
    """
    latest = case.latest(Temperature)
    if latest is None:
        yield missing("temperature_c", why=message("No temperature was taken."))
        return
    entry, fact = latest
    age_h = case.age_at(entry.true_at) or 0.0
    judged = judge_temperature(
        fact.temperature_c, parameters.temperature, age_d=age_h / HOURS_PER_DAY, site=fact.site
    )
    figure = Figure(value=fact.temperature_c, unit="Cel", working=judged.working)
    yield figures(temperature_c=figure)
    found = Measure(
        value=fact.temperature_c,
        age_h=age_h,
        at=entry.true_at,
        figure=figure,
        entry_ids=(entry.id,),
    )
    yield measure("last_temperature_c", found)
    if elapsed_h(entry.true_at, case.as_of) <= parameters.temperature_counts_h.value:
        yield measure("temperature_c", found)


def parent_facts(
    entries: Sequence[Entry], parameters: CareParameters, policy: Policy, *, as_of: datetime
) -> Facts:
    """What the table asks about the parent: the latest temperature, while it stands, and illnesses.

    Args:
        entries: The current entries about the parent, in order of time.
        parameters: The content's parameters.
        policy: The clinic's policy, for the word for the parent.
        as_of: The instant of the question.
    """
    parent = ("parent", PARENT_WORDS[policy.parent_word])
    measures: dict[str, tuple[Measure, ...]] = {}
    taken = [(entry, entry.fact) for entry in entries if isinstance(entry.fact, Temperature)]
    if taken:
        entry, fact = taken[-1]
        if elapsed_h(entry.true_at, as_of) <= parameters.temperature_counts_h.value:
            measured = Working(formula=message("as measured"))
            latest = Measure(
                value=fact.temperature_c,
                age_h=0.0,
                at=entry.true_at,
                figure=Figure(value=fact.temperature_c, unit="Cel", working=measured),
                entry_ids=(entry.id,),
                gaps=(parent,),
            )
            measures["temperature_c"] = (latest,)
    illnesses = tuple(
        Sign(present=Truth.TRUE, gaps=(parent, ("what", what)))
        for what in present_illnesses(entries)
    )
    return Facts(measures=measures, signs={"illness": illnesses})
