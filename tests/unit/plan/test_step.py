"""The step-down: decided by all weights, never without one, and held to the gain of the age."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suffice.knowledge.store import load
from suffice.plan.parameters import plan_parameters
from suffice.plan.step import Changed, Course, Weighed, filtered, next_step

PARAMETERS = plan_parameters(load())
FLOOR = 20.0


def course(gain: float, *, days: float = 15, every: float = 3, **fields: object) -> Course:
    count = round(days / every) + 1
    weights = tuple(Weighed(every * n, 3000 + gain * every * n) for n in range(count))
    usual = Course(
        weights=weights,
        changes=(),
        given_ml_per_day=240.0,
        floor_g_per_day=FLOOR,
        since_d=3.0,
        is_weighed_since=True,
        few_diapers=False,
    )
    return msgspec.structs.replace(usual, **fields)


def test_a_brisk_gain_takes_the_largest_step() -> None:
    step = next_step(course(45), PARAMETERS)
    assert (step.move, step.to_ml_per_day) == ("down", 165.0)
    assert "after a step of 75 mL it is at least 20 g/day" in str(step.why)
    assert step.working is not None


@pytest.mark.parametrize(("gain", "to"), [(45, 165), (29, 190), (27, 210), (21, 240), (5, 270)])
def test_the_less_it_gains_the_smaller_the_step(gain: float, to: float) -> None:
    assert next_step(course(gain), PARAMETERS).to_ml_per_day == to


def test_a_gain_that_is_likely_below_the_floor_goes_back_and_stays() -> None:
    step = next_step(course(5), PARAMETERS)
    assert (step.move, step.to_ml_per_day) == ("back", 270.0)
    assert "below the 20 g/day of its age" in str(step.why)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"is_weighed_since": False}, "not weighed since the last step"),
        ({"since_d": 2.9}, "less than 3 days old"),
        ({"few_diapers": None}, "not counted"),
        ({"weights": (Weighed(3, 3000),)}, "not weighed"),
    ],
)
def test_however_well_it_gains_it_is_held_where_something_is_not_known(
    fields: dict[str, object], says: str
) -> None:
    step = next_step(course(60, **fields), PARAMETERS)
    assert (step.move, step.to_ml_per_day) == ("hold", 240.0)
    assert says in str(step.why)


def test_too_few_diapers_go_back_whatever_the_weights_say() -> None:
    step = next_step(course(60, few_diapers=True, is_weighed_since=False), PARAMETERS)
    assert (step.move, step.to_ml_per_day) == ("back", 270.0)


def test_what_is_left_goes_in_one_step_where_it_is_small_and_weights_are_watched() -> None:
    step = next_step(course(45, given_ml_per_day=60.0), PARAMETERS)
    assert (step.move, step.to_ml_per_day) == ("settle", 0.0)
    assert "day 3 and day 7" in str(step.then[0])
    assert next_step(course(45, given_ml_per_day=0.0), PARAMETERS).move == "settle"


def test_two_held_steps_running_ask_why() -> None:
    once = next_step(course(21, held_count=0), PARAMETERS)
    twice = next_step(course(21, held_count=1), PARAMETERS)
    assert (once.is_held_too_often, once.then) == (False, ())
    assert twice.is_held_too_often
    assert "measure what is made in 24 hours, and write to a physician" in str(twice.then[0])


def test_what_is_not_known_yet_is_no_held_step() -> None:
    for fields in ({"is_weighed_since": False}, {"since_d": 1.0}, {"few_diapers": None}):
        assert not next_step(course(21, held_count=5, **fields), PARAMETERS).is_held_too_often  # type: ignore[arg-type]


def test_the_gain_is_that_of_all_weights_and_surer_with_each() -> None:
    few = filtered(course(30, days=3).weights, (), PARAMETERS)
    many = filtered(course(30, days=21).weights, (), PARAMETERS)
    assert many.sd_g_per_day < few.sd_g_per_day
    assert many.g_per_day == pytest.approx(30, abs=1.5)


def test_it_is_a_kalman_filter() -> None:
    """One weight after the first, in closed form: variances 40^2, 8^2 and the wander of 3 days."""
    fixed = PARAMETERS.step_noise_weights_count
    sure = msgspec.structs.replace(
        PARAMETERS, step_noise_weights_count=msgspec.structs.replace(fixed, value=1e12)
    )
    q, days, noise = 2.2**2, 3.0, 40.0**2
    prior = np.array([[noise + 9 * 64 + q * 9, 3 * 64 + q * 4.5], [3 * 64 + q * 4.5, 64 + 3 * q]])
    gain = prior[1, 0] / (prior[0, 0] + noise)
    found = filtered((Weighed(0, 3000), Weighed(days, 3150)), (), sure)
    assert found.g_per_day == pytest.approx(28 + gain * (3150 - 3000 - 3 * 28))
    assert found.sd_g_per_day == pytest.approx(math.sqrt(prior[1, 1] - gain * prior[1, 0]))


def test_a_noisy_scale_is_learned() -> None:
    weights = course(30, days=30).weights
    wild = [Weighed(at, g + (120 if n % 2 else -120)) for n, (at, g) in enumerate(weights)]
    assert filtered(wild, (), PARAMETERS).noise_g > 60
    assert filtered(weights, (), PARAMETERS).noise_g < 40


def test_less_milk_is_expected_to_lower_the_gain() -> None:
    weights = course(30).weights
    stepped = filtered(weights, (Changed(14.0, -80.0),), PARAMETERS)
    # Half of 80 mL a day at 8 mL for a gram, of which one weight a day later says little.
    assert stepped.g_per_day == pytest.approx(
        filtered(weights, (), PARAMETERS).g_per_day - 5, abs=1
    )
    assert stepped.sd_g_per_day > filtered(weights, (), PARAMETERS).sd_g_per_day


COURSES = st.builds(
    course,
    st.floats(-20, 60),
    days=st.sampled_from([3, 9, 21]),
    given_ml_per_day=st.floats(1, 700),
    few_diapers=st.sampled_from([True, False, None]),
    since_d=st.floats(0, 9),
    held_count=st.integers(0, 3),
)


@given(COURSES)
@settings(max_examples=40)
def test_every_step_is_one_of_the_steps(one: Course) -> None:
    step = next_step(one, PARAMETERS)
    change = step.to_ml_per_day - one.given_ml_per_day
    assert step.to_ml_per_day >= 0
    if step.move == "hold":
        assert change == 0
    elif step.move == "back":
        assert change == pytest.approx(30)
    else:
        assert -75 <= change < 0
        assert one.few_diapers is False
        assert one.since_d >= 3
    assert (step.move == "settle") == (step.to_ml_per_day == 0)


@given(st.floats(-10, 60), st.floats(0, 30))
@settings(max_examples=30)
def test_a_higher_gain_never_leaves_more_supplement(gain: float, more: float) -> None:
    low = next_step(course(gain), PARAMETERS).to_ml_per_day
    assert next_step(course(gain + more), PARAMETERS).to_ml_per_day <= low


def stepped_family(rng: np.random.Generator, *, can_recover: bool) -> tuple[float, list[float]]:
    """The supplement after 42 days of steps, and the gain of each day, of one simulated family.

    Supply follows hunger up to what the breast can make; 8 mL a day for a gram a day; each weight
    wavers by 35 g.
    """
    need = 560 + 50 * rng.normal()
    able = need * (rng.uniform(1.02, 1.5) if can_recover else rng.uniform(0.45, 0.92))
    made = min(0.5 * need, able)
    given_ml, weight, since = 5.0 * round((1.02 * need - made) / 5), 3300.0, 0
    weights, changes, gains = [Weighed(0, weight + 35 * rng.normal())], [], []
    for day in range(1, 43):
        wanted = min(able, max(1.08 * need - given_ml, 0))
        made += (wanted - made) / (7 if wanted > made else 12)
        gains.append(30 + (min(made, max(1.08 * need - given_ml, 0)) + given_ml - need) / 8)
        weight += gains[-1]
        if day % 3 or not given_ml:
            continue
        weights.append(Weighed(day, weight + 35 * rng.normal()))
        now = course(
            0,
            weights=tuple(weights),
            changes=tuple(changes),
            given_ml_per_day=given_ml,
            since_d=float(day - since),
        )
        to = next_step(now, PARAMETERS).to_ml_per_day
        if to != given_ml:
            changes.append(Changed(day, to - given_ml))
            since, given_ml = day, to
    return given_ml, gains


def test_families_come_off_it_and_those_who_cannot_are_not_starved() -> None:
    """Ten who can recover, eight who cannot: steps that are never weighed starve most of the latter."""
    rng = np.random.default_rng(11)
    recover = [stepped_family(rng, can_recover=True) for _ in range(10)]
    partial = [stepped_family(rng, can_recover=False) for _ in range(8)]
    assert np.median([left for left, _ in recover]) < 120
    assert max(sum(gain < 15 for gain in gains) for _, gains in recover) <= 2
    assert np.mean([sum(gain < 15 for gain in gains) for _, gains in partial]) < 4
    assert min(left for left, _ in partial) > 0
