"""Draws from what is still possible for one infant: mode, curved proposal, importance weights.

1. Each weight is an ordinary one, or one of the kinds of error. Given an assignment of kinds the
   likelihood is nearly normal and its mode is found by Fisher scoring. Starting from 'all
   ordinary', the assignment is changed as long as a change of one weight is likelier than none
   (by its leave-one-out prediction); the assignment reached, and those one change away that are
   not much less likely, form a mixture.
2. At each mode the curvature splits the latents into directions that the evidence hardly informs
   (weak) and directions that it fixes (tight). A draw takes its weak part from the normal
   approximation; its tight part is then centred anew by scoring steps with the Jacobian held
   fixed. The centre depends on the weak part alone, so this is a shear: its determinant is 1 and
   the density stays that of the normal approximation. It follows the bent ridges (supply against
   need against cost of tissue) along which a normal proposal loses most of its draws.
3. Weights target/proposal, truncated at mean * sqrt(n); more draws until enough are effective.

Limits: far below the effective draws asked for, intervals are not to be trusted; the answer says
so and does not hide it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.model import Floats

STEP = 1e-4  # forward difference
ITERATIONS_MAX = 25
LONGEST_STEP = 6.0
_NEAR = 0.1
NEAR_QUICKLY = 1.0
CHANGES_MAX = 8  # weights that may be assigned an error before the search gives up
_NOT_MUCH_LESS_LIKELY = -3.0  # log odds of an assignment that is worth a component
_COMPONENTS_MAX = 4
INFLATION = 1.05
TAIL = 5.0  # degrees of freedom of the tight directions
WEAK_BELOW = 10.0  # curvature; the prior alone has 1
HALVINGS, SHORTER = 6, 0.4
_LEAST_SHARE = 0.05
_FIRST_DRAWS = 1024
_MOST_DRAWS = 16384
_EVEN_SEED = 5  # the best of 40 against full answers of 315 infants set aside for that


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

    @property
    def log_mass(self) -> float:
        """Log of the posterior mass near the mode, by the normal approximation."""
        return self.log_density - 0.5 * float(np.linalg.slogdet(self.precision)[1])

    def fit_variance(self) -> Floats:
        """Variance of each weight's predictor by the normal approximation, g squared."""
        slope = self.jacobian[: len(self.kinds)]
        return np.asarray(np.vecdot(slope @ self.covariance, slope))


