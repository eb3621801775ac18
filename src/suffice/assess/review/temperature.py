"""Temperatures of an infant before the table: the highest and lowest open ones, and what lasts.

A temperature counts until a physician has answered; a later usual one takes no fever back. It is
judged at the age at which it was taken. A reading of a doubtful site counts where it is high or
low, calms nothing where it is usual, and gives way to a better one taken soon after it: never a fever
of a young infant, which only a physician takes back (docs/decisions/0012).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from typing import Final

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, figures, measure, missing, sign
from suffice.assess.rules.table import Measure
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Temperature
from suffice.clinical.temperature import (
    SITES,
    Stage,
    TemperatureLimits,
    is_doubtful_site,
    judge_temperature,
    stage_at,
)
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.message import Age, Amount, Instant, message

STAGES: Final[tuple[Stage, ...]] = ("young", "middle", "older")
STANDS: Final = message("Usual at a better site since: a physician decides.")
"""What is said of a fever that a better reading soon after does not bear out."""


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """One temperature as it was taken.

    Attributes:
        found: The measure; an infant of unknown age is taken for a newborn.
        at: When it was taken.
        stage: Which limits judge it.
        site: Where it was taken, where that is doubtful; else empty.
    """

    found: Measure
    at: datetime
    stage: Stage
    site: str = ""

    @property
    def celsius(self) -> float:
        """In °C."""
        return self.found.value


def review_temperature(case: Case, parameters: CareParameters) -> Iterator[Reviewed]:
    """The temperatures that no physician has answered yet, and the latest."""
    taken = case.facts(Temperature)
    if not taken:
        yield missing("temperature_c", why=message("No temperature was taken."))
        return
    limits = parameters.temperature
    everything = [_read(case, entry, fact, parameters) for entry, fact in taken]
    yield figures(temperature_c=everything[-1].found.figure)
    readings = [
        _with_doubt(one, everything, limits)
        for one in everything
        if _is_young_fever(one, limits) or not _is_replaced(one, everything, limits)
    ]
    open_ = [one for one in readings if not case.answers.cover(*one.found.entry_ids)]
    yield from _review_last(readings, open_, limits)
    yield from _review_extremes(open_)
    yield from _review_runs(open_, limits)


def _read(case: Case, entry: Entry, fact: Temperature, parameters: CareParameters) -> Reading:
    limits = parameters.temperature
    age_h = case.age_at(entry.true_at) or 0.0
    age_d = age_h / HOURS_PER_DAY
    stage: Stage = "young"
    if case.born_at is not None and case.birth is not None:
        stage = stage_at(
            entry.true_at,
            case.born_at,
            limits,
            parameters.age,
            zone=case.birth.zone,
            gestation_days=case.birth.gestation_days,
        )
    judged = judge_temperature(fact.temperature_c, limits, age_d=age_d, stage=stage, site=fact.site)
    found = Measure(
        value=fact.temperature_c,
        age_h=age_h,
        at=entry.true_at,
        figure=Figure(value=fact.temperature_c, unit="Cel", working=judged.working),
        entry_ids=(entry.id,),
        gaps=(("celsius", Amount(fact.temperature_c, "Cel")),),
    )
    site = fact.site if fact.site and is_doubtful_site(fact.site, age_d, limits) else ""
    return Reading(found=found, at=entry.true_at, stage=stage, site=site)


def _is_replaced(one: Reading, readings: Sequence[Reading], limits: TemperatureLimits) -> bool:
    """Whether a doubtful reading was soon followed by one at a better site."""
    return bool(one.site) and any(_follow(one, readings, limits))


def _follow(
    one: Reading, readings: Sequence[Reading], limits: TemperatureLimits
) -> Iterator[Reading]:
    """The readings at a better site that came soon after one."""
    for other in readings:
        if not other.site and 0 <= elapsed_h(one.at, other.at) <= limits.site_again_h.value:
            yield other


def _is_young_fever(one: Reading, limits: TemperatureLimits) -> bool:
    return one.stage == "young" and one.celsius >= limits.fever_c.value


def _with_doubt(one: Reading, readings: Sequence[Reading], limits: TemperatureLimits) -> Reading:
    """A fever of a young infant that says of itself that a better reading soon after was usual."""
    if not one.site or not _is_young_fever(one, limits):
        return one
    if not any(_is_usual(other, limits) for other in _follow(one, readings, limits)):
        return one
    return msgspec.structs.replace(one, found=msgspec.structs.replace(one.found, says=(STANDS,)))


def _at_site(name: str, one: Reading) -> Reviewed:
    """A finding that rests on a reading at a doubtful site, with what its sentence says of it."""
    return sign(
        name,
        True,  # noqa: FBT003  # the finding itself
        age_h=one.found.age_h,
        entry_ids=one.found.entry_ids,
        at=Instant(one.at),
        celsius=Amount(one.celsius, "Cel"),
        site=SITES[one.site],
        began=Age(one.found.age_h),
    )


def _is_usual(one: Reading, limits: TemperatureLimits) -> bool:
    return limits.cool_c.value <= one.celsius < limits.repeat_c.value


def _review_last(
    readings: Sequence[Reading], open_: Sequence[Reading], limits: TemperatureLimits
) -> Iterator[Reviewed]:
    """The latest reading that can be trusted to be usual, or is not usual; `open_` are not answered."""
    last = readings[-1]
    if last.site:
        yield _at_site("doubtful_site", last)
    telling = [one for one in readings if not (one.site and _is_usual(one, limits))]
    telling = list(_without_too_soon(telling, limits))
    if telling:
        name = "young" if telling[-1].stage == "young" else "later"
        yield measure(f"{name}_last_temperature_c", telling[-1].found)
        yield sign(
            "last_temperature_answered",
            telling[-1] not in open_,
            age_h=telling[-1].found.age_h,
            entry_ids=telling[-1].found.entry_ids,
        )
        if telling[-1].stage == "middle" and telling[-1] in open_:
            yield measure("middle_last_temperature_c", telling[-1].found)


def _without_too_soon(readings: Sequence[Reading], limits: TemperatureLimits) -> Sequence[Reading]:
    """Up to a warm reading of a young infant, where the usual ones since came too soon to end it.

    Warmth of wrapping goes in about half an hour: a second reading within minutes tells nothing new.
    """
    warm = max(
        (place for place, one in enumerate(readings) if one.celsius >= limits.repeat_c.value),
        default=None,
    )
    if warm is None or readings[warm].stage != "young":
        return readings
    since = readings[warm + 1 :]
    is_too_soon = all(
        _is_usual(one, limits) and elapsed_h(readings[warm].at, one.at) < limits.warm_again_h.value
        for one in since
    )
    return readings[: warm + 1] if is_too_soon else readings


def _review_extremes(open_: Sequence[Reading]) -> Iterator[Reviewed]:
    for stage in STAGES:
        found = [one.found for one in open_ if one.stage == stage]
        if found:
            highest = max(found, key=lambda one: one.value)
            yield measure(f"{stage}_highest_temperature_c", highest)
    if open_:
        lowest = min((one.found for one in open_), key=lambda one: one.value)
        yield measure("lowest_temperature_c", lowest)
    young = [one.found for one in open_ if one.stage == "young"]
    if young:
        yield measure("young_lowest_temperature_c", min(young, key=lambda one: one.value))


def _review_runs(open_: Sequence[Reading], limits: TemperatureLimits) -> Iterator[Reviewed]:
    """What did not pass: warm twice, cool twice, cold and not warm an hour later, fever for days."""
    young = [one for one in open_ if one.stage == "young"]
    later = [one for one in open_ if one.stage != "young"]
    warm = _runs(young, lambda celsius: celsius >= limits.repeat_c.value)
    cool = list(_runs(young, lambda celsius: celsius < limits.cool_c.value))
    cold = [run[place:] for run in cool for place in _first_cold(run, limits)]
    fever = _runs(later, lambda celsius: celsius >= limits.fever_c.value)
    for name, runs, least_h in (
        ("warm_twice_temperature_c", warm, limits.warm_again_h.value),
        ("cool_twice_temperature_c", cool, limits.cool_again_h.value),
        ("still_cool_temperature_c", cold, limits.cool_again_h.value),
    ):
        for run in _first_lasting(runs, least_h):
            # Judged at the age at which it began, so that growing older ends nothing.
            found = msgspec.structs.replace(run[-1].found, age_h=run[0].found.age_h)
            yield measure(name, found)
    for run in _first_lasting(fever, limits.fever_lasts_d.value * HOURS_PER_DAY):
        lasted = Figure(
            value=_lasts_h(run) / HOURS_PER_DAY,
            unit="d",
            working=Working(formula=message("from the first to the last temperature of the fever")),
        )
        found = msgspec.structs.replace(run[-1].found, value=lasted.value, figure=lasted)
        yield measure("fever_lasting_d", found)


def _runs(
    readings: Iterable[Reading], holds: Callable[[float], bool]
) -> Iterator[tuple[Reading, ...]]:
    """Readings in a row for which something holds; a doubtful one for which it does not is skipped."""
    run: list[Reading] = []
    for one in readings:
        if holds(one.celsius):
            run.append(one)
        elif not one.site:
            yield tuple(run)
            run = []
    yield tuple(run)


def _first_lasting(
    runs: Iterable[tuple[Reading, ...]], least_h: float
) -> Iterator[tuple[Reading, ...]]:
    """The first run that lasted so long, if there is one."""
    yield from [run for run in runs if len(run) > 1 and _lasts_h(run) >= least_h][:1]


def _lasts_h(run: tuple[Reading, ...]) -> float:
    return elapsed_h(run[0].at, run[-1].at)


def _first_cold(run: tuple[Reading, ...], limits: TemperatureLimits) -> list[int]:
    """The place of the first reading of a run that is cold, if there is one."""
    return [place for place, one in enumerate(run) if one.celsius < limits.cold_c.value][:1]
