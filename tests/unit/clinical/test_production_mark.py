"""The marks of day 7 and 14: what is said, when nothing is, and how often it is right on simulated parents."""

from __future__ import annotations

import math
from datetime import timedelta

import numpy as np
import pytest
from scipy.stats import norm

from people import BORN_AT, an_entry
from suffice.clinical.entry import Entry, Expression
from suffice.clinical.production_mark import (
    DayTotal,
    MarkParameters,
    _curve,
    _draws,
    _quantile,
    day_totals,
    marks,
)
from suffice.knowledge.store import load

PARAMETERS = MarkParameters.from_content(load().flat, load().series)
GOOD = [DayTotal(1, 10), DayTotal(2, 50), DayTotal(3, 180), DayTotal(4, 380), DayTotal(5, 520)]
SLOW = [DayTotal(1, 5), DayTotal(2, 10), DayTotal(3, 20), DayTotal(4, 35), DayTotal(5, 45)]


def test_before_the_fourth_day_nothing_is_said() -> None:
    assert marks(GOOD[:3], PARAMETERS) == ()
    assert marks([], PARAMETERS) == ()
    assert [one.day for one in marks(GOOD[:4], PARAMETERS)] == [7, 14]


def test_a_mark_that_is_over_is_not_forecast() -> None:
    assert [one.day for one in marks([*GOOD, DayTotal(8, 600)], PARAMETERS)] == [14]
    assert marks([*GOOD, DayTotal(14, 700)], PARAMETERS) == ()


def test_much_is_likely_to_reach_it_little_is_not_and_nothing_is_sure() -> None:
    good, slow = marks(GOOD, PARAMETERS)[1], marks(SLOW, PARAMETERS)[1]
    assert good.chance_fraction > 0.8 > 0.2 > slow.chance_fraction
    assert good.low_ml < good.median_ml < good.high_ml
    sure = marks([*GOOD, DayTotal(6, 900), DayTotal(7, 1000), DayTotal(8, 1100)], PARAMETERS)[0]
    none = marks([*SLOW, *(DayTotal(day, 10) for day in range(6, 12))], PARAMETERS)[0]
    assert (sure.chance_fraction, none.chance_fraction) == (0.95, 0.05)


def test_the_order_of_days_and_days_that_are_missing_change_nothing_else() -> None:
    assert marks(GOOD[::-1], PARAMETERS) == marks(GOOD, PARAMETERS)
    assert marks([GOOD[3]], PARAMETERS)[1].high_ml > marks(GOOD[:4], PARAMETERS)[1].low_ml


def test_a_day_without_milk_is_a_number_like_any_other() -> None:
    found = marks([DayTotal(4, 0), DayTotal(5, 0)], PARAMETERS)
    assert all(math.isfinite(one.median_ml) and one.low_ml >= 0 for one in found)


def test_more_on_every_day_never_makes_the_mark_less_likely() -> None:
    # Of one day alone it does not hold: a day that is far off its neighbours counts less.
    chances = [
        marks([DayTotal(one.day, share * one.ml) for one in GOOD], PARAMETERS)[1].chance_fraction
        for share in (0.2, 0.5, 0.8, 1.0, 1.5)
    ]
    assert chances == sorted(chances)


def a_session(name: str, hours: float, left: float | None, right: float | None) -> Entry:
    return an_entry(name, Expression(left_ml=left, right_ml=right), infant=None, at_h=hours)


def test_only_whole_days_with_sessions_enough_are_totals() -> None:
    entries = [a_session(f"one {n}", 3 * n, 5, 5) for n in range(8)]
    entries += [a_session(f"two {n}", 26 + n, 10, None) for n in range(3)]
    entries += [a_session(f"three {n}", 49 + 3 * n, 10, 10) for n in range(6)]
    entries += [an_entry("early", Expression(left_ml=50), infant=None, at_h=-2)]
    as_of = BORN_AT + timedelta(hours=70)
    found = day_totals(entries, born_at=BORN_AT, as_of=as_of, parameters=PARAMETERS)
    # Day 2 has three sessions, day 3 is not over.
    assert found == (DayTotal(1, 80),)


