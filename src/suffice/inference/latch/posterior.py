"""Which mouths, breasts and cameras the marks allow: weighted draws of them.

For each of a few turns of the camera the likeliest scene is found (Levenberg and Gauss-Newton on
residuals over their SD and on the standard normal numbers of the scene), and how far it may be off
(Laplace). Draws from there carry importance weights, so that the answer does not hang on the Laplace
step. Where the picture lies, its roll and its size are projected out exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.latch.geometry import Floats, mirrored
from suffice.clinical.latch.mark import PLACES
from suffice.inference.latch.model import (
    ABOVE,
    BELOW,
    BREAST_CHIN,
    BREAST_NOSE,
    CHIN,
    CORNER,
    EAR,
    OF_CAMERA,
    OF_SCENE,
    Complexes,
    LatchParameters,
    scene,
    seen,
    seen_at,
)

DRAWS = 6000
"""With 1200 an effective hundred was left, and the intervals came out too narrow (docs/validation/latch-photograph.md)."""
_SEED = 46
_CELLS = 13
"""Turns that are tried."""
_PARTS = 5
"""Parts of a cell."""
_STEPS = 12
_FURTHEST = 3.0
"""By how much the log density may change from the middle of a cell to its edge."""
_WIDER = 1.08
"""By how much draws are spread wider than Laplace says, so that no weight grows large."""
_LEAST_SHARE = 1e-3
"""Turns of one picture with less are not tried together with those of another."""
_DAMPING, _CALMER, _BOLDER, _CLOSE = 0.01, 8.0, 0.25, 0.01
_UNLIKELY = 15.0
"""Log density below the best turn's at which a turn need not be found exactly."""


@dataclass(frozen=True, eq=False)
class Picture:
    """One picture, straight and in mm at the face.

    Attributes:
        at: Marks, complex, nan where there is none, (places,).
        sd_mm: Of their means, (places,).
        straight: The marks in parts of the nose-chin distance, (places, 2).
    """

    at: Complexes
    sd_mm: Floats
    straight: Floats


@dataclass(frozen=True, eq=False)
class Draws:
    """Scenes and cameras that the marks allow.

    Attributes:
        at_mm: Places in space when the first picture was taken, (draws, places, 3).
        turn: Of each camera in radians, (draws, pictures).
        weights: They sum to 1, (draws,).
    """

    at_mm: Floats
    turn: Floats
    weights: Floats


def picture(p: LatchParameters, straight: Floats, counts: NDArray[np.intp]) -> Picture:
    """A picture from its straight marks and how often each place was marked."""
    sd = np.full(len(PLACES), p.mark_sd_mm.value)
    for place, own in (
        (CORNER, p.mark_corner_sd_mm),
        (CHIN, p.mark_chin_sd_mm),
        (BREAST_NOSE, p.mark_breast_nose_sd_mm),
        (BREAST_CHIN, p.mark_breast_chin_sd_mm),
        (ABOVE, p.mark_areola_sd_mm),
        (BELOW, p.mark_areola_sd_mm),
        (EAR, p.mark_ear_sd_mm),
    ):
        sd[place] = own.value
    at: Complexes = np.ascontiguousarray(straight).view(np.complex128)[:, 0] * p.nose_chin_mm.value
    shared = p.mark_shared_fraction.value
    return Picture(at, sd * np.sqrt(shared + (1 - shared) / np.maximum(counts, 1)), straight)


@dataclass(frozen=True, eq=False)
class Fitted:
    """One picture with the scenes that fit it."""

    picture: Picture
    fit: _Fit


def fitted(p: LatchParameters, straight: Floats, counts: NDArray[np.intp]) -> Fitted:
    """What fits straight marks: as they are or mirrored, so that the infant looks to the right."""
    ways = [picture(p, one, counts) for one in (straight, mirrored(straight))]
    turns = _turns(p)[:, None]
    coarse = [_fit(p, [one], turns[1::2]).log_evidence for one in ways]
    chosen = ways[int(coarse[1] > coarse[0])]
    return Fitted(chosen, _fit(p, [chosen], turns))


