"""The engine's quick answer for each infant of a cohort: intake, requirement, and the chance of short.

From weights alone, so each volume is a range; the page of a family asks the engine in full. Where
the engine refuses, is too young to judge, or has no weight, the columns are empty and the reason
stands in `intake_not_told`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np
import polars as pl

from suffice.assess.engine.question import AskedOf, question_of
from suffice.assess.parameters import CareParameters, parameters_of
from suffice.inference.estimate import Estimate, Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.answer import preview
from suffice.inference.infant.population import Population

if TYPE_CHECKING:
    from suffice.cohort.infants import Part
    from suffice.knowledge.store import Content

SCHEMA = pl.Schema({
    "intake_ml_per_day": pl.Float64, "intake_low_80_ml_per_day": pl.Float64,
    "intake_high_80_ml_per_day": pl.Float64, "requirement_ml_per_day": pl.Float64,
    "intake_short_probability": pl.Float64, "intake_not_told": pl.String,
})  # fmt: skip
"""The columns; volumes in mL per day, at the breast and in all, since nothing else is known."""


class IntakeSetting(msgspec.Struct, frozen=True, kw_only=True):
    """What the engine needs besides the weights.

    Attributes:
        population: Its parameters.
        question: What is asked of all; the gains are those of each infant's age and sex.
        from_age_d: Age before which intake is not judged.
        parameters: The lines of gain about which each infant is asked.
    """

    population: Population
    question: Question
    from_age_d: float
    parameters: CareParameters


def intake_setting(content: Content) -> IntakeSetting:
    """The setting of a content."""
    values = {key: constant.value for key, constant in content.constants("population").items()}
    return IntakeSetting(
        population=Population.from_constants(values),
        question=Question.from_constants(values),
        from_age_d=content.constant("ranking.likely_short_from_age_d").value,
        parameters=parameters_of(content),
    )


def intake_columns(part: Part, setting: IntakeSetting) -> pl.DataFrame:
    """One row an infant of the part, in its order; the columns of `SCHEMA`."""
    rows = [_row(_evidence(part, place), setting) for place in range(len(part.infants))]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _row(evidence: Evidence, setting: IntakeSetting) -> tuple[float | str | None, ...]:
    nothing = (None,) * (len(SCHEMA) - 1)
    if not evidence.weights:
        return (*nothing, "no-usable-weight")
    if evidence.now_d < setting.from_age_d:
        return (*nothing, "too-young-to-judge")
    if evidence.now_d > setting.population.age_limit_d:
        return (*nothing, "older-than-the-engine")
    asked = AskedOf(
        evidence.now_d, evidence.weights[-1].age_d, evidence.sex, evidence.gestation_days
    )
    question = question_of(setting.question, asked, setting.parameters)
    estimate = preview(evidence, setting.population, question)
    if estimate.is_refused:
        return (*nothing, _refusal(estimate))
    intake = estimate.total_intake
    return (
        intake.median,
        intake.low_80,
        intake.high_80,
        estimate.requirement.median,
        estimate.intake_short_probability,
        None,
    )


def _refusal(estimate: Estimate) -> str:
    return next(one.code for one in estimate.cautions if one.severity == "refusal")


def _evidence(part: Part, place: int) -> Evidence:
    """What is known of one infant, in the engine's form; the birth weight is the first column."""
    facts = part.infants.row(place, named=True)
    ages, weights = part.weighed.age_d[place], part.weighed.weight_g[place]
    extra = part.weighed.extra_noise_g
    clothed = np.zeros(len(ages)) if extra is None else extra[place]
    readings = tuple(
        WeightReading(
            id=str(column),
            age_d=float(ages[column]),
            weight_g=float(weights[column]),
            clothing="clothed" if clothed[column] > 0 else None,
        )
        for column in range(1, len(ages))
        if np.isfinite(weights[column])
    )
    gestation = facts["gestation_days"]
    return Evidence(
        now_d=float(part.now_d[place]),
        birth_weight_g=facts["birth_weight_g"],
        sex=facts["sex"],
        gestation_days=None if gestation is None else int(gestation),
        mode=facts["mode"],
        weights=readings,
    )
