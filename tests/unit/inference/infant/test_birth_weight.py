"""A birth weight that the weights after it contradict is left out, and that is said; a right one never."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, STRUGGLING, THRIVING, weights
from many_infants import gathered
from suffice.inference.growth.blend import with_growth
from suffice.inference.infant.answer import answer, preview
from suffice.inference.infant.birth_weight import UNFIT, is_unfit, log_odds_of_wrong
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import find_best_mode
from suffice.inference.infant.model import LATENTS_COUNT, Birth, Course
from suffice.inference.many.preview import ManyAsked, preview_many
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.store import load

change = msgspec.structs.replace


def born_at(grams, infant=STRUGGLING):
    return change(infant, birth_weight_g=grams)


def codes(estimate):
    return {one.code for one in estimate.cautions}


def odds(evidence):
    likelihood = Likelihood(evidence, POPULATION)
    return log_odds_of_wrong(likelihood, find_best_mode(likelihood, quickly=True)[0])


def is_found(evidence):
    likelihood = Likelihood(evidence, POPULATION)
    return is_unfit(likelihood, find_best_mode(likelihood, quickly=True)[0])


def drawn(count, rng):
    """Infants of the population itself, weighed four times."""
    ages = np.array([1.0, 3.0, 6.0, 10.0])
    course = Course(POPULATION, Birth(3400.0, 0.0, 0.0), ages, (), LATENTS_COUNT)
    paths = course.paths(rng.standard_normal((count, LATENTS_COUNT + course.knots_count)))
    shown = 1000 * paths.birth_kg * paths.total
    shown = shown + POPULATION.noise_physiological_g * rng.standard_normal(shown.shape)
    return [
        change(THRIVING, weights=weights(*zip(ages.tolist(), row, strict=True)))
        for row in shown.tolist()
    ]


@pytest.mark.parametrize("grams", [2400.0, 2900.0, 4300.0])
@pytest.mark.parametrize("ask", [preview, lambda *asked: answer(*asked, 3)])
def test_a_birth_weight_typed_wrong_makes_no_infant_thrive(grams, ask):
    """With 2900 g for 3400 she was told to gain 43 g a day in place of 11."""
    told, right = (ask(born_at(one), POPULATION, QUESTION) for one in (grams, 3400.0))
    assert told.gain.median == pytest.approx(right.gain.median, abs=4)
    assert told.gain_below_limit_probability == pytest.approx(
        right.gain_below_limit_probability, abs=0.1
    )
    assert UNFIT in codes(told)
    assert "birth-weight-unknown" not in codes(told)
    assert not told.suspects


def test_the_answer_is_that_without_a_birth_weight_but_for_what_is_said():
    told = answer(born_at(2900.0), POPULATION, QUESTION, 3)
    without = answer(born_at(None), POPULATION, QUESTION, 3)
    assert change(told, cautions=without.cautions) == without
    assert len(told.cautions) == len(without.cautions)
    said = next(one for one in told.cautions if one.code == UNFIT)
    assert said.params == {"birth_weight_g": 2900.0}


def test_what_a_small_birth_weight_gives_reason_for_is_said_whether_it_fits_or_not():
    small = preview(born_at(2400.0), POPULATION, QUESTION)
    assert {UNFIT, "low-birth-weight"} <= codes(small)
    severe = [one.severity for one in small.cautions]
    assert severe == sorted(severe, key=["refusal", "caution", "note"].index)


def test_no_refusal_is_lifted_because_a_birth_weight_is_doubted():
    tiny = preview(born_at(1400.0), POPULATION, QUESTION)
    assert tiny.is_refused
    assert UNFIT not in codes(tiny)


def test_the_fan_and_the_age_of_regain_rest_on_no_such_birth_weight():
    growth = growth_of(load())
    told, without = (
        with_growth(evidence, answer(evidence, POPULATION, QUESTION, 3), growth)
        for evidence in (born_at(2900.0), born_at(None))
    )
    assert told.forecast == without.forecast
    assert told.regain_age_d == without.regain_age_d


def test_no_right_birth_weight_is_doubted_and_most_that_are_half_a_kilogram_off_are():
    rng = np.random.default_rng(8)
    infants = drawn(60, rng)
    assert max(odds(one) for one in infants) < 0
    wrong = [born_at(one.birth_weight_g + 500 * rng.choice([-1, 1]), one) for one in infants]
    assert sum(is_found(one) for one in wrong) > 0.7 * len(wrong)


def test_where_one_sitting_alone_follows_nobody_knows_which_is_wrong():
    one = change(THRIVING, now_d=3.0, weights=weights((3.0, 3170.0), (3.01, 3180.0)))
    assert not is_found(born_at(2200.0, one))


def test_a_cohort_hears_the_same():
    infants = [
        born_at(grams, change(one, weights=tuple(change(w, scale=None) for w in one.weights), birth_scale=None))
        for one in (STRUGGLING, THRIVING)
        for grams in (3400.0, 2900.0, 4300.0)
    ]  # fmt: skip
    limits = np.full(len(infants), QUESTION.gain_limit_g_per_day)
    many = preview_many(
        gathered(infants),
        POPULATION,
        QUESTION,
        ManyAsked(gain_limit_g_per_day=limits, requirement_gain_g_per_day=limits),
    )
    alone = [preview(one, POPULATION, QUESTION) for one in infants]
    np.testing.assert_allclose(
        many.intake_ml_per_day[:, 0], [one.total_intake.median for one in alone], atol=1e-3
    )
    assert many.intake_short_probability[1] > 10 * many.intake_short_probability[4]