def together(p: LatchParameters, every: Sequence[Fitted]) -> _Fit:
    """What fits all pictures of one mouth."""
    if len(every) == 1:
        return every[0].fit
    likely = [one.fit.turn[one.fit.shares() > _LEAST_SHARE, 0] for one in every]
    turns = np.stack([one.ravel() for one in np.meshgrid(*likely, indexing="ij")], axis=1)
    return _fit(p, [one.picture for one in every], turns)


def _turns(p: LatchParameters) -> Floats:
    most = np.radians(p.turn_most_deg.value)
    return np.linspace(-most, most, _CELLS)


@dataclass(frozen=True, eq=False)
class _Fit:
    """The likeliest scene for each cell of turns, and how far it may be off.

    Attributes:
        turn: Middles of the cells, (cells, pictures).
        width: Of a cell.
        best: The numbers there, (cells, numbers).
        shift: How they move with the turn, (cells, numbers, pictures).
        spread: Factor of the covariance of the numbers, (cells, numbers, numbers).
        log_det: Log determinant of that factor, (cells,).
        parts: Middles of the parts of a cell, from its own middle, (parts, pictures).
        log: Log density of each part of each cell, where every turn is alike, (cells, parts).
    """

    turn: Floats
    width: float
    best: Floats
    shift: Floats
    spread: Floats
    log_det: Floats
    parts: Floats
    log: Floats

    @property
    def log_evidence(self) -> float:
        """How well the marks fit in all, up to a constant."""
        return float(self.log.max() + np.log(np.exp(self.log - self.log.max()).sum()))

    def shares(self) -> Floats:
        """Share of each cell, (cells,)."""
        return np.asarray(np.exp(self.log - self.log_evidence).sum(axis=1))


@dataclass(frozen=True, eq=False)
class _Misfit:
    """Residuals over their SD, and how they move."""

    off: Floats
    by_number: Floats
    by_turn: Floats


def _fit(p: LatchParameters, pictures: Sequence[Picture], turn: Floats) -> _Fit:
    best, misfit = _likeliest(p, pictures, turn)
    slopes, across = misfit.by_number, misfit.by_number.transpose(0, 2, 1)
    curve = across @ slopes + np.eye(best.shape[1])
    factor = np.linalg.cholesky(curve)
    spread = np.linalg.inv(factor).transpose(0, 2, 1)
    log_det = -np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
    pull = across @ misfit.by_turn
    shift = -np.linalg.solve(curve, pull)
    along = misfit.by_turn.transpose(0, 2, 1)
    steep = (along @ misfit.off[:, :, None])[:, :, 0]
    bend = along @ misfit.by_turn + pull.transpose(0, 2, 1) @ shift
    width = float(_turns(p)[1] - _turns(p)[0])
    one = (np.arange(_PARTS) - (_PARTS - 1) / 2) * width / _PARTS
    parts = np.stack(
        [axis.ravel() for axis in np.meshgrid(*[one] * turn.shape[1], indexing="ij")], axis=1
    )
    fall = steep @ parts.T + np.einsum("pi,cij,pj->cp", parts, bend, parts) / 2
    # Far from any likely turn the parabola says little: it may not make up for a bad fit.
    log = (log_det - _badness(misfit.off, best))[:, None] - np.clip(fall, -_FURTHEST, _FURTHEST)
    return _Fit(
        turn=turn,
        width=width,
        best=best,
        shift=np.asarray(shift, dtype=np.float64),
        spread=spread,
        log_det=log_det,
        parts=parts,
        log=log,
    )


