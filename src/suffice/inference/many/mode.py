"""The modes of many infants: the search of :mod:`suffice.inference.infant.mode`, hurried.

Every infant takes its own steps; who has arrived leaves the pass. The precision of the latents is
1 + A'A, A the slopes of the predictors times the root of their curvature, so that what is inverted
has the size of the weights and not of the latents:

    (1 + A'A)^-1 = 1 - A' (1 + AA')^-1 A
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from suffice.inference.infant.mode import (
    CHANGES_MAX,
    HALVINGS,
    ITERATIONS_MAX,
    LONGEST_STEP,
    NEAR_QUICKLY,
    SHORTER,
    STEP,
)
from suffice.inference.infant.model import LATENTS_COUNT, Floats
from suffice.inference.many.course import Indices, ManyCourses, Rows
from suffice.inference.many.weights import ManyErrors


@dataclass(frozen=True, eq=False)
class Problems(Rows):
    """n infants of equal shape: the model of each, and the errors of its weights.

    The ages of the course begin with those of the weights.
    """

    courses: ManyCourses
    errors: ManyErrors

    def rows(self, chosen: Indices) -> Self:
        """The chosen infants."""
        if len(chosen) == self.count:  # all of them, in order
            return self
        return super().rows(chosen)

    @property
    def count(self) -> int:
        """How many infants."""
        return len(self.errors.observed_g)

    def with_offsets(self, weight_g: Floats, z: Floats) -> Floats:
        """Expected weights with what each sitting errs by, (n, w, n_draws)."""
        offsets = self.errors.offsets
        if not offsets.shape[2]:
            return weight_g
        return np.asarray(weight_g + offsets @ z[:, LATENTS_COUNT : self.courses.first_knot])

    def predictors(self, z: Floats) -> Floats:
        """The expected weights, g, (n, w, n_draws), for latents (n, n_latents, n_draws)."""
        paths = self.courses.paths(z, self.errors.observed_g.shape[1])
        return self.with_offsets(paths.weight_g, z)

    def linearise(self, z: Floats) -> tuple[Floats, Floats]:
        """Predictors (n, w) at the latents (n, n_latents), and their slopes (n, w, n_latents)."""
        count = z.shape[1]
        around = np.concatenate([z[:, :, None], z[:, :, None] + STEP * np.eye(count)], axis=2)
        found = self.predictors(around)
        # Own blocks of memory: a product takes the same way through them in any pass.
        return found[:, :, 0].copy(), (found[:, :, 1:] - found[:, :, :1]) / STEP


@dataclass(frozen=True, eq=False)
class Modes(Rows):
    """A mode of each of n infants, or a point on the way there.

    Attributes:
        z: Latents, (n, n_latents).
        predictors: Predictors there, (n, w).
        jacobian: Slopes of the predictors, (n, w, n_latents).
        kinds: Kind of error assigned to each weight, (n, w).
        quiet: Precision of the ordinary noise over the usual one, (n,).
        slopes: The jacobian times the root of the curvature, (n, w, n_latents).
        free: Part of each weight that is not fitted to it, (n, w); 1 in empty places.
    """

    z: Floats
    predictors: Floats
    jacobian: Floats
    kinds: Indices
    quiet: Floats
    slopes: Floats
    free: Floats


def start_of(problems: Problems) -> Modes:
    """The point from which the search begins: the middle infant, every weight an ordinary one."""
    n, w = problems.errors.observed_g.shape
    z = np.zeros((n, problems.courses.latents_count))
    predictors, jacobian = problems.linearise(z)
    return Modes(
        z,
        predictors,
        jacobian,
        np.zeros((n, w), dtype=np.intp),
        np.ones(n),
        np.zeros_like(jacobian),
        np.ones((n, w)),
    )


def find_modes(problems: Problems, start: Modes, near: float) -> Modes:
    """The modes for the kinds and the noise of `start`, as `infant.mode.find_mode` finds them."""
    found = Modes(**{name: getattr(start, name).copy() for name in start.__dataclass_fields__})
    todo = np.arange(problems.count)
    slope, curvature, fit = problems.errors.scoring(found.predictors, found.kinds, found.quiet)
    value = fit - 0.5 * np.vecdot(found.z, found.z)
    iteration = 0
    while True:
        step = _step(found, todo, slope, curvature)
        length = np.sqrt(np.vecdot(step, step))
        is_near = length < near  # so near, the quadratic is as good as another look
        _arrive(found, todo[is_near], step[is_near])
        if iteration == ITERATIONS_MAX:
            break
        away = ~is_near
        step = step[away] * np.minimum(1.0, LONGEST_STEP / length[away])[:, None]
        todo, slope, curvature, value = _climb(problems, found, todo[away], step, value[away])
        if not len(todo):
            break
        iteration += 1
    return found


def _step(found: Modes, todo: Indices, slope: Floats, curvature: Floats) -> Floats:
    """The scoring step of each infant still on the way, (n_todo, n_latents)."""
    jacobian = found.jacobian[todo]
    slopes = np.sqrt(curvature)[:, :, None] * jacobian
    inverse = np.linalg.inv(_across(slopes))
    found.slopes[todo] = slopes
    found.free[todo] = np.einsum("nww->nw", inverse)
    uphill = (slope[:, None] @ jacobian)[:, 0] - found.z[todo]
    fitted = inverse @ (slopes @ uphill[:, :, None])
    return np.asarray(uphill - (_turned(slopes) @ fitted)[:, :, 0])


def log_mass(problems: Problems, modes: Modes) -> Floats:
    """Log of the posterior mass near each mode, by the normal approximation, (n,)."""
    _, _, fit = problems.errors.scoring(modes.predictors, modes.kinds, modes.quiet)
    _, log_volume = np.linalg.slogdet(_across(modes.slopes))
    return np.asarray(fit - 0.5 * np.vecdot(modes.z, modes.z) - 0.5 * log_volume)


def variance_of(modes: Modes, latent: int) -> Floats:
    """Variance of one latent by the same, (n,)."""
    slope = modes.slopes[:, :, latent, None]
    fitted = np.swapaxes(slope, 1, 2) @ np.linalg.solve(_across(modes.slopes), slope)
    return np.asarray(1.0 - fitted[:, 0, 0])


def _across(slopes: Floats) -> Floats:
    """1 + AA' of slopes A in units of the noise, (n, w, w)."""
    across = slopes @ _turned(slopes)
    width = across.shape[1]
    across[:, np.arange(width), np.arange(width)] += 1.0
    return across


