"""What is said of a latch in a photograph: each measure with its interval, and how wide the mouth is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.latch.geometry import Floats, InPicture, means, read_in_picture, straight
from suffice.clinical.latch.mark import PLACES, RIGID, Mark, View
from suffice.clinical.units import FULL_TURN_DEG, HALF_TURN_DEG
from suffice.inference.feed.reading import Between
from suffice.inference.latch.model import (
    ABOVE,
    BELOW,
    BREAST_CHIN,
    BREAST_NOSE,
    CHIN,
    CORNER,
    LOWER,
    NOSE,
    UPPER,
    WING,
    LatchParameters,
)
from suffice.inference.latch.posterior import Draws, draws_of, fitted, together

Counts = NDArray[np.intp]


ENOUGH_REPEATS = 3
"""Marks of a place after which one more is not asked for."""


class Wide(StrEnum):
    """How wide the mouth is open, as seen in a pure side view."""

    CLEAR = "clear"
    BORDERLINE = "borderline"
    SHORT = "short"
    CANNOT_TELL = "cannot tell"


class Why(StrEnum):
    """Why it cannot be told."""

    BEHIND = "behind"
    """The picture was taken from behind the mouth: its corner lies before the lips."""
    TURNED = "turned"
    """The camera may be too far from the side."""
    WIDE = "wide"
    """The interval is too wide."""


class Help(StrEnum):
    """What would make the interval narrower, the most helpful first."""

    RIGID = "rigid marks"
    REPEATS = "repeats"
    SECOND_PHOTO = "second photo"
    SIDE_VIEW = "side view"


@dataclass(frozen=True)
class Photographed:
    """The marks of one photograph, and what the photographer says of its view.

    `hidden` says that the areola below the lower lip lies behind the chin.
    """

    marks: tuple[Mark, ...]
    view: View = "unknown"
    hidden: bool = False


@dataclass(frozen=True)
class LatchReading:
    """The reading of one latch.

    Attributes:
        opening_ratio: Gap between the lips over tip of the nose to chin.
        areola_share: Visible above the upper lip over above and below; None: not marked.
        share_is_least: The areola below is hidden: the share is at least the low end of its interval.
        gape_deg: Angle at the corner of the mouth, as seen in a pure side view.
        nose_gap_mm: Tip of the nose to breast; None: not marked.
        chin_gap_mm: Chin to breast; None: not marked.
        turn_deg: Of the camera away from the side, toward the infant's front.
        wide: What is said of the gape angle.
        why: Why nothing is.
        is_side: Whether 'from the side' was said and the marks agree; None: it was not said.
        helps: What would help.
        in_picture: The first picture with ruler and protractor.
    """

    opening_ratio: Between
    areola_share: Between | None
    share_is_least: bool
    gape_deg: Between
    nose_gap_mm: Between | None
    chin_gap_mm: Between | None
    turn_deg: Between
    wide: Wide
    why: Why | None
    is_side: bool | None
    helps: tuple[Help, ...]
    in_picture: InPicture


def read_latch(photos: Sequence[Photographed], p: LatchParameters) -> LatchReading:
    """What one or two photographs of one latch say.

    Args:
        photos: With marks that :func:`suffice.clinical.latch.mark.mark_problems` accepts.
        p: Of the content.
    """
    laid = [means(one.marks) for one in photos]
    counts = [own for _, own in laid]
    every = [fitted(p, straight(at), own) for at, own in laid]
    pictures, fit = [one.picture for one in every], together(p, every)
    found = draws_of(p, pictures, fit, [None] * len(photos))
    answers = [
        _agrees(found, index, own, p) if one.view == "side" else None
        for index, (one, own) in enumerate(zip(photos, counts, strict=True))
    ]
    if any(answers):
        side_sd = float(np.radians(p.side_turn_sd_deg.value))
        found = draws_of(p, pictures, fit, [side_sd if agrees else None for agrees in answers])
    in_pictures = [read_in_picture(one.straight) for one in pictures]
    return _reading(found, photos, counts, in_pictures, answers, p)


def _agrees(found: Draws, index: int, counts: Counts, p: LatchParameters) -> bool:
    """Whether the marks speak for a side view at least as well as for any other.

    Without two of the marks that no latch moves nothing could speak against it, so it is not taken.
    """
    if sum(counts[PLACES.index(place)] > 0 for place in RIGID) < 2:
        return False
    sd = np.radians(p.side_turn_sd_deg.value)
    most = np.radians(p.turn_most_deg.value)
    near = np.exp(-((found.turn[:, index] / sd) ** 2) / 2) / (sd * np.sqrt(2 * np.pi))
    return bool(found.weights @ near * 2 * most >= 1)


def _reading(
    found: Draws,
    photos: Sequence[Photographed],
    counts: Sequence[Counts],
    in_pictures: Sequence[InPicture],
    answers: Sequence[bool | None],
    p: LatchParameters,
) -> LatchReading:
    at = found.at_mm
    gape = gape_deg(at)
    gape_found = _between(gape, found.weights, p)
    turn = [
        _between(np.degrees(found.turn[:, index]), found.weights, p) for index in range(len(photos))
    ]
    wide, why = _wide(gape, gape_found, turn, in_pictures, found.weights, p)
    marked = np.max(counts, axis=0) > 0
    hidden = any(one.hidden for one in photos) and not marked[BELOW]
    share = _share(at, hidden=hidden) if marked[ABOVE] and (marked[BELOW] or hidden) else None
    return LatchReading(
        opening_ratio=_between(
            _length(at, UPPER, LOWER) / _length(at, NOSE, CHIN), found.weights, p
        ),
        areola_share=None if share is None else _between(share, found.weights, p),
        share_is_least=hidden,
        gape_deg=gape_found,
        nose_gap_mm=_between(_length(at, NOSE, BREAST_NOSE), found.weights, p)
        if marked[BREAST_NOSE]
        else None,
        chin_gap_mm=_between(_length(at, CHIN, BREAST_CHIN), found.weights, p)
        if marked[BREAST_CHIN]
        else None,
        turn_deg=turn[0],
        wide=wide,
        why=why,
        is_side=answers[0],
        helps=_helps(wide, counts, answers),
        in_picture=in_pictures[0],
    )


def gape_deg(at: Floats) -> Floats:
    """The angle at the corner on the midline plane, on the side of the breast, 0 to 360; (n,)."""
    upper, lower = (at[:, one, :2] - at[:, CORNER, :2] for one in (UPPER, LOWER))
    turn = np.arctan2(upper[:, 1], upper[:, 0]) - np.arctan2(lower[:, 1], lower[:, 0])
    return np.asarray(np.degrees(turn) % FULL_TURN_DEG)


def _length(at: Floats, one: int, other: int) -> Floats:
    """On the midline plane, (n,)."""
    return np.asarray(np.hypot(*(at[:, one, :2] - at[:, other, :2]).T))


def _share(at: Floats, *, hidden: bool) -> Floats:
    """The areola above over above and below; hidden, below is at most as far as the chin."""
    above = _length(at, UPPER, ABOVE)
    below = _length(at, LOWER, CHIN if hidden else BELOW)
    return np.asarray(above / (above + below))


def _between(values: Floats, weights: Floats, p: LatchParameters) -> Between:
    """Weighted mean and interval."""
    level = p.level_fraction.value
    order = np.argsort(values, kind="stable")
    rising = weights[order].cumsum() - weights[order] / 2
    low, high = np.interp([(1 - level) / 2, (1 + level) / 2], rising, values[order])
    return Between(float(np.clip(values @ weights, low, high)), float(low), float(high))


def _wide(
    gape: Floats,
    found: Between,
    turns: Sequence[Between],
    in_pictures: Sequence[InPicture],
    weights: Floats,
    p: LatchParameters,
) -> tuple[Wide, Why | None]:
    if any(one.gape_deg > HALF_TURN_DEG for one in in_pictures):
        return Wide.CANNOT_TELL, Why.BEHIND
    unread = p.turn_unread_deg.value
    if any(max(-one.low, one.high) >= unread for one in turns):
        return Wide.CANNOT_TELL, Why.TURNED
    chance = float(weights[gape >= p.wide_deg.value].sum())
    if chance >= p.sure_fraction.value:
        return Wide.CLEAR, None
    if 1 - chance >= p.sure_fraction.value:
        return Wide.SHORT, None
    if (found.high - found.low) / 2 > p.widest_deg.value:
        return Wide.CANNOT_TELL, Why.WIDE
    return Wide.BORDERLINE, None


def _helps(
    wide: Wide,
    counts: Sequence[Counts],
    answers: Sequence[bool | None],
) -> tuple[Help, ...]:
    """What has not been done yet of what helps, where it would."""
    if wide in {Wide.CLEAR, Wide.SHORT}:
        return ()
    most = np.max(counts, axis=0)
    found = []
    if (most[WING:] == 0).any():
        found.append(Help.RIGID)
    if (most[[UPPER, LOWER, CORNER]] < ENOUGH_REPEATS).any():
        found.append(Help.REPEATS)
    if len(counts) < 2:
        found.append(Help.SECOND_PHOTO)
    if not any(answers):
        found.append(Help.SIDE_VIEW)
    return tuple(found)