def _likeliest(
    p: LatchParameters, pictures: Sequence[Picture], turn: Floats
) -> tuple[Floats, _Misfit]:
    """Levenberg steps for all cells at once, until none gets much better."""
    best = np.zeros((len(turn), _numbers(pictures)))
    misfit = _misfit(p, pictures, best, turn)
    bad = _badness(misfit.off, best)
    damping = np.full(len(turn), _DAMPING)
    for _ in range(_STEPS):
        across = misfit.by_number.transpose(0, 2, 1)
        down = (across @ misfit.off[:, :, None])[:, :, 0] + best
        curve = across @ misfit.by_number + (1 + damping)[:, None, None] * np.eye(best.shape[1])
        tried = best - np.linalg.solve(curve, down[:, :, None])[:, :, 0]
        after = _misfit(p, pictures, tried, turn)
        now = _badness(after.off, tried)
        better = now < bad
        matters = bad < bad.min() + _UNLIKELY
        is_close = np.abs(bad - now) < _CLOSE
        best = np.where(better[:, None], tried, best)
        misfit = _chosen(better, after, misfit)
        bad = np.where(better, now, bad)
        damping = np.where(better, damping * _BOLDER, (damping + _DAMPING) * _CALMER)
        if is_close[matters].all():
            break
    return best, misfit


def _chosen(better: NDArray[np.bool_], one: _Misfit, other: _Misfit) -> _Misfit:
    wide = better[:, None, None]
    return _Misfit(
        np.where(better[:, None], one.off, other.off),
        np.where(wide, one.by_number, other.by_number),
        np.where(wide, one.by_turn, other.by_turn),
    )


def _badness(off: Floats, numbers: Floats) -> Floats:
    """Minus the log density of residuals and numbers."""
    return np.asarray(((off**2).sum(axis=1) + (numbers**2).sum(axis=1)) / 2)


def _numbers(pictures: Sequence[Picture]) -> int:
    """Of the scene, of each camera, and of the jaw in each further picture."""
    return OF_SCENE + OF_CAMERA * len(pictures) + len(pictures) - 1


def _of_picture(index: int) -> tuple[slice, int | None]:
    """Where the numbers of a camera stand, and that of the jaw."""
    start = OF_SCENE + (OF_CAMERA + 1) * index
    return slice(start, start + OF_CAMERA), start - 1 if index else None


def _wider_mm(p: LatchParameters, numbers: Floats, jaw: int | None) -> Floats:
    return np.zeros(len(numbers)) if jaw is None else p.jaw_sd_mm.value * numbers[:, jaw]


def _misfit(
    p: LatchParameters, pictures: Sequence[Picture], numbers: Floats, turn: Floats
) -> _Misfit:
    """For each cell; (cells, residuals), (cells, residuals, numbers), (cells, residuals, pictures)."""
    off, by_number, by_turn = [], [], []
    for index, one in enumerate(pictures):
        camera, jaw = _of_picture(index)
        made = scene(p, numbers[:, :OF_SCENE], _wider_mm(p, numbers, jaw))
        view = seen(p, made.at, turn[:, index], numbers[:, camera])
        slopes = np.zeros((*view.at.shape, numbers.shape[1] + len(pictures)), dtype=complex)
        slopes[:, :, :OF_SCENE] = (view.by_place[:, :, None, :] @ made.slope)[:, :, 0]
        slopes[:, :, camera] = view.by_camera
        if jaw is not None:
            slopes[:, :, jaw] = p.jaw_sd_mm.value * (view.by_place * made.gap_slope).sum(axis=2)
        slopes[:, :, numbers.shape[1] + index] = view.by_turn
        left, moved = _beside(one, view.at, slopes)
        off.append(left)
        by_number.append(moved[:, :, : numbers.shape[1]])
        by_turn.append(moved[:, :, numbers.shape[1] :])
    return _Misfit(
        np.concatenate(off, axis=1),
        np.concatenate(by_number, axis=1),
        np.concatenate(by_turn, axis=1),
    )


def _beside(one: Picture, at: Complexes, slopes: Complexes) -> tuple[Floats, Floats]:
    """What is left between marks and places once the picture is shifted, rolled and sized to fit.

    How it moves leaves out what shift, roll and size take up again (Kaufman's approximation).
    """
    known = ~np.isnan(one.at)
    weigh = 1 / one.sd_mm[known]
    weights = weigh**2 / (weigh**2).sum()
    at, slopes = at[:, known], slopes[:, known]
    marks = one.at[known] - weights @ one.at[known]
    at = at - (at @ weights)[:, None]
    slopes = slopes - np.einsum("k,nkj->nj", weights, slopes)[:, None]
    size = (np.abs(at) ** 2) @ weights
    fit = (at.conj() * marks) @ weights / size
    taken = np.einsum("nk,nkj->nj", at.conj() * weights, slopes) / size[:, None]
    moved = -fit[:, None, None] * (slopes - at[:, :, None] * taken[:, None, :])
    left = (marks - fit[:, None] * at) * weigh
    moved = moved * weigh[:, None]
    return (
        np.concatenate([left.real, left.imag], axis=1),
        np.concatenate([moved.real, moved.imag], axis=1),
    )


