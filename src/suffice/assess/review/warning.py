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
from suffice.clinical.entry import Answer, Entry, Illness, Temperature
from suffice.clinical.temperature import judge_temperature
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.message import Instant, message

PARENT_WORDS: Final = {"mother": message("mother"), "parent": message("parent")}


def review_warnings(case: Case, parameters: CareParameters) -> Reviewed:
    """The temperatures that count and the illnesses that were named."""
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
    """The latest temperature, and those that no clinician has answered yet.

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
    """Whether a clinician answered at that time or later."""
    answers = (entry.true_at for entry in entries if isinstance(entry.fact, Answer))
    return at is not None and any(at <= answered for answered in answers)


def parent_facts(entries: Sequence[Entry], policy: Policy) -> Facts:
    """What the table asks about the parent: the highest temperature not answered yet, and illnesses.

    Args:
        entries: The current entries about the parent, in order of time.
        policy: The clinic's policy, for the word for the parent.
    """
    parent = ("parent", PARENT_WORDS[policy.parent_word])
    measures: dict[str, tuple[Measure, ...]] = {}
    taken = [(entry, entry.fact) for entry in entries if isinstance(entry.fact, Temperature)]
    open_ = [one for one in taken if not _is_answered(one[0].true_at, entries)]
    if open_:
        entry, fact = max(open_, key=lambda one: one[1].temperature_c)
        measured = Working(formula=message("as measured"))
        highest = Measure(
            value=fact.temperature_c,
            age_h=0.0,
            at=entry.true_at,
            figure=Figure(value=fact.temperature_c, unit="Cel", working=measured),
            entry_ids=(entry.id,),
            gaps=(parent,),
        )
        measures["highest_temperature_c"] = (highest,)
    illnesses = tuple(
        Sign(present=Truth.TRUE, gaps=(parent, ("what", what)))
        for what in present_illnesses(entries)
    )
    return Facts(measures=measures, signs={"illness": illnesses})