def _turned(matrices: Floats) -> Floats:
    """The transposed matrices, in memory of their own."""
    return np.ascontiguousarray(np.swapaxes(matrices, 1, 2))


def _arrive(found: Modes, there: Indices, step: Floats) -> None:
    """Take the last step of some infants with the slopes held."""
    found.z[there] += step
    found.predictors[there] += (found.jacobian[there] @ step[:, :, None])[:, :, 0]


def _climb(
    problems: Problems, found: Modes, todo: Indices, step: Floats, value: Floats
) -> tuple[Indices, Floats, Floats, Floats]:
    """One step of each infant, shortened until it is better; who finds no better one stays.

    Returns:
        Who goes on, and their slopes, curvatures and values.
    """
    w = problems.errors.observed_g.shape[1]
    slope, curvature = np.zeros((len(todo), w)), np.zeros((len(todo), w))
    waiting = np.arange(len(todo))
    for _ in range(HALVINGS):
        if not len(waiting):
            break
        who = todo[waiting]
        some = problems.rows(who)
        trial = found.z[who] + step[waiting]
        there, jacobian = some.linearise(trial)
        its_slope, its_curvature, fit = some.errors.scoring(
            there, found.kinds[who], found.quiet[who]
        )
        its_value = fit - 0.5 * np.vecdot(trial, trial)
        better = its_value > value[waiting]
        who, moved = who[better], waiting[better]
        found.z[who], found.predictors[who] = trial[better], there[better]
        found.jacobian[who] = jacobian[better]
        slope[moved], curvature[moved] = its_slope[better], its_curvature[better]
        value[moved] = its_value[better]
        waiting = waiting[~better]
        step[waiting] *= SHORTER
    goes_on = np.ones(len(todo), dtype=bool)
    goes_on[waiting] = False
    return todo[goes_on], slope[goes_on], curvature[goes_on], value[goes_on]