def _squares(one: Picture, at: Complexes) -> Floats:
    """Sum of squared residuals over their SD, (n,); as :func:`_beside`, without how it moves."""
    known = ~np.isnan(one.at)
    weigh = 1 / one.sd_mm[known] ** 2
    weights = weigh / weigh.sum()
    marks = one.at[known] - weights @ one.at[known]
    at = at[:, known]
    at = at - (at @ weights)[:, None]
    size = (np.abs(at) ** 2) @ weights
    fit = (at.conj() * marks) @ weights
    return np.asarray(((np.abs(marks) ** 2) @ weights - np.abs(fit) ** 2 / size) * weigh.sum())


def _log_turn(side_sd: Sequence[float | None], turn: Floats) -> Floats:
    """Log prior of turns, (..., pictures), up to a constant: flat, or close to the side."""
    log = np.zeros(turn.shape[:-1])
    for index, sd in enumerate(side_sd):
        if sd is not None:
            log = log - (turn[..., index] / sd) ** 2 / 2
    return log


@lru_cache(maxsize=4)
def _fixed(numbers: int, pictures: int) -> tuple[Floats, Floats]:
    """Draws that never change: normal ones, and ones between -1/2 and 1/2."""
    # The stream of a RandomState is frozen for good; that of newer generators may change.
    stream = np.random.RandomState(_SEED)
    return stream.standard_normal((DRAWS, numbers)), stream.random_sample((DRAWS, pictures)) - 0.5


def draws_of(
    p: LatchParameters,
    pictures: Sequence[Picture],
    fit: _Fit,
    side_sd: Sequence[float | None],
) -> Draws:
    """Weighted draws of what the marks of one mouth allow; the same marks give the same draws.

    Args:
        p: Of the content.
        pictures: Of one mouth.
        fit: What fits them, see :func:`together`.
        side_sd: For each picture the SD of its turn in radians where it is known to be taken from
            the side, else None.
    """
    normal, within = _fixed(fit.best.shape[1], len(pictures))
    log = fit.log + _log_turn(side_sd, fit.turn[:, None] + fit.parts)
    shares = np.exp(log - log.max()).ravel()
    shares /= shares.sum()
    steps = (np.arange(DRAWS) + 0.5) / DRAWS
    chosen = np.minimum(np.searchsorted(shares.cumsum(), steps), len(shares) - 1)
    cell, part = np.divmod(chosen, len(fit.parts))
    away = fit.parts[part] + within * fit.width / _PARTS
    turn = fit.turn[cell] + away
    numbers = fit.best[cell] + (fit.shift[cell] @ away[:, :, None])[:, :, 0]
    for one in np.unique(cell):
        here = cell == one
        numbers[here] += _WIDER * normal[here] @ fit.spread[one].T
    log_weight = _log_turn(side_sd, turn) - (numbers**2).sum(axis=1) / 2
    first: Floats | None = None
    for index, one_picture in enumerate(pictures):
        camera, jaw = _of_picture(index)
        wider = _wider_mm(p, numbers, jaw)
        at = scene(p, numbers[:, :OF_SCENE], wider, with_slopes=False).at
        first = at if first is None else first
        view = seen_at(p, at, turn[:, index], numbers[:, camera])
        log_weight -= _squares(one_picture, view) / 2
    log_weight -= np.log(shares[chosen]) - fit.log_det[cell] - (normal**2).sum(axis=1) / 2
    weights = np.exp(log_weight - log_weight.max())
    weights = np.minimum(weights, weights.mean() * np.sqrt(DRAWS))
    return Draws(np.asarray(first), turn, weights / weights.sum())
