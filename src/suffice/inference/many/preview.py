"""The quick answer of many infants at once: intake, requirement and the chance that it is short.

The same method, draws and numbers as :func:`suffice.inference.infant.answer.preview`, for those whose
evidence is birth facts and weights on scales without a name; but each step is taken for many infants
in one pass, and what a cohort is not told is not computed. An infant's answer is the same to the bit
whoever else is asked about and in whatever order; from that of `preview` it differs by rounding, which
may now and then move one of its draws by a rank.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.entry import Sex
from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.answer import PREVIEW_DRAWS, PREVIEW_SEED
from suffice.inference.infant.birth_weight import (
    LIKELIER_WRONG,
    are_worth_a_look,
    is_unfit,
    log_odds,
)
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import find_best_mode
from suffice.inference.infant.model import (
    BIRTH,
    COST,
    DENSITY,
    LATENTS_COUNT,
    NEED,
    Floats,
    clocks,
    knots_count,
    time_grid,
)
from suffice.inference.infant.outlook import LEVELS, pick
from suffice.inference.infant.population import Population
from suffice.inference.infant.posterior import INFLATION, TAIL, WEAK_BELOW, even_noise
from suffice.inference.many.course import Indices, ManyCourses, ManyPaths, Rows
from suffice.inference.many.mode import Modes, Problems, find_best_modes, log_mass, variance_of
from suffice.inference.many.weights import CLOTHING, ManyErrors, Weighings, sittings_count

_AT_ONCE = 128
"""Infants of a pass: so many that numpy's calls cost little."""
_DRAWN_AT_ONCE = 8
"""Infants whose draws are made together: so few that their arrays stay near the processor."""
_PLACES = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 16, 24, 32, 48, 64)
"""Numbers of weights for which a pass is laid out; beyond the last, twice as many, and so on."""
_HALF_DAY = 0.5
_NO_FIT = 1e-9
_ROUNDED_BY = 0.5
"""How far log odds by the held slopes of a pass may lie from those of one infant alone."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ManyEvidence(Rows):
    """What is known of n infants.

    Attributes:
        now_d: Age at the question, days, (n,).
        birth_weight_g: Measured birth weight, (n,); nan where it is not known.
        boy: (n,): 1 a boy, 0 a girl, one half not known.
        caesarean: (n,): 1 caesarean, 0 vaginal birth, nan not known.
        weighings: The weights after birth up to the question; each infant has one at least.
    """

    now_d: Floats
    birth_weight_g: Floats
    boy: Floats
    caesarean: Floats
    weighings: Weighings


@dataclass(frozen=True, eq=False, kw_only=True)
class ManyAsked:
    """The lines of gain about which n infants are asked, g/day, (n,): see `Question`."""

    gain_limit_g_per_day: Floats
    requirement_gain_g_per_day: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class ManyPreviews:
    """What is answered of n infants.

    Attributes:
        intake_ml_per_day: Quantiles of the intake at the levels of `infant.outlook.LEVELS`, (n, 7).
        requirement_ml_per_day: The same of the intake that is needed, (n, 7).
        intake_short_probability: (n,): that the intake does not allow for the line of gain.
        birth_weight_is_unfit: (n,): that the birth weight was left out, see `infant.birth_weight`.
    """

    intake_ml_per_day: Floats
    requirement_ml_per_day: Floats
    intake_short_probability: Floats
    birth_weight_is_unfit: NDArray[np.bool_]


@dataclass(frozen=True, order=True)
class _Shape:
    """What infants of one pass have in common, each settled by the infant alone.

    Attributes:
        places: For how many weights they are laid out.
        knots: Knots of the drift that reach their weights.
        sittings: Sittings with two weights or more.
        news: Knots more that reach the half day before the question.
        ahead: Knots more that the one-by-one answer draws afresh.
    """

    places: int
    knots: int
    sittings: int
    news: int
    ahead: int


def preview_many(
    evidence: ManyEvidence, population: Population, question: Question, asked: ManyAsked
) -> ManyPreviews:
    """The quick answers.

    Args:
        evidence: What is known.
        population: Parameters of the model.
        question: What is the same for all; no fixed requirement of volume.
        asked: The lines of gain of each.
    """
    n = len(evidence.now_d)
    intake, requirement = np.empty((n, len(LEVELS))), np.empty((n, len(LEVELS)))
    short, unfit = np.empty(n), list[int]()
    for shape, index in _passes(_shapes(evidence, population, question)):
        problems = _problems(evidence, population, shape, index)
        modes = find_best_modes(problems)
        unfit += _with_unfit_birth_weight(evidence, shape, problems, modes, index)
        for start in range(0, len(index), _DRAWN_AT_ONCE):
            some = np.arange(start, min(start + _DRAWN_AT_ONCE, len(index)))
            at = index[some]
            outlook = _Outlook.at(problems.rows(some), modes.rows(some), evidence, shape, at)
            intake[at], requirement[at], short[at] = outlook.quantiles(
                np.maximum(evidence.now_d[at] - _HALF_DAY, 0.0),
                asked.requirement_gain_g_per_day[at],
                asked.gain_limit_g_per_day[at],
            )
    if unfit:
        again = np.array(unfit)
        unborn = replace(evidence.rows(again), birth_weight_g=np.full(len(again), np.nan))
        lines = ManyAsked(
            gain_limit_g_per_day=asked.gain_limit_g_per_day[again],
            requirement_gain_g_per_day=asked.requirement_gain_g_per_day[again],
        )
        found = preview_many(unborn, population, question, lines)
        intake[again], requirement[again] = found.intake_ml_per_day, found.requirement_ml_per_day
        short[again] = found.intake_short_probability
    return ManyPreviews(
        intake_ml_per_day=intake,
        requirement_ml_per_day=requirement,
        intake_short_probability=short,
        birth_weight_is_unfit=np.isin(np.arange(n), unfit),
    )


def _with_unfit_birth_weight(
    evidence: ManyEvidence, shape: _Shape, problems: Problems, modes: Modes, index: Indices
) -> list[int]:
    """Those of some infants of one shape whose birth weight does not fit what was weighed after it.

    Who is odd is searched anew without a birth weight, together; who then comes near is looked at alone.
    """
    birth_g, p = evidence.birth_weight_g[index], problems.courses.population
    odd = np.flatnonzero(np.isfinite(birth_g) & are_worth_a_look(modes.z, modes.kinds))
    if not len(odd):
        return []
    unborn = replace(evidence, birth_weight_g=np.full(len(evidence.now_d), np.nan))
    free = _problems(unborn, p, shape, index[odd])
    others = find_best_modes(free)
    mass = log_mass(problems.rows(odd), modes.rows(odd))
    odds = log_odds(
        birth_g[odd],
        others.z[:, BIRTH],
        variance_of(others, BIRTH),
        log_mass(free, others) - mass,
        p,
    )
    found = []
    for i in index[odd[odds > LIKELIER_WRONG - _ROUNDED_BY]].tolist():
        likelihood = Likelihood(_alone(evidence, i), p)
        mode, _ = find_best_mode(likelihood, quickly=True)
        if is_unfit(likelihood, mode):
            found.append(i)
    return found


def _alone(evidence: ManyEvidence, i: int) -> Evidence:
    """What is known of one of the infants."""
    weighings, caesarean = evidence.weighings, float(evidence.caesarean[i])
    sex: dict[float, Sex] = {1.0: "male", 0.0: "female"}
    return Evidence(
        now_d=float(evidence.now_d[i]),
        birth_weight_g=float(evidence.birth_weight_g[i]),
        sex=sex.get(float(evidence.boy[i])),
        mode=None if np.isnan(caesarean) else ("caesarean" if caesarean else "vaginal"),
        weights=tuple(
            WeightReading(
                id=f"{k:04}",
                age_d=float(weighings.age_d[i, k]),
                weight_g=float(weighings.weight_g[i, k]),
                clothing=CLOTHING[int(weighings.clothing[i, k])],
            )
            for k in range(int(weighings.counts[i]))
        ),
    )


def _shapes(evidence: ManyEvidence, p: Population, question: Question) -> list[_Shape]:
    """The shape of each infant's problem."""
    weighings = evidence.weighings
    counts = weighings.counts
    found = []
    for count, sittings, last, now in zip(
        counts.tolist(),
        sittings_count(weighings, p).tolist(),
        weighings.last_d.tolist(),
        evidence.now_d.tolist(),
        strict=True,
    ):
        knots = _knots_to(last, p)
        news = max(_knots_to(max(now - _HALF_DAY, 0.0), p) - knots, 0)
        ahead = 0
        if news:
            end = max(question.regain_day, now + max(question.horizon_d, 1))
            ahead = _knots_to(end, p) - knots
        found.append(_Shape(_places_for(count), knots, sittings, news, ahead))
    return found


