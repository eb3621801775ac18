"""The mode of one infant's latents, and which readings are taken for wrong there.

Each weight is an ordinary one, or one of the kinds of error. Given an assignment of kinds the
likelihood is nearly normal and its mode is found by Fisher scoring. Starting from 'all ordinary',
the assignment is changed as long as a change of one reading is likelier than none (by its
leave-one-out prediction); the assignment reached, and those one change away that are not much less
likely, form a mixture.

A test weighing is nearly always right, so that the search begins with a likelihood in which each may
be wrong. Where one does not fit the rest that likelihood has two tops far apart, and scoring climbs
the one it is nearer to, however much lower. There it is settled of each test weighing whether it is
right, as of the weights, and each story gets a mode of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.model import Floats
from suffice.inference.infant.reading_error import SettledTransfers, wrong_transfer_density

STEP = 1e-4  # forward difference
ITERATIONS_MAX = 25
LONGEST_STEP = 6.0
_NEAR = 0.1
NEAR_QUICKLY = 1.0
CHANGES_MAX = 8  # readings that may be assigned an error before the search gives up
_NOT_MUCH_LESS_LIKELY = -3.0  # log odds of an assignment that is worth a component
_TEST_IN_DOUBT = -6.0  # the same of a test weighing: its two stories lie too far apart to share one
_COMPONENTS_MAX = 4
HALVINGS, SHORTER = 6, 0.4
_PLACES = np.linspace(-5.0, 5.0, 41)  # of a standard normal
_PLACE_SHARES = np.exp(-0.5 * _PLACES**2) / np.exp(-0.5 * _PLACES**2).sum()


@dataclass(frozen=True, slots=True)
class Mode:
    """A mode with the normal approximation there.

    Attributes:
        z: Latents, shape (n_latents,).
        predictors: Predictors at the mode, (n_readings,).
        jacobian: Slope of the predictors, (n_readings, n_latents).
        curvature: Expected curvature of each reading's log-likelihood, (n_readings,).
        precision: Precision of the latents, (n_latents, n_latents).
        covariance: Its inverse.
        log_density: Log posterior at the mode, up to a constant.
        iterations_count: Scoring steps taken.
        kinds: Error component assigned to each weight, (n_weights,).
        quiet: Precision of the ordinary noise over the usual one.
        settled: The test weighings, where it is settled which are wrong; None: each may be.
    """

    z: Floats
    predictors: Floats
    jacobian: Floats
    curvature: Floats
    precision: Floats
    covariance: Floats
    log_density: float
    iterations_count: int
    kinds: NDArray[np.intp]
    quiet: float
    settled: SettledTransfers | None = None

    @property
    def log_mass(self) -> float:
        """Log of the posterior mass near the mode, by the normal approximation."""
        return self.log_density - 0.5 * float(np.linalg.slogdet(self.precision)[1])

    def fit_variance(self) -> Floats:
        """Variance of each weight's predictor by the normal approximation, g squared."""
        slope = self.jacobian[: len(self.kinds)]
        return np.asarray(np.vecdot(slope @ self.covariance, slope))


def _linearise(likelihood: Likelihood, z: Floats) -> tuple[Floats, Floats]:
    """Predictors at z and their Jacobian by forward differences, all latents in one pass."""
    count = len(z)
    rows = np.repeat(z[None], count + 1, axis=0)
    rows[np.arange(1, count + 1), np.arange(count)] += STEP
    predictors = likelihood.predictors(rows)
    return predictors[0], (predictors[1:] - predictors[0]).T / STEP


