"""By which limit of fever a family is told: the age of its infants, the youngest of several."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from paper_source import NOW, folder
from suffice.assess.fever_stage import fever_stage
from suffice.assess.results import InfantAssessment
from suffice.clinical.temperature import Stage
from suffice.knowledge.store import load

CONTENT = load()
ONE = folder("thriving").source.assessment.infants[0]


def aged(days: float | None, gestation_days: int | None = 280) -> InfantAssessment:
    born = None if days is None else NOW - timedelta(days=days)
    return msgspec.structs.replace(ONE, born_at=born, gestation_days=gestation_days)


@pytest.mark.parametrize(
    ("days", "gestation_days", "stage"),
    [
        (10, 280, "young"),
        (100, 280, "middle"),
        (200, 280, "older"),
        (100, 238, "young"),
        (140, 238, "middle"),
        (100, None, "middle"),
        (None, 280, "young"),
    ],
)
def test_it_is_that_of_the_age_for_a_preterm_infant_from_its_due_date(
    days: float | None, gestation_days: int | None, stage: Stage
) -> None:
    """Born at 34 weeks, three months after the due date are 133 days of life."""
    assert fever_stage([aged(days, gestation_days)], CONTENT, NOW) == stage


def test_of_several_the_most_careful_one_counts_and_of_none_too() -> None:
    assert fever_stage([aged(200), aged(10), aged(100)], CONTENT, NOW) == "young"
    assert fever_stage([], CONTENT, NOW) == "young"