@lru_cache(maxsize=4096)
def _knots_to(age_d: float, p: Population) -> int:
    """Knots of the drift on the grid that reaches an age."""
    return knots_count(float(time_grid(age_d)[-1]), p)


def _places_for(count: int) -> int:
    """For how many weights an infant with `count` of them is laid out."""
    most = _PLACES[-1]
    while most < count:
        most *= 2
    return next((one for one in _PLACES if one >= count), most)


def _passes(shapes: list[_Shape]) -> Iterator[tuple[_Shape, Indices]]:
    """Infants of one shape, some at a time."""
    by_shape: dict[_Shape, list[int]] = {}
    for place, shape in enumerate(shapes):
        by_shape.setdefault(shape, []).append(place)
    for shape, index in by_shape.items():
        for start in range(0, len(index), _AT_ONCE):
            yield shape, np.array(index[start : start + _AT_ONCE])


def _problems(evidence: ManyEvidence, p: Population, shape: _Shape, index: Indices) -> Problems:
    """The problems of some infants of one shape; the course also tells of the half day before now."""
    weighings = evidence.weighings.rows(index).places(shape.places)
    ages = np.where(np.isnan(weighings.age_d), 0.0, weighings.age_d)
    at_d = ages
    if not shape.news:
        middle = np.maximum(evidence.now_d[index] - _HALF_DAY, 0.0)
        at_d = np.concatenate([ages, middle[:, None]], axis=1)
    return Problems(
        _courses(evidence, p, index, at_d, shape.knots, shape.sittings),
        ManyErrors.of_weighings(weighings, p, shape.sittings),
    )


