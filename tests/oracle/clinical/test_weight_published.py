"""Loss, regain, gain and their errors against published figures and second routes.

Sources:
- Flaherman et al, Pediatrics 2015;135:e16: median loss 4.2, 7.1, 6.4 % at 24, 48, 72 h (vaginal birth)
  and 4.9, 8.0, 8.6, 5.8 % at 24 to 96 h (caesarean), read in a summary of the paper.
- Paul et al, Pediatrics 2016;138:e20162625: median day back at birth weight 9 (vaginal).
- Noel-Weiss et al, Int Breastfeed J 2011;6:9: mean loss 6.57 % = 237 g.
- Alsop-Shields et al, MJA 1994: SD 50 g of the difference of two weights.
- 'common practice, no source': two thirds to one ounce a day; feeds every 2 to 3 h.
"""

from __future__ import annotations

import math

import msgspec
import pytest

from suffice.clinical.weight.change import (
    WeightChangeParameters,
    change_percent,
    nadir,
    regain,
)
from suffice.clinical.weight.gain import GainParameters, gain
from suffice.clinical.weight.weighing import Weighing, WeightNoise, single_weight_se_g
from suffice.knowledge.store import load


@pytest.fixture(scope="module")
def content():
    return load()


def group(content, kind):
    return kind.from_content(content.flat, content.series, content.wordings)


def median_course(birth_g, losses):
    later = (
        Weighing(age_h=age, weight_g=birth_g * (1 - loss / 100)) for age, loss in losses.items()
    )
    return [Weighing(age_h=0, weight_g=birth_g, is_birth=True), *later]


@pytest.mark.parametrize(
    ("mode", "losses", "lowest_h"),
    [
        ("vaginal", {24: 4.2, 48: 7.1, 72: 6.4}, 48),
        ("caesarean", {24: 4.9, 48: 8.0, 72: 8.6, 96: 5.8}, 72),
    ],
)
def test_an_infant_on_the_published_medians(content, mode, losses, lowest_h):
    course = median_course(3400, losses)
    birth, *later = course
    for weighing in later:
        lost = -change_percent(weighing, birth).value
        assert lost == pytest.approx(losses[weighing.age_h], abs=1e-9)
        assert lost == pytest.approx(losses[weighing.age_h], abs=1e-9)
    assert nadir(course, group(content, WeightChangeParameters)).value == lowest_h


def test_an_infant_that_is_back_on_the_published_median_day(content):
    course = median_course(3400, {48: 7.1, 8 * 24: 0.9, 10 * 24: -0.9})
    found = regain(course, group(content, WeightChangeParameters))
    assert found.interpolated_h.value / 24 == pytest.approx(9)


def test_the_published_mean_loss_in_grams_is_that_in_percent():
    # 237 g is 6.57 % of 3607 g, the mean birth weight that the two imply.
    birth = Weighing(age_h=0, weight_g=3607, is_birth=True)
    lost = change_percent(Weighing(age_h=60, weight_g=3607 - 237), birth)
    assert lost.value == pytest.approx(-6.57, abs=0.005)


def test_the_noise_of_one_weight_gives_the_published_sd_of_a_difference(content):
    noise = group(content, WeightNoise)
    one = single_weight_se_g(noise, resolution_g=0.0).value
    assert math.sqrt(2) * one == pytest.approx(50, abs=0.6)


@pytest.mark.parametrize(
    ("sd_g", "days"), [(20, 4.7), (30, 7.0), (40, 9.3), (60, 14.0), (80, 18.6)]
)
def test_days_until_a_gain_is_known_to_10_g_a_day(content, sd_g, days):
    # Worked by hand: 1.645 x 1.414 x s / 10, rounded to a tenth of a day.
    plain = group(content, WeightNoise)
    parameters = group(content, GainParameters)
    noise = WeightNoise(
        within_infant_sd_g=_valued(plain.within_infant_sd_g, sd_g),
        uncontrolled_sd_g=_valued(plain.uncontrolled_sd_g, sd_g),
        scale_resolution_g=_valued(plain.scale_resolution_g, 0.0),
    )
    found = gain(
        Weighing(age_h=100, weight_g=3400),
        Weighing(age_h=100 + 24 * days, weight_g=3600),
        noise,
        parameters,
    )
    assert parameters.confidence_fraction.value == 0.9
    half = found.g_per_day.high - found.g_per_day.value
    assert half == pytest.approx(10, abs=10 * 0.05 / days + 0.01)


def _valued(constant, value):
    return msgspec.structs.replace(constant, value=value)


def test_the_trades_ounces_a_day_are_common_practice_without_source(content):
    low, high = (content.constant(f"gain.common_{end}_g_per_day") for end in ("low", "high"))
    assert low.value == pytest.approx(2 / 3 * 28.349523125, abs=0.05)
    assert high.value == pytest.approx(28.349523125, abs=0.05)
    for end in ("low", "high"):
        said = content.constant(f"gain.common_{end}_oz_per_day")
        assert said.basis == "common practice"
        assert said.source == "common practice, no source"