def change_odds(errors: ManyErrors, modes: Modes) -> Floats:
    """Log odds of giving one weight another kind of error, (n, n_kinds, w), as for one infant."""
    sd = errors.assigned_sd(modes.kinds, modes.quiet)
    shift = errors.of_kinds(errors.shift_g, modes.kinds)
    left = np.maximum(modes.free, 1e-6)
    residual = (errors.observed_g - modes.predictors - shift) / left + shift
    spread = (1.0 - modes.free) * sd**2 / left
    variance = errors.sd_g**2
    variance[:, 0] /= modes.quiet[:, None]
    variance += spread[:, None]
    away = (residual[:, None] - errors.shift_g) ** 2 / variance
    logs = errors.log_share - 0.5 * (np.log(variance) + away)
    odds = logs - errors.of_kinds(logs, modes.kinds)[:, None]
    np.put_along_axis(odds, modes.kinds[:, None], -np.inf, axis=1)
    return np.where(errors.is_there[:, None], odds, -np.inf)


def _scatter(errors: ManyErrors, modes: Modes) -> tuple[Floats, Floats]:
    """Squares of the ordinary weights' residuals and their freedom, (n,), as for one infant."""
    ordinary = errors.is_there & (modes.kinds == 0)
    pull = (errors.observed_g - modes.predictors - errors.shift_g[:, 0]) / errors.sd_g[:, 0]
    pull = np.where(ordinary, pull, 0.0)
    free = 1.0 - (1.0 - modes.free) / modes.quiet[:, None]
    freedom = np.where(ordinary, free, 0.0).sum(axis=1)
    return np.vecdot(pull, pull), np.maximum(freedom, 0.0)


def find_best_modes(problems: Problems) -> Modes:
    """The mode of the likeliest assignment of kinds that each search reaches, with its noise.

    As `infant.mode.find_best_mode`, quickly.
    """
    errors = problems.errors
    found = find_modes(problems, start_of(problems), NEAR_QUICKLY)
    seen = [{tuple(kinds)} for kinds in found.kinds.tolist()]
    most = np.minimum(errors.is_there.sum(axis=1), CHANGES_MAX)
    todo = np.arange(problems.count)
    changes = 0
    while len(todo := todo[most[todo] > changes]):
        odds = change_odds(errors.rows(todo), found.rows(todo)).reshape(len(todo), -1)
        place = odds.argmax(axis=1)
        kinds = found.kinds[todo]
        kind, weight = np.divmod(place, kinds.shape[1])
        kinds[np.arange(len(todo)), weight] = kind
        goes_on = odds[np.arange(len(todo)), place] > 0.0
        for k in np.flatnonzero(goes_on):
            goes_on[k] = tuple(kinds[k].tolist()) not in seen[todo[k]]
        todo, kinds = todo[goes_on], kinds[goes_on]
        if len(todo):
            start = replace(found.rows(todo), kinds=kinds)
            _put(found, todo, find_modes(problems.rows(todo), start, NEAR_QUICKLY))
            for k, its in zip(todo, kinds.tolist(), strict=True):
                seen[k].add(tuple(its))
        changes += 1
    quiet = errors.quietness(*_scatter(errors, found))
    return find_modes(problems, replace(found, quiet=quiet), LONGEST_STEP)


def _put(found: Modes, at: Indices, better: Modes) -> None:
    """Put the modes of some infants in their places."""
    for name in found.__dataclass_fields__:
        getattr(found, name)[at] = getattr(better, name)