def find_mode(
    likelihood: Likelihood,
    start: Floats | Mode,
    kinds: NDArray[np.intp],
    quiet: float = 1.0,
    near: float = _NEAR,
    settled: SettledTransfers | None = None,
) -> Mode:
    """The mode for one assignment of error kinds, by Fisher scoring from `start`.

    A step that makes the fit worse is shortened; when no shorter one helps the search ends there.
    A start from another mode takes over what is known of the predictors there, and which test
    weighings are wrong unless `settled` says so anew. A last step shorter than `near` is taken with
    the Jacobian held.
    """
    iterations = 0
    if isinstance(start, Mode):
        z, predictors, jacobian = start.z, start.predictors, start.jacobian
        settled = settled or start.settled
    else:
        z = start
        predictors, jacobian = _linearise(likelihood, z)
    slope, curvature, fit = likelihood.scoring(predictors, kinds, quiet, settled)
    value = fit - 0.5 * float(z @ z)
    while True:
        precision = (jacobian.T * curvature) @ jacobian
        precision.flat[:: len(z) + 1] += 1.0
        covariance: Floats = np.asarray(np.linalg.inv(precision), dtype=np.float64)
        uphill = slope @ jacobian - z
        step = covariance @ uphill
        length = float(np.sqrt(step @ step))
        if length < near:  # so near, the quadratic is as good as another look
            value += 0.5 * float(step @ uphill)
            z, predictors = z + step, predictors + jacobian @ step
            break
        if iterations == ITERATIONS_MAX:
            break
        step *= min(1.0, LONGEST_STEP / length)
        iterations += 1
        for _ in range(HALVINGS):
            trial = z + step
            there, its_jacobian = _linearise(likelihood, trial)
            its_slope, its_curvature, its_fit = likelihood.scoring(there, kinds, quiet, settled)
            its_value = its_fit - 0.5 * float(trial @ trial)
            if its_value > value:
                break
            step *= SHORTER
        else:
            break
        z, predictors, jacobian = trial, there, its_jacobian
        slope, curvature, value = its_slope, its_curvature, its_value
    return Mode(
        z,
        predictors,
        jacobian,
        curvature,
        precision,
        covariance,
        value,
        iterations,
        kinds,
        quiet,
        settled,
    )


def _predicted_without(likelihood: Likelihood, mode: Mode) -> tuple[Floats, Floats]:
    """Each weight minus its leave-one-out prediction (g), and the variance of that prediction."""
    n = len(mode.kinds)
    shift = likelihood.errors.shift_g[mode.kinds, np.arange(n)]
    along = mode.fit_variance()
    left = np.maximum(
        1.0 - along / likelihood.errors.assigned_sd(mode.kinds, mode.quiet) ** 2, 1e-6
    )
    residual = (likelihood.observed_g - mode.predictors[:n] - shift) / left + shift
    return residual, along / left


def scatter(likelihood: Likelihood, mode: Mode) -> tuple[float, float]:
    """Squares of the ordinary weights' residuals in units of usual noise, and their freedom.

    The freedom is the number of those weights less what was fitted to them.
    """
    n = len(mode.kinds)
    ordinary = mode.kinds == 0
    errors = likelihood.errors
    pull = (likelihood.observed_g - mode.predictors[:n] - errors.shift_g[0]) / errors.sd_g[0]
    fitted = mode.fit_variance() / errors.sd_g[0] ** 2
    freedom = float((1.0 - fitted)[ordinary].sum())
    return float((pull[ordinary] ** 2).sum()), max(freedom, 0.0)


def last_weight_off(likelihood: Likelihood, mode: Mode) -> float | None:
    """How far the last weight lies from its forecast without it, in SDs; None without weights.

    The mode is moved to where it would be if the last weight were a slip of any size, which tells
    next to nothing of the truth; near the mode that trusts it, the forecast would lean its way.
    """
    last = len(mode.kinds) - 1
    if last < 0:
        return None
    kinds = mode.kinds.copy()
    kinds[last] = len(likelihood.errors.sd_g) - 1
    without = find_mode(likelihood, mode, kinds, mode.quiet)
    spread = without.fit_variance()[last]
    noise = likelihood.errors.sd_g[0, last] ** 2 / mode.quiet
    off = (
        likelihood.observed_g[last] - without.predictors[last] - likelihood.errors.shift_g[0, last]
    )
    return float(off / np.sqrt(spread + noise))


