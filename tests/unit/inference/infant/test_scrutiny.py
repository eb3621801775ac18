from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, STRUGGLING, THRIVING, weights
from spoken import text
from suffice.inference.evidence import Evidence, MilkGiven, WeightReading
from suffice.inference.infant.answer import answer
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import find_best_mode, last_weight_off
from suffice.inference.infant.outlook import look_out
from suffice.inference.infant.posterior import resample, sample
from suffice.inference.infant.scrutiny import _slips, _suspect
from suffice.inference.infant.weighing import next_weighing

change = msgspec.structs.replace


def ask(evidence: Evidence):
    return answer(evidence, POPULATION, QUESTION, 5)


def with_weight(k, **facts):
    readings = list(THRIVING.weights)
    readings[k] = change(readings[k], **facts)
    return change(THRIVING, weights=tuple(readings))


def test_sound_weights_are_not_suspected():
    assert ask(THRIVING).suspects == ()


def test_an_unmentioned_cloth_is_suspected_and_asked_about():
    suspect = ask(with_weight(2, weight_g=3510.0, clothing=None)).suspects[0]
    assert (suspect.reading_id, suspect.reason) == ("w2", "clothed")
    assert suspect.probability > 0.8
    assert "clothed" in text(suspect.ask)
    assert suspect.perhaps_g is None


def test_swapped_digits_are_found():
    suspect = ask(with_weight(2, weight_g=2390.0)).suspects[0]
    assert (suspect.reason, suspect.perhaps_g) == ("slip", 3290.0)
    assert "3290" in text(suspect.ask)


def test_a_zero_too_many_is_found():
    suspect = ask(with_weight(2, weight_g=32900.0)).suspects[0]
    assert (suspect.reason, suspect.perhaps_g) == ("slip", 3290.0)


def test_another_scale_is_asked_about():
    evidence = with_weight(3, weight_g=3340.0, scale="home")
    home = change(evidence, scales=())
    told = ask(home)
    assert all(s.reason in {"other scale", "unexplained"} for s in told.suspects)


def test_a_weight_that_other_scales_may_explain_asks_about_the_scales():
    """Off by more than noise and by less than scales may differ, and no slip of a digit."""
    off_g = 2 * POPULATION.scale_offset_sd_g
    likelihood = Likelihood(with_weight(2, weight_g=3285.0 + off_g, scale="home"), POPULATION)
    found = _suspect(likelihood, 2, 0.9, 3285.0, 20.0)
    assert (found.reason, found.perhaps_g) == ("other scale", None)
    assert found.residual_g == pytest.approx(off_g)
    one_scale = Likelihood(with_weight(2, weight_g=3285.0 + off_g), POPULATION)
    assert _suspect(one_scale, 2, 0.9, 3285.0, 20.0).reason == "unexplained"
    far = Likelihood(with_weight(2, weight_g=3285.0 - 2 * off_g, scale="home"), POPULATION)
    assert _suspect(far, 2, 0.9, 3285.0, 20.0).reason == "unexplained"


@pytest.mark.parametrize(("grams", "warned"), [(0.0, False), (190.0, True), (-190.0, True)])
def test_a_last_weight_far_from_its_forecast_is_warned_of(grams, warned):
    told = ask(with_weight(3, weight_g=THRIVING.weights[3].weight_g + grams))
    assert ("last-weight-suspect" in {c.code for c in told.cautions}) is warned


def test_the_last_weight_is_judged_by_a_forecast_that_has_not_seen_it():
    # The forecast from the earlier weights alone, by draws, says the same as the moved mode.
    without = change(THRIVING, weights=THRIVING.weights[:3])
    ahead = ask(without).present_weight
    sd = np.hypot((ahead.high_80 - ahead.low_80) / 2.563, 35.0)
    for grams in (-300.0, 150.0, 300.0):
        evidence = with_weight(3, weight_g=THRIVING.weights[3].weight_g + grams)
        likelihood = Likelihood(evidence, POPULATION)
        off = last_weight_off(likelihood, find_best_mode(likelihood)[0])
        expected = (evidence.weights[3].weight_g - ahead.median) / sd
        assert off == pytest.approx(expected, abs=0.35 + 0.15 * abs(expected))


def test_a_suspect_weight_is_expected_where_the_others_point():
    suspect = ask(with_weight(2, weight_g=3900.0)).suspects[0]
    assert suspect.expected_g == pytest.approx(3290, abs=60)
    assert suspect.residual_g == pytest.approx(3900 - suspect.expected_g)