def _courses(
    evidence: ManyEvidence, p: Population, index: Indices, at_d: Floats, knots: int, sittings: int
) -> ManyCourses:
    return ManyCourses.laid_out(
        p,
        at_d=at_d,
        knots=knots,
        first_knot=LATENTS_COUNT + sittings,
        birth_weight_g=evidence.birth_weight_g[index],
        boy=evidence.boy[index],
        caesarean=evidence.caesarean[index],
    )


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Weighted draws of n infants: latents (n, n_latents, n_draws), courses, log weights (n, n_draws)."""

    z: Floats
    paths: ManyPaths
    log_weights: Floats


def _draw(problems: Problems, modes: Modes) -> _Drawn:
    """Draws about each mode: the weak part from the normal approximation, the tight part sheared.

    As `infant.posterior._Sheared` with one round; what is the same for all draws of an infant is left
    out of the log density.
    """
    errors, half = problems.errors, PREVIEW_DRAWS // 2
    noise, stretch = even_noise(half, modes.z.shape[1])
    noise = np.ascontiguousarray(np.concatenate([noise, -noise]).T)
    stretch = np.concatenate([stretch, stretch])
    axes = _Axes.of_slopes(modes.slopes)
    along = axes.across @ noise
    weak = INFLATION * (noise + axes.back @ (axes.weak_scale[:, :, None] * along))
    base = modes.z[:, :, None] + weak
    root = np.where(errors.is_there, 1.0 / errors.assigned_sd(modes.kinds, modes.quiet), 0.0)
    apart = problems.predictors(base) - modes.predictors[:, :, None] - modes.jacobian @ weak
    apart *= root[:, :, None]
    centre = axes.pull @ apart
    tight = axes.tight_unit[:, :, None] * along
    spread = axes.tight_scale[:, :, None] * tight * np.sqrt(TAIL / stretch)
    z = base + axes.forward @ (INFLATION * spread - centre)
    squares = (tight * tight).sum(axis=1)
    kernel = -0.5 * ((noise * noise).sum(axis=0) - squares)
    kernel -= 0.5 * (TAIL + axes.tight_count[:, None]) * np.log1p(squares / stretch)
    paths = problems.courses.paths(z)
    w = errors.observed_g.shape[1]
    expected = problems.with_offsets(paths.weight_g[:, :w], z)
    prior = -0.5 * (z * z).sum(axis=1)
    return _Drawn(z, paths, errors.log_likelihood(expected) + prior - kernel)


@dataclass(frozen=True, eq=False)
class _Axes:
    """The directions that the weights of n infants inform, w of them, by how much they do.

    A direction of precision 1 + l is tight from `WEAK_BELOW` on; of all the others the precision
    is 1, as without evidence.

    Attributes:
        across: Root of l times the direction, (n, w, n_latents).
        back: `across`, turned, (n, n_latents, w).
        weak_scale: Makes standard normals along a weak direction those of its precision, and takes
            a tight one out; to be met between `back` and `across`; (n, w).
        forward: Tight directions, (n, n_latents, w); others are zero.
        tight_unit: Makes `across` a unit vector, 0 where weak, (n, w).
        tight_scale: One over the root of a tight precision, (n, w).
        pull: From weights in units of their noise to the tight centre, (n, w, n_weights).
        tight_count: How many are tight, (n,).
    """

    across: Floats
    back: Floats
    weak_scale: Floats
    forward: Floats
    tight_unit: Floats
    tight_scale: Floats
    pull: Floats
    tight_count: Floats

    @classmethod
    def of_slopes(cls, slopes: Floats) -> _Axes:
        """The axes of slopes in units of the noise, (n, n_weights, n_latents)."""
        held = slopes
        if slopes.shape[1] > slopes.shape[2]:
            held = np.asarray(np.linalg.qr(slopes, mode="r"))
        found, turns = np.linalg.eigh(held @ np.ascontiguousarray(np.swapaxes(held, 1, 2)))
        found = np.maximum(found, 0.0)
        across = np.ascontiguousarray(np.swapaxes(turns, 1, 2)) @ held
        is_tight, kept = 1.0 + found >= WEAK_BELOW, np.maximum(found, _NO_FIT)
        weak = np.where(found > _NO_FIT, np.expm1(-0.5 * np.log1p(found)) / kept, -0.5)
        unit = np.where(is_tight, 1.0 / np.sqrt(kept), 0.0)
        back = np.ascontiguousarray(np.swapaxes(across, 1, 2))
        forward = back * unit[:, None]
        turned = np.ascontiguousarray(np.swapaxes(slopes @ forward, 1, 2))
        return cls(
            across,
            back,
            np.where(is_tight, -1.0 / kept, weak),
            forward,
            unit,
            1.0 / np.sqrt(1.0 + found),
            turned / (1.0 + found)[:, :, None],
            is_tight.sum(axis=1).astype(np.float64),
        )


def _copies(log_weights: Floats) -> Indices:
    """How often each draw is taken, (n, n_draws): systematic resampling of truncated weights."""
    count = log_weights.shape[1]
    finite = np.where(np.isfinite(log_weights), log_weights, -np.inf)
    share = np.exp(finite - finite.max(axis=1, keepdims=True))
    share = np.minimum(share, share.mean(axis=1, keepdims=True) * np.sqrt(count))
    share /= share.sum(axis=1, keepdims=True)
    edges = np.cumsum(share, axis=1)
    start = float(np.random.default_rng(PREVIEW_SEED).random())
    until = np.floor(edges / edges[:, -1:] * count - start) + 1.0
    until = np.clip(until, 0.0, count).astype(np.intp)
    until[:, -1] = count
    return np.asarray(np.diff(until, axis=1, prepend=0))


@lru_cache(maxsize=64)
def _news(count: int) -> Floats:
    """What the drift hears after the weights, (n_draws, n_knots), as the one-by-one answer draws it."""
    rng = np.random.default_rng(PREVIEW_SEED)
    rng.random()
    return rng.standard_normal((PREVIEW_DRAWS, count))


@dataclass(frozen=True, eq=False)
class _Outlook:
    """Equally likely draws half a day before the question; arrays (n, n_draws).

    Attributes:
        population: The parameters.
        breast_ml_d: Intake at the breast, mL/day.
        weight_g: True weight.
        need: Relative expenditure.
        density: Energy of the milk late in lactation, kcal/mL.
        cost_kcal_g: Energy that a gram of tissue takes, kcal.
    """

    population: Population
    breast_ml_d: Floats
    weight_g: Floats
    need: Floats
    density: Floats
    cost_kcal_g: Floats

    @classmethod
    def at(
        cls,
        problems: Problems,
        modes: Modes,
        evidence: ManyEvidence,
        shape: _Shape,
        index: Indices,
    ) -> _Outlook:
        """The outlook of some infants of one shape."""
        drawn = _draw(problems, modes)
        copies = _copies(drawn.log_weights)
        n, count = copies.shape
        chosen = np.repeat(np.tile(np.arange(count), n), copies.ravel()).reshape(n, count)
        paths, p = drawn.paths, problems.courses.population
        if shape.news:
            z = np.take_along_axis(drawn.z, chosen[:, None], axis=2)
            news = _news(shape.ahead)[:, : shape.news].T
            z = np.concatenate([z, np.broadcast_to(news, (n, *news.shape))], axis=1)
            middle = np.maximum(evidence.now_d[index] - _HALF_DAY, 0.0)
            courses = _courses(
                evidence, p, index, middle[:, None], shape.knots + shape.news, shape.sittings
            )
            paths = courses.paths(z)
            chosen = np.broadcast_to(np.arange(count), (n, count))
        return cls(
            p,
            *(
                np.take_along_axis(one, chosen, axis=1)
                for one in (
                    paths.birth_kg[:, 0] * paths.breast_ml_kg_d[:, -1],
                    paths.weight_g[:, -1],
                    paths.factors[:, NEED],
                    paths.factors[:, DENSITY],
                    paths.factors[:, COST],
                )
            ),
        )

    def quantiles(
        self, middle_d: Floats, required_g_per_day: Floats, limit_g_per_day: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Quantiles of intake and requirement, (n, 7) each, and the chance that it is short, (n,).

        As `infant.outlook.look_out` and the figures of the estimate.
        """
        expenditure, energy_share = clocks(middle_d, self.population)
        kept = expenditure[:, None] * self.need * self.weight_g / 1000.0
        density = energy_share[:, None] * self.density
        need, least = (
            kept + gain[:, None] * self.cost_kcal_g
            for gain in (required_g_per_day, limit_g_per_day)
        )
        count = self.need.shape[1]
        is_short = self.breast_ml_d * density < least
        return (
            pick(np.sort(self.breast_ml_d, axis=1), LEVELS),
            pick(np.sort(need / density, axis=1), LEVELS),
            (np.count_nonzero(is_short, axis=1) + 0.5) / (count + 1.0),
        )
