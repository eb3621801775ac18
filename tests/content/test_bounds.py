"""What is refused or asked about lies outside what healthy infants weigh and measure.

From outside: the WHO child growth standards (2006), daily tables, in ``content/tables``; and the
published medians of newborn weight loss (Flaherman et al, Pediatrics 2015;135:e16).
"""

from __future__ import annotations

import numpy as np
import pytest

from suffice.assess.parameters import parameters_of
from suffice.clinical.growth.gain_line import Stretch
from suffice.clinical.growth.who import for_age_value_at_z
from suffice.knowledge.store import load
from suffice.knowledge.tables import growth_standards

CONTENT = load()
WHO = growth_standards().who
DAYS = np.arange(0, 731)


def line(measure: str, *, is_male: bool, z: float) -> np.ndarray:
    return for_age_value_at_z(WHO, measure, np.full(DAYS.shape, is_male), DAYS, z)  # type: ignore[arg-type]


def bound(name: str) -> np.ndarray:
    series = CONTENT.table(f"plausibility.{name}")
    return np.array([series.at(day).value for day in DAYS])


def value(key: str) -> float:
    return CONTENT.constant(key).value


def test_weights_of_healthy_infants_are_never_asked_about() -> None:
    """All weights from -3 to +3 SD of the WHO standard, on every day to two years."""
    for is_male in (True, False):
        assert (bound("weight_doubtful_low_g") < line("weight", is_male=is_male, z=-3)).all()
        assert (bound("weight_doubtful_high_g") > line("weight", is_male=is_male, z=3)).all()


def test_refusal_lies_beyond_doubt() -> None:
    assert (bound("weight_refused_low_g") < bound("weight_doubtful_low_g")).all()
    assert (bound("weight_refused_high_g") > bound("weight_doubtful_high_g")).all()
    assert value("reading.weight_low_g") <= bound("weight_refused_low_g").min()
    assert value("reading.weight_high_g") >= bound("weight_refused_high_g").max()


def test_a_slip_of_one_zero_is_always_seen() -> None:
    """Ten times, or a tenth of, any weight from -3 to +3 SD is refused or asked about."""
    for is_male in (True, False):
        for z in (-3, 0, 3):
            weights = line("weight", is_male=is_male, z=z)
            assert (weights * 10 > bound("weight_doubtful_high_g")).all()
            assert (weights / 10 < bound("weight_doubtful_low_g")).all()


@pytest.mark.parametrize("measure", ["length", "head"])
def test_sizes_of_healthy_infants_are_never_asked_about(measure: str) -> None:
    for is_male in (True, False):
        assert line(measure, is_male=is_male, z=-3).min() > value(
            f"plausibility.{measure}_doubtful_low_cm"
        )
        assert line(measure, is_male=is_male, z=3).max() < value(
            f"plausibility.{measure}_doubtful_high_cm"
        )


def test_each_pair_of_bounds_is_in_order() -> None:
    stems = {
        key.rpartition("_refused_low_")[0] + "|" + key.rpartition("_refused_low_")[2]
        for key in CONTENT.flat
        if "_refused_low_" in key and "weight_refused" not in key
    }
    assert len(stems) >= 5
    for stem in stems:
        name, _, unit = stem.partition("|")
        low, doubt_low = value(f"{name}_refused_low_{unit}"), value(f"{name}_doubtful_low_{unit}")
        high = value(f"{name}_refused_high_{unit}")
        assert low <= doubt_low < value(f"{name}_doubtful_high_{unit}") <= high, stem


def test_the_limit_of_loss_lies_above_every_published_median() -> None:
    limit = CONTENT.table(CONTENT.chosen("weight_loss_limit"))
    vaginal, caesarean = (
        ((24, 4.2), (48, 7.1), (72, 6.4)),
        ((24, 4.9), (48, 8.0), (72, 8.6), (96, 5.8)),
    )
    for hour, median in (*vaginal, *caesarean):  # Flaherman et al, see above
        assert limit.at(hour).value > median
    assert value("weight_loss.severe_percent") > limit.at(72).value
    assert value("plausibility.loss_doubtful_percent") > value("weight_loss.severe_percent")


def test_the_line_of_a_look_lies_below_the_usual_gain_at_every_age() -> None:
    """Usual gain from the AAP's rule of thumb (Pediatr Rev 5:133): 2, 1 and half a lb a month."""
    parameters = parameters_of(CONTENT)
    share = parameters.gain_line.look_fraction.value
    for age_d, pounds_a_month in ((45, 2.0), (120, 1.0), (270, 0.5)):
        line = parameters.gain_lines.line(share, Stretch(age_d, age_d, None))
        assert line < pounds_a_month * 453.59237 / 30.4375


def test_the_chosen_norm_of_diapers_asks_no_more_than_the_observed_medians() -> None:
    """Nommsen-Rivers et al, J Hum Lact 2008;24:27: half of healthy infants have fewer."""
    for kind in ("wets", "stools"):
        chosen = CONTENT.table(CONTENT.chosen(f"{kind}_norm"))
        median = CONTENT.table(f"output_observed.{kind}_count_per_day")
        for day in range(1, 8):
            assert chosen.at(day).value <= median.at(day).value


def test_feed_sizes_of_a_day_stay_near_the_observed_intakes() -> None:
    """Eight to twelve feeds of the published sizes bracket what was weighed (Saint et al 1984)."""
    sizes_low, sizes_high = (CONTENT.table(f"feed_size.{end}_ml") for end in ("low", "high"))
    day_1 = CONTENT.table("intake.early_g_per_day").at(1).value
    assert sizes_low.at(0).value * 8 < day_1 < sizes_high.at(0).value * 12
    day_3 = CONTENT.table("intake.early_g_per_day").at(3).value
    assert sizes_low.at(48).value * 8 < day_3
    assert CONTENT.table("intake.early_g_per_day").at(3).high > sizes_high.at(48).value * 12
