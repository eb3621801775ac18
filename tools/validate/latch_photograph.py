"""The reading of a latch in a photograph on simulated ones, beside a protractor on the picture.

python -m tools.validate.latch_photograph [--count N] [--page PAGE.md]
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from tools.validate.latches import NINE, Floats, Latch, LatchWorld, draw

from suffice.assess.parameters import parameters_of
from suffice.inference.latch.model import LatchParameters
from suffice.inference.latch.reading import LatchReading, Photographed, Wide, read_latch
from suffice.knowledge.store import load

SEED = 2026
WORLDS: dict[str, LatchWorld] = {
    "9 marks, view unknown": LatchWorld(marks=NINE),
    "12 marks, view unknown": LatchWorld(),
    "9 marks, 'from the side', true": LatchWorld(marks=NINE, view="side", turn_deg=15),
    "12 marks, 'from the side', true": LatchWorld(view="side", turn_deg=15),
    "9 marks, 'from the side', up to 30": LatchWorld(marks=NINE, view="side", turn_deg=30),
    "12 marks, 'from the side', up to 30": LatchWorld(view="side", turn_deg=30),
    "12 marks three times, view unknown": LatchWorld(repeats=3),
    "12 marks three times, 'from the side', true": LatchWorld(repeats=3, view="side", turn_deg=15),
    "12 marks, two photographs": LatchWorld(photos=2),
    "12 marks, turn -45": LatchWorld(fixed_deg=-45),
    "12 marks, turn 0": LatchWorld(fixed_deg=0),
    "12 marks, turn 45": LatchWorld(fixed_deg=45),
    "12 marks, error twice the assumed": LatchWorld(noise=2),
    "second world: 12 marks, view unknown": LatchWorld(is_other=True),
    "second world: 9 marks, 'from the side', true": LatchWorld(
        marks=NINE, view="side", turn_deg=15, is_other=True
    ),
    "second world: 12 marks, 'from the side', true": LatchWorld(
        view="side", turn_deg=15, is_other=True
    ),
    "second world: 12 marks three times": LatchWorld(repeats=3, is_other=True),
    "second world: 12 marks, two photographs": LatchWorld(photos=2, is_other=True),
}
MISSED_VIEWS = ("9 marks, 'from the side', up to 30", "12 marks, 'from the side', up to 30")
UNFAIR = ("12 marks, error twice the assumed",)
"""Rows that no target asks to be covered."""


@dataclass(frozen=True, eq=False)
class Row:
    """What came of one world."""

    latches: Sequence[Latch]
    readings: Sequence[LatchReading]
    ms: float

    def off(self, measure: str) -> Floats:
        """Value minus truth."""
        pairs = zip(self.readings, self.latches, strict=True)
        return np.array([getattr(r, measure).value - getattr(t, measure) for r, t in pairs])

    def covers(self, measure: str) -> float:
        """Share of intervals that hold the truth."""
        pairs = [
            (getattr(r, measure), getattr(t, measure))
            for r, t in zip(self.readings, self.latches, strict=True)
        ]
        return float(np.mean([one.low <= truth <= one.high for one, truth in pairs]))

    @property
    def half_width(self) -> float:
        """Mean half of the interval of the gape angle."""
        return float(np.mean([(one.gape_deg.high - one.gape_deg.low) / 2 for one in self.readings]))

    @property
    def protractor(self) -> tuple[float, float]:
        """RMSE of the angle in the picture, and how often it is on the wrong side of 130."""
        read = np.array([one.in_picture.gape_deg for one in self.readings])
        true = np.array([one.gape_deg for one in self.latches])
        return _rmse(read - true), float(np.mean((read >= WIDE_DEG) != (true >= WIDE_DEG)))

    def said(self, wide: Wide) -> float:
        """How often that is said."""
        return float(np.mean([one.wide is wide for one in self.readings]))

    def wrong(self, wide: Wide) -> tuple[int, int]:
        """How often 'clear' or 'short' is said and wrong, and how often it is said."""
        true = [
            t.gape_deg for r, t in zip(self.readings, self.latches, strict=True) if r.wide is wide
        ]
        return sum((one >= WIDE_DEG) == (wide is Wide.SHORT) for one in true), len(true)


PARAMETERS: LatchParameters = parameters_of(load()).latch_photograph
WIDE_DEG = PARAMETERS.wide_deg.value


def _rmse(off: Floats) -> float:
    return float(np.sqrt(np.mean(off**2)))


def run(world: LatchWorld, count: int) -> Row:
    """Draw and read the latches of one world."""
    rng = np.random.default_rng(SEED)
    latches = [draw(world, rng) for _ in range(count)]
    since = time.process_time()
    readings = [read_latch(one.photos, PARAMETERS) for one in latches]
    return Row(latches, readings, 1000 * (time.process_time() - since) / count / world.photos)


def narrower(count: int) -> tuple[int, int]:
    """In how many latches a third mark of each place made the interval wider, of how many."""
    rng = np.random.default_rng(SEED)
    wider = 0
    for _ in range(count):
        (photo,) = draw(LatchWorld(repeats=3), rng).photos
        first = Photographed(photo.marks[: len(photo.marks) // 3])
        one, three = (read_latch([each], PARAMETERS).gape_deg for each in (first, photo))
        wider += three.high - three.low > one.high - one.low
    return wider, count


def targets(rows: dict[str, Row], widened: tuple[int, int]) -> Iterator[tuple[str, str, str, bool]]:
    """What was set before it was written, what came, and whether it is met."""
    for name, most in (
        ("12 marks, view unknown", 12.5),
        ("12 marks, 'from the side', true", 11.5),
        ("12 marks three times, 'from the side', true", 9.0),
        ("12 marks, two photographs", 10.5),
    ):
        came = _rmse(rows[name].off("gape_deg"))
        yield f"{name}: RMSE", f"at most {most}", f"{came:.1f}", came <= most
    for name, row in rows.items():
        if name in UNFAIR:
            continue
        came = row.covers("gape_deg")
        if name in MISSED_VIEWS:
            yield f"{name}: 80 % interval covers", "at least 0.74", f"{came:.3f}", came >= 0.74
        else:
            met = 0.74 <= came <= 0.88
            yield f"{name}: 80 % interval covers", "0.74 to 0.88", f"{came:.3f}", met
    for wide in (Wide.CLEAR, Wide.SHORT):
        wrong, said = np.sum([row.wrong(wide) for row in rows.values()], axis=0)
        share = wrong / max(said, 1)
        yield f"'{wide}' wrong, all rows", "at most 0.08", f"{share:.3f} of {said}", share <= 0.08
    behind = [
        reading.wide
        for row in rows.values()
        for reading in row.readings
        if reading.in_picture.gape_deg > 180
    ]
    every = all(one is Wide.CANNOT_TELL for one in behind)
    yield "picture angle above 180: 'cannot tell'", "always", f"{len(behind)} pictures", every
    yield (
        "a third mark of each place made it wider", "never", f"{widened[0]} of {widened[1]}",
        widened[0] == 0,
    )  # fmt: skip
    slowest = max(row.ms for row in rows.values())
    yield "processor time a photograph, mean ms", "at most 50", f"{slowest:.0f}", slowest <= 50


def table(rows: dict[str, Row], line: Callable[[Row], list[str]]) -> Iterator[str]:
    """The rows of a table in Markdown."""
    for name, row in rows.items():
        yield f"| {name} | " + " | ".join(line(row)) + " |"


def _accuracy(row: Row) -> list[str]:
    protractor, side = row.protractor
    return [
        f"{protractor:.0f}, {side:.2f}",
        f"{_rmse(row.off('gape_deg')):.1f}",
        f"{row.covers('gape_deg'):.2f}",
        f"{row.half_width:.1f}",
        f"{_rmse(row.off('turn_deg')):.1f}",
    ]


def _said(row: Row) -> list[str]:
    wrongs = (row.wrong(wide) for wide in (Wide.CLEAR, Wide.SHORT))
    return [
        *(f"{row.said(wide):.2f}" for wide in Wide),
        *(f"{wrong} of {said}" for wrong, said in wrongs),
    ]


def _others(row: Row) -> list[str]:
    return [
        f"{_rmse(row.off(one)):.{digits}f}, {row.covers(one):.2f}"
        for one, digits in (
            ("opening_ratio", 3), ("areola_share", 3), ("nose_gap_mm", 1), ("chin_gap_mm", 1),
        )
    ]  # fmt: skip


MISSED = (
    "What was missed was left as it came: the model was not fitted to these worlds until it met a target. A third mark that",
    "lies elsewhere can widen an interval; the same mark repeated never does (tests/property/inference/test_latch.py).",
    "",
    "6000 draws are in use. With 1200 the weights leave too few, and intervals come out too narrow: on 300 latches of another",
    "seed (12 marks, view unknown) the 80 % interval of the angle covered .770 with 1200 draws and .813 with 6000.",
    "",
    "In the second world marks share a quarter of the variance of their error, which repeats cannot take away; the model takes a fifth, for one eye",
    "and hand (assumed). Before, it took none: three repeats there covered .713 on 1,200 latches of three other seeds, and .740 on 600 of them since.",
    "",
    "12 marks with the view unknown had an RMSE of 12.07 on 1,200 latches of three other seeds (11.9, 12.5, 11.9). In this world the model is the one that draws",
    "the infants, and its mean cannot be beaten but by luck; 12.7 is within the error of 400.",
    "",
    "Processor time was taken with one thread of arithmetic (`OMP_NUM_THREADS=1`), as the server has it, on a machine that others shared; 27 and 28 ms when it was less busy. With two threads, which wait for one another, it had come out at 195 ms.",
    "A change of the picture by shift, roll or zoom changes",
    "no bit of the answer (tests/property/inference/test_latch.py).",
    "",
)
"""What is said of what was missed; the figures were measured once, beside the rows."""


def page(rows: dict[str, Row], count: int, widened: tuple[int, int]) -> str:
    """The page of docs."""
    lines = [
        "# Validation: a latch in a photograph",
        "",
        f"Written by `python -m tools.validate.latch_photograph`: {count} simulated latches a row, drawn by",
        "`tools/validate/latches.py`. **No photograph of a real infant was ever compared**, and nearly every figure",
        "of the model is assumed (`knowledge/content/latch_photograph.toml`): the first world draws infants from those same figures, so",
        "it shows that the computation is right, not that infants are so. The second world has other shapes, laws and errors.",
        f"The standard error of a share of .80 is {np.sqrt(0.16 / count):.3f}.",
        "",
        "The angle is the one that would be seen in a pure side view. The protractor reads it from the picture as it is.",
        "",
        "## Targets, set before it was written",
        "",
        "| what | target | came | met |",
        "|---|---:|---:|---|",
        *(
            f"| {what} | {target} | {came} | {'yes' if met else '**no**'} |"
            for what, target, came, met in targets(rows, widened)
        ),
        "",
        *MISSED,
        "## The gape angle",
        "",
        "| marks and view | protractor: RMSE, wrong side of 130 | RMSE | 80 % covers | half of it | turn: RMSE |",
        "|---|---:|---:|---:|---:|---:|",
        *table(rows, _accuracy),
        "",
        "## What is said of it",
        "",
        "| marks and view | clear | borderline | short | cannot tell | 'clear' wrong | 'short' wrong |",
        "|---|---:|---:|---:|---:|---:|---:|",
        *table(rows, _said),
        "",
        "## The other measures: RMSE, and how often the 80 % interval covers",
        "",
        "| marks and view | opening ratio | areola share | nose gap, mm | chin gap, mm |",
        "|---|---:|---:|---:|---:|",
        *table(rows, _others),
        "",
        "Millimetres rest on a distance of 46 mm from the tip of the nose to the chin, which no photograph knows.",
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run the rows, print the page or write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--page", type=Path)
    asked = parser.parse_args()
    rows = {name: run(world, asked.count) for name, world in WORLDS.items()}
    text = page(rows, asked.count, narrower(asked.count))
    if asked.page:
        asked.page.write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