def parent(draw: np.random.Generator) -> dict[int, float]:
    """Daily totals by another curve than the one that is fitted: written here, not taken from there."""
    plateau = math.exp(math.log(520) + 0.6 * draw.normal())
    begins, speed = 3.4 + 0.8 * draw.normal(), 0.42 * math.exp(0.25 * draw.normal())
    off, days = 0.15 * draw.normal(), {}
    for day in range(1, 15):
        off = 0.5 * off + math.sqrt(0.75) * 0.15 * draw.normal()
        curve = plateau * math.exp(-math.exp(-1.2 * speed * (day - begins)))
        days[day] = curve * math.exp(off)
    return days


@pytest.mark.parametrize(("known", "most_brier"), [(5, 0.14), (7, 0.11)])
def test_on_parents_of_another_curve_it_covers_most_and_scores_better_than_a_coin(
    known: int, most_brier: float
) -> None:
    draw = np.random.default_rng(20)
    covers, scores = [], []
    for _parent in range(80):
        days = parent(draw)
        found = marks([DayTotal(day, days[day]) for day in range(1, known + 1)], PARAMETERS)[-1]
        covers.append(found.low_ml <= days[14] <= found.high_ml)
        scores.append((found.chance_fraction - (days[14] >= 500)) ** 2)
    assert np.mean(covers) >= 0.62
    assert np.mean(scores) <= most_brier


def test_the_nearer_the_mark_the_less_the_days_in_between_may_drift() -> None:
    def width(last: int) -> float:
        """Width of the fan at day 14, as a ratio's logarithm, where days up to one are known."""
        known = [*GOOD, *(DayTotal(day, 520 + 20 * (day - 5)) for day in range(6, last + 1))]
        mark = marks(known, PARAMETERS)[-1]
        return math.log(mark.high_ml / mark.low_ml)

    widths = [width(last) for last in (5, 8, 11, 13)]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.6 * widths[0]


def test_a_quantile_of_one_normal_and_of_two_that_lie_apart() -> None:
    alone = np.array([2.0]), 0.5, np.array([1.0])
    for share in (0.001, 0.1, 0.5, 0.9, 0.999):
        assert _quantile(share, *alone) == pytest.approx(norm.ppf(share, 2.0, 0.5), abs=1e-6)
    # Half of it lies about 0, half about 100: three quarters are below the middle of the second.
    apart = np.array([0.0, 100.0]), 1.0, np.array([0.5, 0.5])
    assert _quantile(0.75, *apart) == pytest.approx(100.0, abs=1e-6)
    assert _quantile(0.25, *apart) == pytest.approx(0.0, abs=1e-6)


def test_the_curve_is_half_its_plateau_when_it_rises_and_nears_it_from_below() -> None:
    plateau, rise, width = 800.0, 3.0, 1.0
    draws = np.array([[plateau, rise, width, 0.0, 5.0]])

    def at(day: float) -> float:
        return float(_curve(np.float64(day), draws, PARAMETERS)[0])

    assert at(rise) == pytest.approx(plateau / 2)
    assert at(rise + 1) == pytest.approx(plateau / (1 + math.exp(-1)))
    assert at(30) == pytest.approx(plateau)
    rests = np.array([[plateau, rise, width, 0.5, 5.0]])
    later = PARAMETERS.rest_from_d.value + 100
    assert float(_curve(np.float64(later), rests, PARAMETERS)[0]) == pytest.approx(plateau)


def test_no_parameter_of_the_curve_goes_with_another() -> None:
    apart = np.corrcoef(np.argsort(np.argsort(_draws(PARAMETERS), axis=0), axis=0).T)
    assert np.abs(apart - np.eye(len(apart))).max() < 0.05
