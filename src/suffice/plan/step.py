"""The next step of a supplement that is being given: less, as it is, more again, or none any more.

Two weights three days apart tell a gain to about 16 g/day, so one gain decides nothing. All weights
since the lowest one are filtered: a weight that grows at a gain which itself wanders a little, read
with a noise that the infant's own weights teach. Every change of the supplement moves the gain by
part of what was taken away or added. A step is taken where it is sure enough that the gain after it
is still what the age asks for, and surer that it is not half of what is usual; it goes back where it is likely that the gain is less. Weights
alone never say that all is well: without a new weight, or with too few wet diapers, nothing goes down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import msgspec
import numpy as np
from scipy.special import ndtr

from suffice.clinical.entry.plan import Move
from suffice.clinical.working import Constant, Quantity, Working
from suffice.message import Amount, Chance, Message, Number, Words, message
from suffice.plan.parameters import PlanParameters

NOISE_ROUNDS: Final = 3
"""How often the noise is learned again from the filtered weights; it settles in two."""


class Weighed(NamedTuple):
    """One weight."""

    age_d: float
    weight_g: float


class Changed(NamedTuple):
    """When the supplement was changed, and by how much a day: less is negative."""

    age_d: float
    by_ml_per_day: float


class Gain(msgspec.Struct, frozen=True, kw_only=True):
    """The gain now, filtered from all weights.

    Attributes:
        g_per_day: Its mean.
        sd_g_per_day: Its standard deviation.
        noise_g: The standard deviation of one weight, as learned.
    """

    g_per_day: float
    sd_g_per_day: float
    noise_g: float

    def is_at_least(self, floor_g_per_day: float) -> float:
        """The chance that the gain is at the floor or above."""
        return float(ndtr((self.g_per_day - floor_g_per_day) / self.sd_g_per_day))


class Course(msgspec.Struct, frozen=True, kw_only=True):
    """What a step is decided on.

    Attributes:
        weights: Since the lowest one, in order of time.
        changes: Of the supplement, in order of time.
        given_ml_per_day: What is given now.
        floor_g_per_day: The gain that the age asks for.
        since_d: Days since the supplement was last changed.
        is_weighed_since: Whether it was weighed at least that long after.
        few_diapers: Whether wets or stools are below what is expected; None where not counted.
        usual_g_per_day: The median gain of the age; what is supposed before any weight is a share of it.
        held_count: How many plans before this one held or went back, one after another.
    """

    weights: tuple[Weighed, ...]
    changes: tuple[Changed, ...]
    given_ml_per_day: float
    floor_g_per_day: float
    since_d: float
    is_weighed_since: bool
    few_diapers: bool | None
    usual_g_per_day: float
    held_count: int = 0


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """The next step.

    Attributes:
        move: What it is.
        to_ml_per_day: The supplement after it.
        why: The reason, in a sentence.
        working: How it came about; None where no gain was asked.
        then: What follows: production to be measured, a letter, weights to be watched.
        is_held_too_often: Whether production is to be measured and a physician hears of it.
    """

    move: Move
    to_ml_per_day: float
    why: Words
    working: Working | None = None
    then: tuple[Words, ...] = ()
    is_held_too_often: bool = False


def next_step(course: Course, parameters: PlanParameters) -> Step:
    """The next step of a supplement.

    Args:
        course: What it is decided on.
        parameters: The values in force.
    """
    given = course.given_ml_per_day
    if given <= 0:
        return Step(
            move="settle",
            to_ml_per_day=0.0,
            why=message("No supplement is given."),
            then=(_watch(parameters),),
        )
    if course.few_diapers:
        why = message("Wets or stools are below what is expected.")
        return _back(course, why, None, parameters)
    if not course.is_weighed_since or len(course.weights) < 2:
        return _waits(course, message("It was not weighed since the last step."))
    gain = filtered(course.weights, course.changes, course.usual_g_per_day, parameters)
    working = _working(course, gain, parameters)
    below = 1 - gain.is_at_least(course.floor_g_per_day)
    rate, floor = Number(gain.g_per_day, 0), Number(course.floor_g_per_day, 0)
    if below > parameters.step_back_fraction.value:
        why = message(
            "The gain is likely ({chance}) below the {floor} g/day of its age: {rate} g/day.",
            chance=Chance(below),
            floor=floor,
            rate=rate,
        )
        return _back(course, why, working, parameters)
    if course.since_d < parameters.step_days.value:
        days = Number(parameters.step_days.value, 0)
        why = message("The last step is less than {days} days old.", days=days)
        return _waits(course, why, working)
    if course.few_diapers is None:
        return _waits(course, message("Wets and stools were not counted."), working)
    for size in _sizes(given, parameters):
        after = _after(gain, -size, parameters)
        sure = after.is_at_least(course.floor_g_per_day)
        not_low = after.is_at_least(parameters.step_low_fraction.value * course.floor_g_per_day)
        is_sure = sure >= parameters.step_sure_fraction.value
        if is_sure and not_low >= parameters.step_not_low_fraction.value:
            why = message(
                "Gaining {rate} g/day; after a step of {size} it is at least {floor} g/day with {chance}.",
                rate=rate,
                size=Amount(size, "mL"),
                floor=floor,
                chance=Chance(sure),
            )
            return _down(given - size, why, working, parameters)
    why = message(
        "Gaining {rate} g/day: after the smallest step it might be less than the {floor} g/day of its age.",
        rate=rate,
        floor=floor,
    )
    return _held(course, why, working, parameters)


def filtered(
    weights: Sequence[Weighed],
    changes: Sequence[Changed],
    usual_g_per_day: float,
    parameters: PlanParameters,
) -> Gain:
    """The gain at the last weight, from all of them.

    A Kalman filter of weight and gain. The noise of a weight begins as supposed and is learned from
    how far each weight fell from what was expected.

    Args:
        weights: At least one, in order of time.
        changes: Of the supplement, in order of time.
        usual_g_per_day: The median gain of the age.
        parameters: The values in force.
    """
    supposed, count = parameters.step_noise_g.value, parameters.step_noise_weights_count.value
    variance = supposed**2
    state, spread = _filter(weights, changes, variance, usual_g_per_day, parameters)[:2]
    for _ in range(NOISE_ROUNDS):
        state, spread, shares = _filter(weights, changes, variance, usual_g_per_day, parameters)
        learned = sum(share * variance for share in shares)
        variance = (count * supposed**2 + learned) / (count + len(shares))
    return Gain(
        g_per_day=float(state[1]),
        sd_g_per_day=math.sqrt(float(spread[1, 1])),
        noise_g=math.sqrt(variance),
    )


def _filter(
    weights: Sequence[Weighed],
    changes: Sequence[Changed],
    variance: float,
    usual_g_per_day: float,
    parameters: PlanParameters,
) -> tuple[np.ndarray, np.ndarray, list[float]]:
    """State (weight, gain), its covariance, and of each later weight its squared surprise."""
    first = weights[0]
    start = usual_g_per_day * parameters.step_gain_start_fraction.value
    start_sd = usual_g_per_day * parameters.step_gain_start_sd_fraction.value
    state, spread = np.array([first.weight_g, start]), np.diag([variance, start_sd**2])
    # A weight of the same moment as a change was taken before it.
    events: list[tuple[float, int, Weighed | Changed]] = [
        *((one.age_d, 0, one) for one in weights[1:]),
        *((one.age_d, 1, one) for one in changes if one.age_d >= first.age_d),
    ]
    now, shares = first.age_d, list[float]()
    for at, _, event in sorted(events, key=lambda one: one[:2]):
        state, spread = _moved(state, spread, at - now, parameters)
        now = at
        if isinstance(event, Changed):
            shift, more = _shift(event.by_ml_per_day, parameters)
            state, spread = state + np.array([0.0, shift]), spread + np.diag([0.0, more])
            continue
        surprise, seen = event.weight_g - state[0], float(spread[0, 0]) + variance
        gain = spread[:, 0] / seen
        state, spread = state + gain * surprise, spread - np.outer(gain, spread[0])
        shares.append(float(surprise) ** 2 / seen)
    return state, spread, shares


def _moved(
    state: np.ndarray, spread: np.ndarray, days: float, parameters: PlanParameters
) -> tuple[np.ndarray, np.ndarray]:
    """So many days later: weight goes on at the gain, the gain wanders."""
    move = np.array([[1.0, days], [0.0, 1.0]])
    drift = parameters.step_gain_drift_g_per_day.value**2
    # A gain that wanders as a random walk: the covariance of its integral and itself.
    wander = drift * np.array([[days**3 / THIRD, days**2 / 2], [days**2 / 2, days]])
    return move @ state, move @ spread @ move.T + wander


THIRD: Final = 3.0
"""Divisor of the variance of the integral of a random walk."""


def _shift(by_ml_per_day: float, parameters: PlanParameters) -> tuple[float, float]:
    """What a change of the supplement does to the gain: mean and variance."""
    in_g = by_ml_per_day / parameters.step_ml_per_g_ratio.value
    return (
        parameters.step_lost_fraction.value * in_g,
        (parameters.step_lost_sd_fraction.value * in_g) ** 2,
    )


def _after(gain: Gain, by_ml_per_day: float, parameters: PlanParameters) -> Gain:
    """The gain after a change of the supplement."""
    shift, more = _shift(by_ml_per_day, parameters)
    return msgspec.structs.replace(
        gain,
        g_per_day=gain.g_per_day + shift,
        sd_g_per_day=math.hypot(gain.sd_g_per_day, math.sqrt(more)),
    )


def _sizes(given: float, parameters: PlanParameters) -> list[float]:
    """The steps to try, the largest first; what is left is one step where it is no more than that."""
    sizes = (
        parameters.step_large_ml_per_day.value,
        parameters.step_middle_ml_per_day.value,
        parameters.step_small_ml_per_day.value,
    )
    return sorted({min(size, given) for size in sizes}, reverse=True)


def _down(left: float, why: Message, working: Working, parameters: PlanParameters) -> Step:
    if left > 0:
        return Step(move="down", to_ml_per_day=left, why=why, working=working)
    return Step(
        move="settle", to_ml_per_day=0.0, why=why, working=working, then=(_watch(parameters),)
    )


def _back(course: Course, why: Words, working: Working | None, parameters: PlanParameters) -> Step:
    to = course.given_ml_per_day + parameters.step_small_ml_per_day.value
    return _stopped(
        course, Step(move="back", to_ml_per_day=to, why=why, working=working), parameters
    )


def _waits(course: Course, why: Words, working: Working | None = None) -> Step:
    """No step, because something is not known yet: that says nothing against the next one."""
    return Step(move="hold", to_ml_per_day=course.given_ml_per_day, why=why, working=working)


def _held(course: Course, why: Words, working: Working | None, parameters: PlanParameters) -> Step:
    step = Step(move="hold", to_ml_per_day=course.given_ml_per_day, why=why, working=working)
    return _stopped(course, step, parameters)


def _stopped(course: Course, step: Step, parameters: PlanParameters) -> Step:
    """A step that does not go down; held too often, it is looked for why."""
    if course.held_count + 1 < parameters.step_held_count.value:
        return step
    then = message(
        "Held {count} times running: measure what is made in 24 hours, and write to a physician.",
        count=course.held_count + 1,
    )
    return msgspec.structs.replace(step, then=(then,), is_held_too_often=True)


def _watch(parameters: PlanParameters) -> Message:
    return message(
        "Weigh on day 3 and day 7 after the last supplement, and watch the weights for {days} days.",
        days=Number(parameters.step_done_d.value, 0),
    )


def _working(course: Course, gain: Gain, parameters: PlanParameters) -> Working:
    used: tuple[Constant, ...] = (
        parameters.step_sure_fraction,
        parameters.step_low_fraction,
        parameters.step_not_low_fraction,
        parameters.step_back_fraction,
        parameters.step_floor_fraction,
        parameters.step_lost_fraction,
        parameters.step_ml_per_g_ratio,
        parameters.step_gain_drift_g_per_day,
        parameters.step_noise_g,
    )
    return Working(
        formula=message(
            "gain filtered from all weights since the lowest; a step is the largest after which it is sure"
            " enough that the gain is at the floor or above, and surer that it is not far below"
        ),
        inputs=(
            Quantity(name=message("gain now"), value=round(gain.g_per_day, 1), unit="g/d"),
            Quantity(name=message("its SD"), value=round(gain.sd_g_per_day, 1), unit="g/d"),
            Quantity(name=message("SD of one weight"), value=round(gain.noise_g), unit="g"),
            Quantity(name=message("weights"), value=len(course.weights), unit="count"),
            Quantity(
                name=message("gain that its age asks for"),
                value=round(course.floor_g_per_day, 1),
                unit="g/d",
            ),
            Quantity(
                name=message("given in 24 h"), value=round(course.given_ml_per_day), unit="mL"
            ),
        ),
        constants=used,
    )