def change_odds(likelihood: Likelihood, mode: Mode) -> Floats:
    """Log odds of giving one weight another kind of error, shape (n_kinds, n_weights).

    From the leave-one-out prediction of each weight by the normal approximation at the mode; the
    kind it has already gets minus infinity.
    """
    errors, kinds = likelihood.errors, mode.kinds
    residual, spread = _predicted_without(likelihood, mode)
    variance = errors.sd_g**2
    variance[0] /= mode.quiet
    variance += spread
    logs = errors.log_share - 0.5 * (np.log(variance) + (residual - errors.shift_g) ** 2 / variance)
    columns = np.arange(len(kinds))
    odds = logs - logs[kinds, columns]
    odds[kinds, columns] = -np.inf
    return np.asarray(odds)


def _foretold_tests(likelihood: Likelihood, mode: Mode) -> tuple[Floats, Floats]:
    """Log of the expected transfer that the rest foretells for each test weighing, at 41 places.

    By the normal approximation without that one; the places, (41, n_tests), and their shares.
    """
    first = len(mode.kinds)
    chosen = slice(first, first + len(likelihood.transfers.spread))
    tables = mode.settled or likelihood.transfers
    predictor, slope_of = mode.predictors[chosen], mode.jacobian[chosen]
    slope, curvature = tables.scoring(predictor)
    along = np.vecdot(slope_of @ mode.covariance, slope_of)
    spread = along / np.maximum(1.0 - along * curvature, 1e-6)
    return predictor - slope * spread + _PLACES[:, None] * np.sqrt(spread), _PLACE_SHARES


def _is_a_test_in_doubt(likelihood: Likelihood, mode: Mode) -> bool:
    """Whether a test weighing may be wrong: at the mode, or by what the rest foretells for it."""
    if not len(likelihood.transfers.spread):
        return False
    first, count = len(mode.kinds), len(likelihood.transfers.spread)
    places, shares = _foretold_tests(likelihood, mode)
    here = likelihood.transfers.log_likelihood(mode.predictors[None, first : first + count])
    ahead = logsumexp(likelihood.transfers.log_likelihood(places), axis=0, b=shares[:, None])
    wrong = np.log(wrong_transfer_density(likelihood.population))
    return bool(np.max(wrong - np.minimum(here[0], ahead)) > _TEST_IN_DOUBT)


def _test_odds(likelihood: Likelihood, mode: Mode) -> Floats:
    """Log odds of taking one test weighing for the other of right and wrong, (n_tests,)."""
    if mode.settled is None:
        return np.zeros(0)
    places, shares = _foretold_tests(likelihood, mode)
    right = logsumexp(mode.settled.right.log_likelihood(places), axis=0, b=shares[:, None])
    odds = mode.settled.wrong_log_density - right
    return np.asarray(np.where(mode.settled.wrong, -odds, odds))


def _odds_of_changes(likelihood: Likelihood, mode: Mode) -> Floats:
    """Log odds of every single change: of each kind by each weight, then of each test weighing."""
    odds = change_odds(likelihood, mode).ravel()
    return np.concatenate([odds, _test_odds(likelihood, mode)])


def _with_noise_of_scatter(likelihood: Likelihood, mode: Mode, *, quickly: bool) -> Mode:
    """The mode with the noise that the scatter of its ordinary weights speaks for."""
    quiet = likelihood.errors.quietness(*scatter(likelihood, mode))
    return find_mode(likelihood, mode, mode.kinds, quiet, LONGEST_STEP if quickly else _NEAR)


def _changed(
    likelihood: Likelihood, mode: Mode, place: int
) -> tuple[NDArray[np.intp], SettledTransfers | None]:
    """The mode's assignment with the one change at an index of its odds: of weights, of tests."""
    count, kinds_count = len(mode.kinds), len(likelihood.errors.sd_g)
    if mode.settled is not None and place >= kinds_count * count:
        return mode.kinds, mode.settled.turned(place - kinds_count * count)
    kinds = mode.kinds.copy()
    kind, weight = divmod(place, count)
    kinds[weight] = kind
    return kinds, mode.settled


