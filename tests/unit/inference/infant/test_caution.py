"""What the engine says of its own answer: under which cautions nothing is settled, and scales."""

from __future__ import annotations

import msgspec
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING, weights
from spoken import text
from suffice.inference.estimate import Caution
from suffice.inference.evidence import Evidence, MilkGiven, Scale, TestWeighing, WeightReading
from suffice.inference.infant.answer import preview
from suffice.inference.infant.caution import UNSETTLED, Signs, cautions, may_be_settled

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


@pytest.mark.parametrize(
    ("now_d", "weight_d", "is_told"),
    [
        (10.5, 9.0, False),
        (11.5, 9.0, True),
        (40.0, 9.0, True),
        (40.0, 12.5, True),
        (40.0, 13.0, False),
    ],
    ids=["within the day", "after a day", "weeks later", "weighed too soon", "weighed since"],
)
def test_a_log_of_milk_that_ended_is_told_until_a_weight_shows_what_came_of_it(
    now_d, weight_d, is_told
):
    given = tuple(MilkGiven(id=f"m{day}", age_d=float(day), volume_ml=200) for day in range(3, 11))
    weighed = (WeightReading(id="w", age_d=weight_d, weight_g=3600),)
    asked = Evidence(now_d=now_d, birth_weight_g=3400, weights=weighed, milk_given=given)
    found = {one.code for one in preview(asked, POPULATION, QUESTION).cautions}
    assert ("milk-not-written" in found) is is_told


@pytest.mark.parametrize(
    ("times_a_day", "severity"),
    [(0, None), (1, "caution"), (2, "caution"), (3, "refusal"), (8, "refusal")],
)
def test_milk_without_a_volume_is_told_and_many_times_a_day_intake_is_not(times_a_day, severity):
    given = tuple(day + k / 10 for day in range(5, 10) for k in range(times_a_day))
    asked = change(
        Evidence(
            now_d=10.0,
            birth_weight_g=3400,
            weights=(
                WeightReading(id="w", age_d=4.0, weight_g=3250),
                WeightReading(id="v", age_d=10.0, weight_g=3480),
            ),
        ),
        unmeasured_milk_d=given,
    )
    found = {one.code: one for one in preview(asked, POPULATION, QUESTION).cautions}
    told = found.get("milk-not-measured")
    assert (told and told.severity) == severity


def test_milk_without_a_volume_long_before_the_last_weight_is_in_that_weight():
    weighed = (
        WeightReading(id="w", age_d=4.0, weight_g=3250),
        WeightReading(id="v", age_d=20.0, weight_g=3800),
    )
    early = tuple(4.0 + k / 10 for k in range(8))
    asked = Evidence(now_d=20.0, birth_weight_g=3400, weights=weighed, unmeasured_milk_d=early)
    assert "milk-not-measured" not in {
        one.code for one in preview(asked, POPULATION, QUESTION).cautions
    }


@pytest.mark.parametrize("milk", ["measured", "not measured"])
def test_of_an_infant_fed_formula_no_weight_is_called_doubtful_by_a_model_of_the_breast(milk):
    ages = tuple(day / 8 for day in range(8, 112))
    weighed = tuple(
        WeightReading(id=f"w{d}", age_d=float(d), weight_g=g)
        for d, g in ((3, 3250), (7, 3360), (14, 3620))
    )
    asked = Evidence(now_d=14.0, birth_weight_g=3400, sex="female", weights=weighed)
    if milk == "measured":
        bottles = tuple(MilkGiven(id=f"m{age}", age_d=age, volume_ml=75) for age in ages)
        asked = change(asked, milk_given=bottles)
    else:
        asked = change(asked, unmeasured_milk_d=ages)
    told = preview(asked, POPULATION, QUESTION)
    assert told.is_refused
    assert not {"last-weight-suspect", "suspect-weight"} & {one.code for one in told.cautions}


def noticed(**more):
    """The cautions of a computation that noticed nothing else, by code."""
    signs = Signs(
        effective_draws=more.pop("effective_draws", None),
        preview_shift_sd=0.0,
        scatter_p=None,
        last_weight_off_sd=None,
        given_share=0.0,
        given_last_share=0.0,
        given_rise_share=0.0,
        unmeasured_share=0.0,
        suspects=(),
        weights=THRIVING.weights,
        noise_g=35.0,
        **more,
    )
    return {one.code: text(one.sentence) for one in cautions(THRIVING, POPULATION, signs)}


@pytest.mark.parametrize(
    ("whole_day", "says"), [(False, "The test weight of"), (True, "The day of 8 test weights")]
)
def test_milk_that_was_weighed_and_left_out_is_told_as_a_feed_or_as_a_day(whole_day, says):
    weighed = TestWeighing(id="t", age_d=9.0, transfer_g=400.0, feeds_count=8, whole_day=whole_day)
    assert noticed(unfit_tests=(weighed,))["test-weight-left-out"].startswith(says)
    assert "test-weight-left-out" not in noticed()


def test_too_few_draws_that_count_are_told():
    least = POPULATION.effective_draws_least
    assert "few-effective-draws" in noticed(effective_draws=least - 1)
    assert "few-effective-draws" not in noticed(effective_draws=least)