@dataclass(frozen=True, slots=True)
class Draws:
    """Weighted draws from the posterior.

    Attributes:
        z: Latents, (n_draws, n_latents).
        predictors: Predictors of the readings, (n_draws, n_readings).
        log_likelihood: What each reading adds to it, (n_draws, n_readings).
        wrong: Probability that each weight is wrong, (n_draws, n_weights).
        share: Weights that sum to 1, (n_draws,).
        effective: Effective number of draws.
        modes: The modes of the proposal, most massive first.
    """

    z: Floats
    predictors: Floats
    log_likelihood: Floats
    wrong: Floats
    share: Floats
    effective: float
    modes: tuple[Mode, ...]


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
) -> Mode:
    """The mode for one assignment of error kinds, by Fisher scoring from `start`.

    A step that makes the fit worse is shortened; when no shorter one helps the search ends there.
    A start from another mode takes over what is known of the predictors there. A last step shorter
    than `near` is taken with the Jacobian held.
    """
    iterations = 0
    if isinstance(start, Mode):
        z, predictors, jacobian = start.z, start.predictors, start.jacobian
    else:
        z = start
        predictors, jacobian = _linearise(likelihood, z)
    slope, curvature, fit = likelihood.scoring(predictors, kinds, quiet)
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
            its_slope, its_curvature, its_fit = likelihood.scoring(there, kinds, quiet)
            its_value = its_fit - 0.5 * float(trial @ trial)
            if its_value > value:
                break
            step *= SHORTER
        else:
            break
        z, predictors, jacobian = trial, there, its_jacobian
        slope, curvature, value = its_slope, its_curvature, its_value
    return Mode(
        z, predictors, jacobian, curvature, precision, covariance, value, iterations, kinds, quiet
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


def _with_noise_of_scatter(likelihood: Likelihood, mode: Mode, *, quickly: bool) -> Mode:
    """The mode with the noise that the scatter of its ordinary weights speaks for."""
    quiet = likelihood.errors.quietness(*scatter(likelihood, mode))
    return find_mode(likelihood, mode, mode.kinds, quiet, LONGEST_STEP if quickly else _NEAR)


def _changed(mode: Mode, place: int) -> NDArray[np.intp]:
    """The mode's assignment with the one change at a flat index of its odds."""
    kinds = mode.kinds.copy()
    kind, weight = divmod(place, len(kinds))
    kinds[weight] = kind
    return kinds


def find_best_mode(likelihood: Likelihood, *, quickly: bool = False) -> tuple[Mode, Floats]:
    """The mode of the likeliest assignment that the search reaches, and its odds of change.

    `quickly` stops the scoring sooner, takes the family's noise into account by one step with the
    Jacobian held, and leaves the odds as they were before that step.
    """
    count, near = len(likelihood.weights), NEAR_QUICKLY if quickly else _NEAR
    start, kinds = np.zeros(likelihood.latents_count), np.zeros(count, dtype=np.intp)
    mode = find_mode(likelihood, start, kinds, near=near)
    odds = change_odds(likelihood, mode)
    seen = {tuple(mode.kinds)}
    for _ in range(min(CHANGES_MAX, count)):
        place = int(np.argmax(odds))
        if odds.flat[place] <= 0.0 or tuple(_changed(mode, place)) in seen:
            break
        mode = find_mode(likelihood, mode, _changed(mode, place), near=near)
        seen.add(tuple(mode.kinds))
        odds = change_odds(likelihood, mode)
    if count:
        mode = _with_noise_of_scatter(likelihood, mode, quickly=quickly)
        odds = odds if quickly else change_odds(likelihood, mode)
    return mode, odds


def find_modes(likelihood: Likelihood) -> tuple[Mode, ...]:
    """The likeliest mode and those one change away that are worth a component."""
    best, odds = find_best_mode(likelihood)
    near = np.argsort(-odds, axis=None, kind="stable")[: _COMPONENTS_MAX - 1]
    others = [
        find_mode(likelihood, best, _changed(best, int(place)), best.quiet)
        for place in near
        if odds.flat[place] > _NOT_MUCH_LESS_LIKELY
    ]
    # With another weight wrong the rest scatter less, or more: each has a noise of its own.
    return (best, *(_with_noise_of_scatter(likelihood, other, quickly=False) for other in others))


class _Proposal:
    """The sheared normal approximation at one mode."""

    def __init__(self, likelihood: Likelihood, mode: Mode, rounds: int) -> None:
        self._likelihood, self._mode, self._rounds = likelihood, mode, rounds
        precision, self._axes = np.linalg.eigh(mode.precision)
        self._weak = int(np.searchsorted(precision, WEAK_BELOW))
        self._weak_axes = self._axes[:, : self._weak]
        self._tight_axes = self._axes[:, self._weak :]
        self._weak_jacobian = mode.jacobian @ self._weak_axes
        self._tight_jacobian = mode.jacobian @ self._tight_axes
        self._gain = (self._tight_jacobian * mode.curvature[:, None]) / precision[self._weak :]
        self._root = np.sqrt(precision) / INFLATION
        tight = len(precision) - self._weak
        self._log_scale = float(np.log(self._root).sum())
        self._log_tail = float(
            gammaln(0.5 * (TAIL + tight)) - gammaln(0.5 * TAIL) - 0.5 * tight * np.log(TAIL / 2)
        )

    def _centre(self, weak: Floats) -> tuple[Floats, Floats]:
        """Points on the weak plane, and where the tight part is centred there."""
        base = self._mode.z + weak @ self._weak_axes.T
        centre = np.zeros((len(weak), self._tight_axes.shape[1]))
        if centre.shape[1] == 0:
            return base, centre
        linear = self._mode.predictors + weak @ self._weak_jacobian.T
        for _ in range(self._rounds):
            there = self._likelihood.predictors(base + centre @ self._tight_axes.T)
            centre = -(there - linear - centre @ self._tight_jacobian.T) @ self._gain
        return base, centre

    def _log_kernel(self, parts: Floats) -> Floats:
        """Log density of standardised parts: normal where weak, Student's t where tight."""
        weak, tight = parts[:, : self._weak], parts[:, self._weak :]
        count = tight.shape[1]
        far = np.vecdot(tight, tight) / TAIL
        return np.asarray(
            self._log_scale
            - 0.5 * np.vecdot(weak, weak)
            - 0.5 * (TAIL + count) * np.log1p(far)
            + self._log_tail
        )

    def draw(self, noise: Floats, stretch: Floats) -> tuple[Floats, Floats]:
        """Draws made of standard normals (n, n_latents) and chi-squares (n,), with log density.

        The normals belong to the latents and are turned to the axes: whichever way an axis
        points, and however axes of equal precision lie, the same normals make the same draws.
        """
        noise = noise @ self._axes
        noise[:, self._weak :] *= np.sqrt(TAIL / stretch)[:, None]
        parts = noise / self._root
        base, centre = self._centre(parts[:, : self._weak])
        z = base + (parts[:, self._weak :] + centre) @ self._tight_axes.T
        return z, self._log_kernel(noise)

    def log_density(self, z: Floats) -> Floats:
        """Log density of any points, up to the same constant."""
        parts = (z - self._mode.z) @ self._axes
        _, centre = self._centre(parts[:, : self._weak])
        parts[:, self._weak :] -= centre
        return self._log_kernel(parts * self._root)


@lru_cache(maxsize=64)
def even_noise(count: int, latents_count: int) -> tuple[Floats, Floats]:
    """Standard normals (count, n_latents) and chi-squares (count,), the same every time.

    With enough rows the normals' second moments are those of the normal itself, so that few of
    them tell the spread as well as many.
    """
    rng = np.random.default_rng(_EVEN_SEED)
    noise = rng.standard_normal((count, latents_count))
    if count >= latents_count:
        noise = np.linalg.qr(noise)[0] * np.sqrt(count)
    return noise, rng.chisquare(TAIL, count)


def _batch(
    likelihood: Likelihood,
    proposals: list[_Proposal],
    shares: Floats,
    count: int,
    rng: np.random.Generator | None,
) -> tuple[Floats, ...]:
    """`count` antithetic draws from the mixture: the arrays of `Draws`, and log weights last."""
    counts = np.maximum(np.round(shares * count / 2).astype(int), 1)
    counts[0] = count // 2 - counts[1:].sum()
    all_z, own = [], []
    for proposal, half in zip(proposals, counts, strict=True):
        if rng is None:
            noise, stretch = even_noise(int(half), likelihood.latents_count)
        else:
            noise = rng.standard_normal((int(half), likelihood.latents_count))
            stretch = rng.chisquare(TAIL, int(half))
        z, log_density = proposal.draw(
            np.concatenate([noise, -noise]), np.concatenate([stretch, stretch])
        )
        all_z.append(z)
        own.append(log_density)
    z = np.concatenate(all_z)
    mixture = own[0] if len(own) == 1 else _mixture_density(proposals, z, own)
    predictors = likelihood.predictors(z)
    prior = -0.5 * np.vecdot(z, z)
    whole, added, wrong = likelihood.contributions(predictors)
    return z, predictors, added, wrong, whole + prior - mixture


def _mixture_density(proposals: list[_Proposal], z: Floats, own: list[Floats]) -> Floats:
    """Log density of the mixture at each draw, (n_draws,).

    `own` holds each component's log density at its own draws, which lie in this order in `z`.
    """
    densities = np.empty((len(proposals), len(z)))
    start = 0
    for j, (proposal, block) in enumerate(zip(proposals, own, strict=True)):
        stop = start + len(block)
        densities[j, start:stop] = block
        densities[j, :start] = proposal.log_density(z[:start])
        densities[j, stop:] = proposal.log_density(z[stop:])
        densities[j] += np.log(len(block) / len(z))
        start = stop
    return np.asarray(np.logaddexp.reduce(densities, axis=0))


def _mode_shares(modes: tuple[Mode, ...]) -> Floats:
    """Share of the draws that each mode's component gets, (n_modes,)."""
    if len(modes) == 1:
        return np.ones(1)
    log_mass = np.array([mode.log_mass for mode in modes])
    share = np.exp(log_mass - log_mass.max())
    share = np.maximum(share / share.sum(), _LEAST_SHARE)
    return np.asarray(share / share.sum())


def _shares(log_weights: Floats) -> tuple[Floats, float]:
    """Truncated, normalised weights and the effective number of draws."""
    finite = np.where(np.isfinite(log_weights), log_weights, -np.inf)
    weights = np.exp(finite - finite.max())
    effective = float(weights.sum() ** 2 / (weights**2).sum())
    weights = np.minimum(weights, weights.mean() * np.sqrt(len(weights)))
    return weights / weights.sum(), effective


def sample(
    likelihood: Likelihood,
    rng: np.random.Generator | None,
    *,
    effective_least: float,
    modes: tuple[Mode, ...] | None = None,
    first_draws: int = _FIRST_DRAWS,
    most_draws: int = _MOST_DRAWS,
    rounds: int = 2,
) -> Draws:
    """Weighted draws; half as many again until `effective_least` are effective, or `most_draws`.

    Without `rng` the first draws are even ones, the same every time; no more can be made.
    """
    found = find_modes(likelihood) if modes is None else modes
    shares = _mode_shares(found)
    proposals = [_Proposal(likelihood, mode, rounds) for mode in found]
    drawn = _batch(likelihood, proposals, shares, first_draws, rng)
    normal, effective = _shares(drawn[-1])
    while rng is not None and effective < effective_least and len(normal) < most_draws:
        more = _batch(likelihood, proposals, shares, len(normal) // 2, rng)
        drawn = tuple(np.concatenate(pair) for pair in zip(drawn, more, strict=True))
        normal, effective = _shares(drawn[-1])
    z, predictors, added, wrong, _ = drawn
    return Draws(z, predictors, added, wrong, normal, effective, found)


def resample(draws: Draws, count: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Indices of `count` equally likely draws, by systematic resampling."""
    edges = np.cumsum(draws.share)
    places = (np.arange(count) + rng.random()) / count * edges[-1]
    return np.asarray(np.minimum(np.searchsorted(edges, places), len(edges) - 1))
