"""What the engine says of its own answer: under which cautions nothing is settled, and scales."""

from __future__ import annotations

import msgspec
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING, weights
from suffice.inference.estimate import Caution
from suffice.inference.evidence import Scale
from suffice.inference.infant.answer import preview
from suffice.inference.infant.caution import UNSETTLED, may_be_settled

change = msgspec.structs.replace
NOTED_G = POPULATION.scale_bias_noted_g
TWO_SCALES = change(
    THRIVING, weights=(*THRIVING.weights[:3], *weights((10.0, 3450.0), scale="home"))
)


def codes(evidence, *scales):
    told = preview(change(evidence, scales=scales), POPULATION, QUESTION)
    return [(one.code, one.params.get("scale")) for one in told.cautions if "scale" in one.code]


@pytest.mark.parametrize(
    ("bias_sd_g", "is_noted"), [(NOTED_G, True), (NOTED_G - 0.1, False), (None, True), (0.0, False)]
)
def test_a_scale_whose_error_is_hardly_known_is_noted(bias_sd_g, is_noted):
    assert POPULATION.scale_offset_sd_g >= NOTED_G  # what None stands for
    found = codes(TWO_SCALES, Scale(name="home", bias_sd_g=bias_sd_g))
    assert (("scale-bias", "home") in found) == is_noted


def test_with_one_scale_its_error_shifts_all_weights_alike_and_is_not_noted():
    assert codes(THRIVING, Scale(name="clinic", bias_sd_g=NOTED_G)) == []


def test_a_scale_on_which_nobody_weighed_is_not_noted():
    assert ("scale-bias", "attic") not in codes(TWO_SCALES, Scale(name="attic"))


def test_a_question_is_settled_unless_one_caution_says_otherwise():
    harmless = Caution(code="scale-bias", severity="note", sentence="x")
    assert harmless.code not in UNSETTLED
    assert may_be_settled(())
    assert may_be_settled((harmless,))
    for code in UNSETTLED:
        assert not may_be_settled((harmless, msgspec.structs.replace(harmless, code=code)))


def test_refusals_come_before_cautions_and_those_before_notes():
    ill = change(TWO_SCALES, illness="rash", scales=(Scale(name="home"),))
    order = [one.severity for one in preview(ill, POPULATION, QUESTION).cautions]
    assert len(set(order)) > 1
    assert order == sorted(order, key=["refusal", "caution", "note"].index)
