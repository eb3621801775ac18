"""Where gain and intake differ from a simple division the reader is told why; where not, nothing."""

from __future__ import annotations

import msgspec
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING
from spoken import in_sentences
from suffice.assess.engine.division import why_not_divided, why_not_weighed
from suffice.assess.results import EngineFacts
from suffice.inference.estimate import Caution
from suffice.inference.infant.answer import preview
from suffice.message import message

ESTIMATE = preview(THRIVING, POPULATION, QUESTION)
GAIN, INTAKE = ESTIMATE.gain, ESTIMATE.breast_intake


def said(found) -> str:
    return " ".join(in_sentences(one) for one in found)


@pytest.mark.parametrize("divided", [None, GAIN.median, GAIN.low_50, GAIN.high_50])
def test_a_gain_that_agrees_with_the_division_needs_no_word(divided):
    facts = EngineFacts(divided_gain_g_per_day=divided)
    assert list(why_not_divided(ESTIMATE, facts)) == []


def test_a_gain_that_differs_says_what_the_division_gives_and_why():
    found = list(why_not_divided(ESTIMATE, EngineFacts(divided_gain_g_per_day=GAIN.high_50 + 5)))
    assert len(found) == 1
    assert "divided by the days between" in said(found)


def test_a_doubtful_weight_and_milk_no_longer_written_down_are_named():
    known = Caution(code="milk-not-written", severity="caution", sentence=message("x"))
    estimate = msgspec.structs.replace(ESTIMATE, cautions=(known,), suspects=("doubtful",))
    facts = EngineFacts(divided_gain_g_per_day=GAIN.low_50 - 5)
    found = list(why_not_divided(estimate, facts))
    assert len(found) == 3
    assert "counts for less" in said(found)
    assert "none was given" in said(found).replace("\n", " ")


@pytest.mark.parametrize(
    ("weighed", "count"),
    [(None, 0), (INTAKE.median, 0), (INTAKE.low_50 - 30, 1), (INTAKE.high_50 + 30, 1)],
)
def test_a_day_of_test_weights_that_says_otherwise_is_explained(weighed, count):
    found = list(why_not_weighed(ESTIMATE, EngineFacts(weighed_day_ml=weighed)))
    assert len(found) == count
    assert all("add up to" in said([one]) for one in found)
