"""Pictures of logs: the sheet as it is printed, ticked by a simulated pen, then photographed badly."""

from __future__ import annotations

import io
import tempfile
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from suffice.documents.frame import BODY_PTS, TITLE_PT
from suffice.documents.home_log import log_blocks
from suffice.documents.page import Paper, pictures_of
from suffice.documents.speaker import Speaker
from suffice.inference.home_log import grid
from suffice.inference.home_log.finding import evened, found
from suffice.knowledge.policy import Language, PaperSize, Policy

PPI: Final = 170.0
POSITION: Final = 2
"""Of the infant whose sheet it is."""
Ticked = frozenset[tuple[int, int]]
"""Boxes, each a row and a column, that somebody ticked or wrote into."""


class Bad(NamedTuple):
    """How badly a sheet was photographed.

    Attributes:
        turn_deg: How far it is turned.
        slant: How far the corners are off where they would be seen from straight above, as a share.
        shade: How much darker one side is than the other, 0 to 1.
        blur_pixels: SD of the blur.
        noise: SD of the noise of each pixel.
        small: Share of the size.
        quality: Of the JPEG.
        covered: Pieces of the sheet (left, top, right, bottom in mm of the frame) that something lies on.
    """

    turn_deg: float = 0.0
    slant: float = 0.0
    shade: float = 0.0
    blur_pixels: float = 0.0
    noise: float = 0.0
    small: float = 1.0
    quality: int = 88
    covered: tuple[tuple[float, float, float, float], ...] = ()


@cache
def sheet(size: PaperSize = "A4", language: Language = "en") -> Image.Image:
    """The empty log of a second-born infant, as it is printed."""
    speaker = Speaker(Policy(language=language))
    paper = Paper(
        title="Log",
        clinic="Clinic",
        language=language,
        size=size,
        as_of=datetime(2026, 11, 28, 10, tzinfo=UTC),
        head_left=speaker.say("Larkhaven Infant Feeding Service"),
        head_right=speaker.say("Perpetua, written Sat 28 Nov 2026, 10:00"),
        foot=speaker.say("Content 2026.11.9, template 2."),
        page_words=("Page ", " of ", ""),
        blocks=log_blocks(speaker, POSITION),
        body_pts=BODY_PTS["family"],
        title_pt=TITLE_PT["family"],
        most_pages=1,
    )
    with tempfile.TemporaryDirectory(prefix="suffice-log-") as home:
        pages = pictures_of(paper, Path(home), ppi=PPI)
    if len(pages) != 1:
        raise ValueError(f"the log takes {len(pages)} pages")
    return Image.open(io.BytesIO(pages[0])).convert("L")


@cache
def frame_of(size: PaperSize = "A4", language: Language = "en") -> NDArray[np.float64]:
    """From mm of the frame to pixels of the printed sheet."""
    at = found(evened(grey(sheet(size, language))))
    if at is None:
        raise ValueError("the sheet is not found in its own picture")
    return at.to_pixels


def grey(picture: Image.Image) -> NDArray[np.float64]:
    return np.asarray(picture.convert("L"), dtype=float) / 255


def drawn_ticks(rng: np.random.Generator, share: float = 0.12) -> Ticked:
    """Boxes that are ticked, each with that chance."""
    chosen = rng.random((grid.ROWS, len(grid.COLUMNS))) < share
    return frozenset((int(row), int(column)) for row, column in np.argwhere(chosen))


def ticked(
    rng: np.random.Generator,
    boxes: Ticked,
    *,
    size: PaperSize = "A4",
    language: Language = "en",
    pen_mm: float = 0.5,
    ink: float = 0.15,
) -> Image.Image:
    """The sheet with a hook, a cross, a dash or a number in each of the boxes, never twice the same."""
    picture = sheet(size, language).copy()
    draw = ImageDraw.Draw(picture)
    to_pixels = frame_of(size, language)
    scale = PPI / 25.4
    for row, column in sorted(boxes):
        place = grid.box(row, column)
        middle = np.array(
            [(place.left_mm + place.right_mm) / 2, (place.top_mm + place.bottom_mm) / 2]
        )
        middle += rng.normal(0, 0.6, 2)
        for line in _strokes(rng, grid.COLUMNS[column].kind):
            points = [_pixel(to_pixels, middle + point + rng.normal(0, 0.2, 2)) for point in line]
            draw.line(
                points, fill=int(255 * ink), width=max(1, round(pen_mm * scale)), joint="curve"
            )
    return picture


