"""Which limit of fever a family is told of: that of the age of its infants, the most careful one of several."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment
from suffice.clinical.temperature import Stage, stage_at
from suffice.knowledge.store import Content

STAGES: Final[tuple[Stage, ...]] = ("young", "middle", "older")
"""The most careful first."""


def fever_stage(infants: Iterable[InfantAssessment], content: Content, at: datetime) -> Stage:
    """By which limits the youngest of some infants is judged; 'young' where a birth is not known.

    Args:
        infants: The infants, twins or one.
        content: The content in force.
        at: Aware instant.
    """
    parameters = parameters_of(content)
    stages = {
        "young"
        if one.born_at is None
        else stage_at(
            at,
            one.born_at,
            parameters.temperature,
            parameters.age,
            zone=one.zone,
            gestation_days=one.gestation_days,
        )
        for one in infants
    }
    return min(stages, key=STAGES.index, default="young")
