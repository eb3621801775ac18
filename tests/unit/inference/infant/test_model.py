"""The course of weight and intake: its grid, its parts, and what must hold at birth and with milk."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, THRIVING
from suffice.inference.evidence import Evidence, MilkGiven
from suffice.inference.infant.model import (
    BIRTH,
    DENSITY,
    LATENTS_COUNT,
    NEED,
    ONSET,
    SUPPLY,
    Birth,
    Course,
    between,
    clocks,
    drift_matrix,
    knots_count,
    milk_given_rate,
    time_grid,
    times_count,
)

P = POPULATION
AGES = np.array([0.0, 0.5, 3.0, 7.3, 21.0, 60.0])
GIRL = Birth(weight_g=3400.0, boy_fraction=0.0, caesarean_fraction=0.0)


def course(birth=GIRL, at=AGES, milk=(), **more):
    return Course(P, birth, at, milk, LATENTS_COUNT, **more)


def middling(made, count=1):
    """The latents of the middle infant: all zero."""
    return np.zeros((count, LATENTS_COUNT + made.knots_count))


def moved(made, latent, by):
    z = middling(made)
    z[0, latent] = by
    return made.paths(z)


@pytest.mark.parametrize(("end_d", "count"), [(0.0, 2), (0.2, 2), (0.25, 2), (0.26, 3), (1.0, 5)])
def test_the_grid_reaches_just_beyond_the_last_age_and_has_two_ages_at_least(end_d, count):
    grid = time_grid(end_d)
    assert len(grid) == times_count(end_d) == count
    assert grid[0] == 0
    assert grid[-1] >= end_d


def test_the_grid_is_fine_in_the_first_days_and_coarse_later():
    steps = np.diff(time_grid(60.0))
    assert (steps > 0).all()
    assert (steps[0], steps[-1]) == (0.25, 2.0)
    assert (np.diff(steps) >= 0).all()


def test_past_its_end_the_grid_does_not_grow():
    assert times_count(1e6) == times_count(400.0) == len(time_grid(1e6))


def test_between_two_ages_of_the_grid_a_value_is_interpolated():
    grid = time_grid(12.0)
    weights = between(grid, np.array([0.0, 0.1, 5.0, 9.5, grid[-1]]))
    assert weights.sum(axis=0) == pytest.approx(np.ones(5))
    assert grid @ weights == pytest.approx([0.0, 0.1, 5.0, 9.5, grid[-1]])
    assert (weights >= 0).all()


@pytest.mark.parametrize(
    ("end_d", "count"), [(0.0, 2), (1.0, 2), (P.drift_knot_d, 2), (P.drift_knot_d + 0.1, 3)]
)
def test_the_drift_has_a_knot_at_birth_and_one_beyond_the_last_age(end_d, count):
    assert knots_count(end_d, P) == count


def test_the_drift_keeps_its_spread_once_feeding_is_established():
    grid = time_grid(200.0)
    knots = between(np.asarray(grid), np.arange(0.0, 196.0, P.drift_knot_d))
    sd = np.sqrt((drift_matrix(grid, P) ** 2).sum(axis=0))
    at_knots = sd @ knots
    assert at_knots[0] == pytest.approx(math.hypot(P.drift_sd, P.drift_start_sd))
    assert at_knots[-1] == pytest.approx(P.drift_sd, rel=1e-3)


def test_the_drift_forgets_over_its_time_constant():
    grid = time_grid(8 * P.drift_knot_d)
    loading = drift_matrix(grid, P)[0]  # what was news at birth
    place = int(np.flatnonzero(grid == P.drift_knot_d)[0])
    assert loading[place] / loading[0] == pytest.approx(math.exp(-P.drift_knot_d / P.drift_d))


def given(age_d, volume_ml, **more):
    return MilkGiven(id="m", age_d=age_d, volume_ml=volume_ml, **more)


def integral(grid, rate):
    return float(np.sum((rate[1:] + rate[:-1]) / 2 * np.diff(grid)))


@pytest.mark.parametrize("age_d", [0.1, 0.5, 3.0, 6.2, 10.0])
def test_milk_given_is_all_there_and_spread_over_the_day_around_it(age_d):
    grid = time_grid(14.0)
    volume, energy = milk_given_rate((given(age_d, 60.0),), grid, P)
    assert integral(grid, volume) == pytest.approx(60.0, rel=1e-9)
    assert energy == pytest.approx(volume * P.given_milk_density)
    step = float(np.diff(grid).max())
    assert not volume[np.abs(grid - age_d) > 0.5 + step].any()


def test_the_energy_of_milk_is_its_own_where_it_is_known():
    grid = time_grid(8.0)
    volume, energy = milk_given_rate((given(3.0, 60.0, kcal_per_ml=0.8),), grid, P)
    assert energy == pytest.approx(0.8 * volume)
    both = milk_given_rate((given(3.0, 60.0, kcal_per_ml=0.8), given(5.0, 30.0)), grid, P)
    single = milk_given_rate((given(5.0, 30.0),), grid, P)
    assert both == pytest.approx(np.array([volume, energy]) + single)


def test_without_milk_there_is_no_rate():
    assert not milk_given_rate((), time_grid(8.0), P).any()


def told(**more):
    return Birth.from_evidence(Evidence(now_d=3.0, **more), P)


@pytest.mark.parametrize(("sex", "fraction"), [("male", 1.0), ("female", 0.0), (None, 0.5)])
def test_a_sex_that_is_not_known_counts_half(sex, fraction):
    assert told(sex=sex).boy_fraction == fraction


@pytest.mark.parametrize(
    ("mode", "fraction"),
    [
        ("vaginal", 0.0),
        ("assisted vaginal", 0.0),
        ("caesarean", 1.0),
        (None, P.caesarean_fraction),
    ],
)
def test_a_mode_that_is_not_known_counts_by_its_share(mode, fraction):
    assert told(mode=mode).caesarean_fraction == fraction


@pytest.mark.parametrize(
    ("fluids_ml", "mode", "log"),
    [
        (None, "vaginal", 0.0),
        (0.0, "vaginal", P.excess_few_fluids_log),
        (P.fluids_much_ml, "vaginal", P.excess_few_fluids_log),
        (P.fluids_much_ml + 1, "vaginal", P.excess_much_fluids_log),
        (P.fluids_much_ml + 1, "caesarean", 0.0),
        (P.fluids_much_ml + 1, None, (1 - P.caesarean_fraction) * P.excess_much_fluids_log),
    ],
)
def test_fluids_in_labour_tell_of_the_excess_of_a_vaginal_birth_alone(fluids_ml, mode, log):
    assert told(mode=mode, intrapartum_fluids_ml=fluids_ml).excess_log == pytest.approx(log)


def test_expenditure_and_milk_energy_run_from_birth_to_later():
    expenditure, share = clocks(np.array([0.0, 1e4]), P)
    assert expenditure == pytest.approx([P.expenditure_birth, P.expenditure_later])
    assert share == pytest.approx([P.density_birth / P.density_later, 1.0])
    slow, fast = clocks(np.array([P.expenditure_d, P.density_d]), P)
    missing = math.exp(-1) * (P.expenditure_later - P.expenditure_birth)
    assert slow[0] == pytest.approx(P.expenditure_later - missing)
    missing = math.exp(-1) * (P.density_later - P.density_birth)
    assert fast[1] == pytest.approx((P.density_later - missing) / P.density_later)


@pytest.mark.parametrize("birth", [GIRL, Birth(3400.0, 1.0, 1.0), Birth(None, 0.5, 0.3)])
def test_at_birth_an_infant_weighs_its_birth_weight_whatever_the_draw(birth):
    made = course(birth, milk=(given(0.2, 20.0),))
    z = np.random.default_rng(1).standard_normal((50, LATENTS_COUNT + made.knots_count))
    assert made.paths(z).total[:, 0] == pytest.approx(np.ones(50))


def test_a_middle_girl_loses_and_regains_as_newborns_do():
    at = np.arange(0.0, 28.5, 0.5)
    made = course(at=at)
    total = made.paths(middling(made)).total[0]
    lowest = int(total.argmin())
    # Vaginal births: median loss about 6 to 7 % near day 2 to 3 (Flaherman 2015), back by day 7 to 10.
    assert 0.92 < total[lowest] < 0.96
    assert 1.5 <= at[lowest] <= 4.0
    assert 5.0 < at[np.flatnonzero((total >= 1.0) & (at > 1))[0]] < 12.0


def test_a_birth_weight_is_measured_with_noise_and_drawn_where_it_is_not_known():
    z = np.zeros((3, LATENTS_COUNT))
    z[:, BIRTH] = [-1.0, 0.0, 2.0]
    noise = P.noise_birth_weight_g
    assert course().birth_kg(z) == pytest.approx([3.4 - noise / 1000, 3.4, 3.4 + 2 * noise / 1000])
    unknown = course(Birth(None, 0.5, 0.3)).birth_kg(z)
    assert unknown == pytest.approx(
        P.birth_weight_mean_kg * np.exp(P.birth_weight_log_sd * z[:, BIRTH])
    )


def test_no_draw_makes_a_birth_weight_of_nothing():
    z = np.zeros((1, LATENTS_COUNT))
    z[0, BIRTH] = -1e6
    assert course().birth_kg(z) == pytest.approx([0.34])


def test_the_latents_move_what_they_are_called_after():
    made = course()
    usual = made.paths(middling(made))
    more = moved(made, SUPPLY, 1.0)
    assert (more.breast_ml_kg_d > usual.breast_ml_kg_d).all()
    late = moved(made, ONSET, 2.0)
    assert late.breast_ml_kg_d[0, 2] < usual.breast_ml_kg_d[0, 2]
    assert late.breast_ml_kg_d[0, -1] == pytest.approx(usual.breast_ml_kg_d[0, -1], rel=1e-6)
    rich = moved(made, DENSITY, 1.0)
    assert rich.density[0, 0] == pytest.approx(math.exp(P.density_log_sd))
    assert (rich.breast_ml_kg_d < usual.breast_ml_kg_d).all()  # as much energy in less milk
    needy = moved(made, NEED, 1.0)
    assert needy.need[0, 0] == pytest.approx(math.exp(P.expenditure_log_sd))
    assert (usual.need[0, 0], usual.density[0, 0], usual.cost_kcal_g[0, 0]) == pytest.approx(
        (1.0, 1.0, P.tissue_cost)
    )


def test_low_supply_has_the_longer_tail():
    made = course()
    usual, low, high = (moved(made, SUPPLY, by).breast_ml_kg_d[0, 3] for by in (0.0, -3.0, 3.0))
    assert math.log(usual / low) > 2 * math.log(high / usual) > 0


def test_milk_given_adds_tissue_and_leaves_the_breast_as_it_is():
    plain, fed = course(), course(milk=(given(4.0, 300.0),))
    without, with_milk = (made.paths(middling(made)) for made in (plain, fed))
    np.testing.assert_allclose(with_milk.breast_ml_kg_d, without.breast_ml_kg_d)
    gained_g = 3400.0 * (with_milk.tissue - without.tissue)[0]
    assert gained_g[:3] == pytest.approx(np.zeros(3), abs=1e-9)  # nothing before it was given
    # Its energy over the cost of tissue, less what the heavier infant has spent since.
    whole = 300.0 * P.given_milk_density / P.tissue_cost
    assert 0.85 * whole < gained_g[3] < whole
    assert (fed.given[0] >= 0).all()
    assert not plain.given.any()


def test_milk_supposed_from_an_age_on_takes_the_place_of_what_was_given():
    at = np.array([2.0, 4.0, 9.0, 12.0])
    made = course(at=at, milk=(given(9.0, 100.0),), given_after=(5.0, 80.0, 60.0))
    assert made.given[:, 0] == pytest.approx([0.0, 0.0])
    assert made.given[:, 2:] == pytest.approx(np.array([[80.0, 80.0], [60.0, 60.0]]))
    only = course(at=at, given_after=(5.0, 80.0, 60.0))
    assert only.given == pytest.approx(made.given)


@pytest.mark.parametrize("milk", [(), (given(3.0, 90.0), given(4.0, 40.0))])
def test_draws_fed_otherwise_take_the_course_of_that_milk_to_the_bit(milk):
    after = (5.0, 80.0, 60.0)
    made, other = course(milk=(given(4.0, 300.0),)), course(milk=milk, given_after=after)
    z = np.random.default_rng(3).standard_normal((7, LATENTS_COUNT + made.knots_count))
    unfed = made.unfed(z)
    fed, otherwise = made.fed(unfed), made.fed(unfed, (milk, after))
    for found, asked in ((otherwise, other.paths(z)), (fed, made.paths(z))):
        for name in ("total", "tissue", "breast_ml_kg_d", "birth_kg", "density"):
            np.testing.assert_array_equal(getattr(found, name), getattr(asked, name))
    assert (fed.total != otherwise.total).any()


def test_none_supposed_is_as_if_nothing_were_supposed():
    plain, none = course(), course(given_after=(5.0, 0.0, 0.0))
    z = middling(plain)
    np.testing.assert_array_equal(none.paths(z).total, plain.paths(z).total)


def test_a_course_may_be_asked_about_no_age_at_all():
    made = course(at=np.zeros(0))
    assert made.paths(middling(made, 3)).total.shape == (3, 0)


def test_the_evidence_of_a_girl_gives_the_birth_of_a_girl():
    assert Birth.from_evidence(THRIVING, P) == GIRL
    boy = msgspec.structs.replace(THRIVING, sex="male")
    assert Birth.from_evidence(boy, P).boy_fraction == 1.0