def _strokes(rng: np.random.Generator, kind: str) -> list[NDArray[np.float64]]:
    reach = rng.uniform(1.6, 2.6)
    if kind == "amount":
        return [np.array([(x, -2), (x, 2)]) for x in (-2.0, 2.0)] + [
            np.array([(-4, -2), (-1, -2), (-4, 2), (-1, 2)])
        ]
    form = rng.integers(3)
    if form == 0:
        return [np.array([(-reach, 0), (-reach / 3, reach * 0.8), (reach, -reach)])]
    if form == 1:
        return [
            np.array([(-reach, -reach), (reach, reach)]) * 0.8,
            np.array([(-reach, reach), (reach, -reach)]) * 0.8,
        ]
    return [np.array([(-reach, reach * 0.4), (reach, -reach * 0.4)])]


def _pixel(to_pixels: NDArray[np.float64], at_mm: NDArray[np.float64]) -> tuple[float, float]:
    u, v, w = to_pixels @ np.array([*at_mm, 1.0])
    return float(u / w), float(v / w)


def photographed(rng: np.random.Generator, picture: Image.Image, bad: Bad) -> NDArray[np.float64]:
    """The sheet as a telephone or a scanner gives it; grey values, 0 to 1."""
    made = picture.copy()
    draw = ImageDraw.Draw(made)
    for left, top, right, bottom in bad.covered:
        corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
        draw.polygon(
            [_pixel(frame_of(), np.array(one)) for one in corners], fill=int(rng.integers(70, 190))
        )
    made = _tilted(rng, made, bad)
    if bad.small != 1.0:
        made = made.resize(
            (round(made.width * bad.small), round(made.height * bad.small)),
            Image.Resampling.LANCZOS,
        )
    if bad.blur_pixels:
        made = made.filter(ImageFilter.GaussianBlur(bad.blur_pixels))
    values = np.asarray(made, dtype=float)
    if bad.shade:
        direction = rng.uniform(0, 2 * np.pi)
        y, x = np.mgrid[0 : values.shape[0], 0 : values.shape[1]]
        ramp = x / values.shape[1] * np.cos(direction) + y / values.shape[0] * np.sin(direction)
        ramp = (ramp - ramp.min()) / (ramp.max() - ramp.min())
        values = values * (1 - bad.shade * ramp)
    values = values + rng.normal(0, 255 * bad.noise, values.shape) if bad.noise else values
    out = io.BytesIO()
    Image.fromarray(np.clip(values, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=bad.quality)
    return grey(Image.open(out))


def _tilted(rng: np.random.Generator, picture: Image.Image, bad: Bad) -> Image.Image:
    """The sheet on a dark table, turned and seen at a slant."""
    pad = round(0.06 * picture.width)
    wide, tall = picture.width + 2 * pad, picture.height + 2 * pad
    table = Image.new("L", (wide, tall), 90)
    table.paste(picture, (pad, pad))
    if bad.slant:
        off = rng.uniform(0, bad.slant, (4, 2)) * (wide, tall)
        corners = [
            (off[0][0], off[0][1]),
            (wide - off[1][0], off[1][1]),
            (wide - off[2][0], tall - off[2][1]),
            (off[3][0], tall - off[3][1]),
        ]
        table = table.transform(
            table.size,
            Image.Transform.PERSPECTIVE,
            _coefficients(corners, (wide, tall)),
            Image.Resampling.BICUBIC,
            fillcolor=90,
        )
    if bad.turn_deg:
        table = table.rotate(bad.turn_deg, Image.Resampling.BICUBIC, expand=True, fillcolor=90)
    return table


def _coefficients(corners: list[tuple[float, float]], size: tuple[int, int]) -> list[float]:
    """What PIL asks of a perspective: from the place in the new picture to that in the old one."""
    old = [(0, 0), (size[0], 0), (size[0], size[1]), (0, size[1])]
    rows, values = [], []
    for (x, y), (u, v) in zip(corners, old, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        values += [u, v]
    return list(np.linalg.solve(np.array(rows, dtype=float), np.array(values, dtype=float)))