def test_a_doubtful_last_weight_brings_a_caution():
    told = ask(with_weight(3, weight_g=3700.0, clothing=None))
    assert "last-weight-suspect" in {c.code for c in told.cautions}


def test_leaving_a_weight_out_agrees_with_asking_without_it():
    told = ask(THRIVING)
    influence = next(i for i in told.influences if i.reading_id == "w1")
    without = change(THRIVING, weights=tuple(r for r in THRIVING.weights if r.id != "w1"))
    again = ask(without)
    shift = told.gain.median - again.gain.median
    spread = (told.gain.high_80 - told.gain.low_80) / 2.56
    assert abs(influence.gain_shift_g_per_day - shift) < 0.35 * spread


def test_every_weight_has_its_influence_and_the_strongest_stands_first():
    influences = ask(STRUGGLING).influences
    assert {i.reading_id for i in influences} == {"w0", "w1", "w2", "w3"}
    assert [i.shift_sd for i in influences] == sorted(
        (i.shift_sd for i in influences), reverse=True
    )


def test_a_settled_question_needs_no_weighing():
    told = ask(THRIVING).next_weighing
    assert told.in_days == 0
    assert text(told.because).startswith("Another weight is not needed to decide")


def test_an_open_question_is_settled_later():
    evidence = change(THRIVING, now_d=6.0, weights=weights((4.0, 3150.0), (6.0, 3185.0)))
    told = ask(evidence)
    assert 0.1 < told.gain_below_limit_probability < 0.9
    weighing = told.next_weighing
    assert weighing.in_days is None or weighing.in_days >= 1
    halves = [half for _, _, half in weighing.candidates]
    assert halves[-1] < halves[0]


def test_nothing_is_settled_while_the_early_loss_lasts():
    told = ask(change(THRIVING, now_d=2.0, weights=weights((2.0, 3200.0)))).next_weighing
    assert told.in_days is None or told.in_days >= 3


@pytest.mark.parametrize(
    "doubt",
    [
        {"weights": ()},
        {"weights": weights((3.0, 3300.0))},
        {"now_d": 30.0},
        {"illness": "jaundice"},
    ],
    ids=["no weight", "one weight", "an old weight", "an illness"],
)
def test_what_the_population_does_settles_nothing_for_one_infant(doubt):
    told = ask(change(THRIVING, **doubt))
    assert told.gain_below_limit_probability < 0.1
    assert told.next_weighing.in_days != 0
    assert "not needed to decide" not in text(told.next_weighing.because)


def milk_from(age_d: float) -> tuple[MilkGiven, ...]:
    return tuple(MilkGiven(id=f"m{k}", age_d=age_d + k / 8, volume_ml=22.0) for k in range(16))


def test_milk_that_no_weight_has_seen_settles_nothing():
    # Two days of 176 mL a day after a slow week: if all of it were gained, a brisk gain would be certain.
    slow = change(
        THRIVING, now_d=14.0, weights=weights((3.0, 3200.0), (7.0, 3250.0), (12.0, 3300.0))
    )
    unseen = ask(change(slow, milk_given=milk_from(12.0)))
    assert 0.05 < unseen.gain_below_limit_probability < ask(slow).gain_below_limit_probability
    assert "unweighed-milk" in {one.code for one in unseen.cautions}
    assert unseen.next_weighing.in_days != 0
    assert "not needed to decide" not in text(unseen.next_weighing.because)
    seen = ask(change(slow, milk_given=milk_from(9.0)))
    assert "unweighed-milk" not in {one.code for one in seen.cautions}
    barely = ask(change(slow, milk_given=milk_from(11.9)))
    assert "unweighed-milk" in {one.code for one in barely.cautions}


def test_a_feed_s_worth_more_or_less_than_the_last_weight_saw_settles_nothing():
    weighed = change(THRIVING, now_d=12.0)
    steady = given_daily(60.0, 60.0)
    assert "unweighed-milk" not in codes_of(change(weighed, milk_given=steady))
    for before_ml, after_ml, says in (
        (60.0, 150.0, "begun or clearly raised"),
        (150.0, 60.0, "clearly lowered"),
    ):
        told = ask(change(weighed, milk_given=given_daily(before_ml, after_ml)))
        (unseen,) = (one for one in told.cautions if one.code == "unweighed-milk")
        assert says in text(unseen.sentence)
        assert "not needed to decide" not in text(told.next_weighing.because)