def _name(kinds: NDArray[np.intp], settled: SettledTransfers | None) -> tuple[int, ...]:
    """What tells one assignment from another."""
    return (*kinds.tolist(), *([] if settled is None else settled.wrong.tolist()))


def _stories(likelihood: Likelihood, near: float) -> tuple[Mode, ...]:
    """The modes with which the search begins, all weights ordinary; the most massive first.

    One, but where a test weighing is in doubt: then one with all of them right, and one with those wrong
    that the nearest mode has given up. Two that are wrong may uphold each other, so that no
    single change leads from the one to the other.
    """
    kinds = np.zeros(len(likelihood.weights), dtype=np.intp)
    mode = find_mode(likelihood, np.zeros(likelihood.latents_count), kinds, near=near)
    if not _is_a_test_in_doubt(likelihood, mode):
        return (mode,)
    settled = likelihood.all_tests_right()
    right = find_mode(likelihood, mode, kinds, near=near, settled=settled)
    shown = mode.predictors[len(kinds) : len(kinds) + len(settled.wrong)]
    given_up = settled.wrong_log_density > settled.right.log_likelihood(shown[None])[0]
    if not given_up.any():
        return (right,)
    without = replace(settled, wrong=given_up)
    wrong = find_mode(likelihood, mode, kinds, near=near, settled=without)
    return (right, wrong) if right.log_mass >= wrong.log_mass else (wrong, right)


def _search(likelihood: Likelihood, *, quickly: bool) -> tuple[Mode, Floats, tuple[Mode, ...]]:
    """As `find_best_mode`; and the other stories with which the search might have begun."""
    count, near = len(likelihood.weights), NEAR_QUICKLY if quickly else _NEAR
    mode, *others = _stories(likelihood, near)
    odds = _odds_of_changes(likelihood, mode)
    seen = {_name(mode.kinds, mode.settled)}
    for _ in range(min(CHANGES_MAX, len(_name(mode.kinds, mode.settled)))):
        place = int(np.argmax(odds))
        changed = _changed(likelihood, mode, place)
        if odds[place] <= 0.0 or _name(*changed) in seen:
            break
        mode = find_mode(likelihood, mode, changed[0], near=near, settled=changed[1])
        seen.add(_name(mode.kinds, mode.settled))
        odds = _odds_of_changes(likelihood, mode)
    if count:
        mode = _with_noise_of_scatter(likelihood, mode, quickly=quickly)
        odds = odds if quickly else _odds_of_changes(likelihood, mode)
    return mode, odds, tuple(others)


def find_best_mode(likelihood: Likelihood, *, quickly: bool = False) -> tuple[Mode, Floats]:
    """The mode of the likeliest assignment that the search reaches, and its odds of change.

    `quickly` stops the scoring sooner, takes the family's noise into account by one step with the
    Jacobian held, and leaves the odds as they were before that step.
    """
    mode, odds, _ = _search(likelihood, quickly=quickly)
    return mode, odds


def find_modes(likelihood: Likelihood) -> tuple[Mode, ...]:
    """The likeliest mode and those one change away that are worth a component."""
    best, odds, stories = _search(likelihood, quickly=False)
    least = np.full(len(odds), _NOT_MUCH_LESS_LIKELY)
    least[len(likelihood.errors.sd_g) * len(best.kinds) :] = _TEST_IN_DOUBT
    likeliest = np.argsort(-odds, kind="stable")
    others = []
    for place in likeliest[odds[likeliest] > least[likeliest]][: _COMPONENTS_MAX - 1]:
        kinds, settled = _changed(likelihood, best, int(place))
        others.append(find_mode(likelihood, best, kinds, best.quiet, settled=settled))
    there = {_name(mode.kinds, mode.settled) for mode in (best, *others)}
    others += [
        story
        for story in stories
        if story.log_mass > best.log_mass + _TEST_IN_DOUBT
        and _name(story.kinds, story.settled) not in there
    ]
    # With another reading wrong the rest scatter less, or more: each has a noise of its own.
    return (best, *(_with_noise_of_scatter(likelihood, other, quickly=False) for other in others))
