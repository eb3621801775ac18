"""The engine's quick answer for each infant of a cohort: intake, requirement, and the chance of short.

From weights alone, so each volume is a range; the page of a family asks the engine in full. Where
the engine refuses, is too young to judge, or has no weight, the columns are empty and the reason
stands in `intake_not_told`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np
import numpy.typing as npt
import polars as pl

from suffice.assess.engine.question import ManyAskedOf, asked_of_many
from suffice.assess.parameters import CareParameters, parameters_of
from suffice.inference.estimate import Question
from suffice.inference.infant.outlook import LEVELS
from suffice.inference.infant.population import Population
from suffice.inference.many.preview import ManyAsked, ManyEvidence, preview_many
from suffice.inference.many.weights import CLOTHING, Weighings

if TYPE_CHECKING:
    from suffice.cohort.infants import Part
    from suffice.knowledge.store import Content

SCHEMA = pl.Schema({
    "intake_ml_per_day": pl.Float64, "intake_low_80_ml_per_day": pl.Float64,
    "intake_high_80_ml_per_day": pl.Float64, "requirement_ml_per_day": pl.Float64,
    "intake_short_probability": pl.Float64, "intake_not_told": pl.String,
})  # fmt: skip
"""The columns; volumes in mL per day, at the breast and in all, since nothing else is known."""


class Intake(NamedTuple):
    """What the engine says of the infants of a part.

    Attributes:
        columns: One row an infant of the part, in its order; the columns of `SCHEMA`.
        birth_weight_is_unfit: (n,): that the engine left the birth weight out.
    """

    columns: pl.DataFrame
    birth_weight_is_unfit: npt.NDArray[np.bool_]


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
    values = {key: constant.value for key, constant in content.flat.items()}
    return IntakeSetting(
        population=Population.from_constants(values),
        question=Question.from_constants(values),
        from_age_d=content.constant("ranking.likely_short_from_age_d").value,
        parameters=parameters_of(content),
    )


def intake_of(part: Part, setting: IntakeSetting) -> Intake:
    """The engine's quick answers for a part."""
    evidence = _evidence(part)
    reasons = _why_not_computed(part, evidence.weighings, setting)
    computed = np.array([reason is None for reason in reasons], dtype=bool)
    asked = evidence.rows(np.flatnonzero(computed))
    found = preview_many(
        asked, setting.population, setting.question, _asked(part, computed, asked, setting)
    )
    median, low_80, high_80 = (LEVELS.index(level) for level in (0.5, 0.1, 0.9))
    columns = (
        found.intake_ml_per_day[:, median],
        found.intake_ml_per_day[:, low_80],
        found.intake_ml_per_day[:, high_80],
        found.requirement_ml_per_day[:, median],
        found.intake_short_probability,
    )
    wide = np.full((len(columns), len(computed)), np.nan)
    wide[:, computed] = columns
    numbers = pl.DataFrame(dict(zip(SCHEMA, wide, strict=False))).fill_nan(None)
    is_unfit = np.zeros(len(computed), dtype=bool)
    is_unfit[computed] = found.birth_weight_is_unfit
    return Intake(
        numbers.with_columns(intake_not_told=pl.Series(reasons, dtype=pl.String)), is_unfit
    )


def _evidence(part: Part) -> ManyEvidence:
    """What is known of the infants, in the engine's form; the birth weight is the first column."""
    facts, weighed = part.infants, part.weighed
    codes = np.zeros(part.clothing.shape, dtype=np.intp)
    for code, worn in enumerate(CLOTHING):
        codes[part.clothing == (worn or "")] = code
    mode = facts["mode"]
    return ManyEvidence(
        now_d=part.now_d,
        birth_weight_g=facts["birth_weight_g"].to_numpy().astype(np.float64),
        boy=weighed.male_share,
        caesarean=np.where(mode.is_null(), np.nan, (mode == "caesarean").fill_null(value=False)),
        weighings=Weighings(
            age_d=weighed.age_d[:, 1:], weight_g=weighed.weight_g[:, 1:], clothing=codes[:, 1:]
        ),
    )


def _why_not_computed(part: Part, weighings: Weighings, setting: IntakeSetting) -> list[str | None]:
    """Why an infant's intake is not computed; None where it is. The engine's refusals have its codes."""
    p, now = setting.population, part.now_d
    birth_weight_g = part.infants["birth_weight_g"].to_numpy().astype(np.float64)
    reasons = {
        "no-usable-weight": weighings.counts == 0,
        "too-young-to-judge": now < setting.from_age_d,
        "older-than-the-engine": now > p.age_limit_d,
        "preterm": part.weighed.gestation_days < p.gestation_refused_d,
        "low-birth-weight": birth_weight_g < p.birth_weight_refused_low_g,
    }
    computed: list[str | None] = np.select(list(reasons.values()), list(reasons), "").tolist()
    return [reason or None for reason in computed]


def _asked(
    part: Part, computed: npt.NDArray[np.bool_], evidence: ManyEvidence, setting: IntakeSetting
) -> ManyAsked:
    """The lines of gain of each infant, as :func:`suffice.assess.engine.question.question_of` asks."""
    last_d = evidence.weighings.last_d
    gestation_days = part.weighed.gestation_days[computed]
    infants = ManyAskedOf(evidence.now_d, last_d, evidence.boy, gestation_days)
    return asked_of_many(setting.question, infants, setting.parameters)