def given_daily(before_ml, after_ml):
    """Five feeds a day from day 5, of which another volume is given from the last weight, day 10, on."""
    ages = np.arange(5.1, 12.0, 0.2)
    return tuple(
        MilkGiven(
            id=f"d{n}", age_d=float(age), volume_ml=(before_ml if age < 10.0 else after_ml) / 5
        )
        for n, age in enumerate(ages)
    )


def codes_of(evidence):
    return {one.code for one in ask(evidence).cautions}


def milk_until(end_d, volume_ml):
    ages = np.arange(end_d - 2.0 + 0.125, end_d + 0.01, 0.125)
    return tuple(
        MilkGiven(id=f"u{k}", age_d=float(age_d), volume_ml=volume_ml)
        for k, age_d in enumerate(ages)
    )


def test_a_log_that_stops_does_not_make_an_infant_look_fed_at_the_breast_alone():
    weighed = change(THRIVING, weights=THRIVING.weights[:3])  # the last on day 6
    for now_d in (8.0, 9.0, 12.0):
        mostly = ask(change(weighed, now_d=now_d, milk_given=milk_until(8.0, 50.0)))
        assert mostly.is_refused, now_d
    for now_d, warned in ((8.0, False), (9.5, True), (12.0, True)):
        some = ask(change(weighed, now_d=now_d, milk_given=milk_until(8.0, 15.0)))
        assert not some.is_refused
        assert ("milk-not-written" in {one.code for one in some.cautions}) is warned, now_d
        if warned:
            assert "not needed to decide" not in text(some.next_weighing.because)


def test_milk_given_is_told_to_lower_what_the_breast_is_credited_with():
    milk = tuple(MilkGiven(id=f"m{k}", age_d=4.0 + k / 4, volume_ml=40.0) for k in range(24))
    told = ask(change(THRIVING, milk_given=milk))
    moved = next(i for i in told.influences if i.kind == "milk given")
    # 160 mL a day for six days: by weight alone the breast would be credited with most of it.
    assert -190 < moved.intake_shift_ml_per_day < -80
    assert list(told.influences) == sorted(told.influences, key=lambda i: -i.shift_sd)
    assert all(i.kind != "milk given" for i in ask(THRIVING).influences)


def test_two_weights_must_differ_by_more_than_their_noise():
    least = ask(THRIVING).next_weighing.least_difference_g
    # 1.96 * sqrt(2) * 35 g = 97 g; the family's own noise moves it a little.
    assert 70 < least < 125


def test_the_half_width_to_come_agrees_with_drawing_readings():
    evidence = change(THRIVING, now_d=6.0, weights=weights((4.0, 3150.0), (6.0, 3185.0)))
    likelihood = Likelihood(evidence, POPULATION)
    rng = np.random.default_rng(4)
    draws = sample(likelihood, rng, effective_least=400.0)
    outlook = look_out(likelihood, draws.z[resample(draws, 4096, rng)], QUESTION, rng)
    noise = likelihood.noise_g
    told = next_weighing(outlook, QUESTION, noise, POPULATION.gain_asked_from_d)
    day, _, half = told.candidates[4]
    gain, weight = outlook.later_gain_g_d[:, day - 1], outlook.later_weight_g[:, day - 1]
    spreads = []
    for truth in weight[:200]:
        shown = truth + noise * rng.standard_normal()
        share = np.exp(-0.5 * ((shown - weight) / noise) ** 2)
        share /= share.sum()
        spreads.append(np.sqrt(share @ (gain - share @ gain) ** 2))
    assert half == pytest.approx(1.645 * np.mean(spreads), rel=0.12)


def test_one_reading_alone_is_no_suspect():
    alone = WeightReading(id="a", age_d=4.0, weight_g=3200.0, clothing="naked", scale="clinic")
    assert ask(change(THRIVING, now_d=4.0, weights=(alone,))).suspects == ()


def test_slips_are_two_figures_swapped_one_zero_too_many_or_too_few():
    def slips(grams):
        return set(_slips(WeightReading(id="a", age_d=4.0, weight_g=grams)))

    assert slips(3320.0) == {3230, 3302, 33200, 332}
    assert slips(7.0) == {70}
