"""The pages of papers as they are rendered, kept as grids of ink: a letter for each 5 mm of the sheet.

A grid is read like the page: `.` is blank, `0` to `f` how dark a square is. Typst sets and renders with the
project's own font, without a browser and without a font of the machine; the squares forgive what a later
version of it might draw a hair otherwise, and show in a diff what moved. Pictures would have to be as large
as the paper to show more, and boxes of text alone would not see a drawing, a line, or a tone.

`PYTHONPATH=. python tests/paper_pages.py` writes the grids anew; look at the papers before.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator, Mapping
from datetime import timedelta
from functools import cache
from pathlib import Path

from PIL import Image

from paper_source import (
    NOW,
    VISIT,
    folder,
    folder_of_record,
    fonts_home,
    records,
    visited,
)
from suffice.clinical.entry import Plan
from suffice.clinical.entry.clock import Act
from suffice.documents.folder import Folder, Offer
from suffice.documents.page import Paper, pictures_of
from suffice.documents.teaching_sheet import teaching_sheet

KEPT = Path(__file__).parent / "unit" / "documents" / "pages"
SQUARE_MM = 5
PX_PER_MM = 2
PPI = 25.4 * PX_PER_MM
LEVELS = ".0123456789abcdef"
FULL = 0.5
"""Share of ink of a square that is as dark as it is told: text has a fifth, a line of a table a tenth."""
APART = 3
"""Levels by which a square may differ: a stroke that is drawn a hair to the side."""
FEW = 8
"""Squares of a page that may differ by more: half a line of text."""
WORDS = {
    "clinic_name": "Larkhaven Infant Feeding Service",
    "phone_day": "555-0100",
    "phone_night": "555-0199",
    "emergency_number": "112",
    "crisis_number": "555-0177",
}


def grid_of(picture: bytes) -> str:
    """A page as a grid, a line for each 5 mm from the top."""
    with Image.open(io.BytesIO(picture)) as opened:
        grey = opened.convert("L")
    step = SQUARE_MM * PX_PER_MM
    wide, high = grey.width // step, grey.height // step
    small = grey.crop((0, 0, wide * step, high * step)).resize((wide, high), Image.Resampling.BOX)
    ink = small.tobytes()
    rows = (ink[at : at + wide] for at in range(0, len(ink), wide))
    return "\n".join("".join(_level(one) for one in row).rstrip(".") for row in rows)


def _level(light: int) -> str:
    share = (255 - light) / 255
    return LEVELS[min(round(share / FULL * (len(LEVELS) - 1)), len(LEVELS) - 1)]


def moved(kept: str, made: str) -> list[tuple[int, int]]:
    """The squares in which two grids differ by more than a hair, as line and column."""
    before, after = kept.split("\n"), made.split("\n")
    found = []
    for line in range(max(len(before), len(after))):
        one = before[line] if line < len(before) else ""
        other = after[line] if line < len(after) else ""
        wide = max(len(one), len(other))
        pairs = zip(one.ljust(wide, "."), other.ljust(wide, "."), strict=True)
        found += [
            (line, column)
            for column, (a, b) in enumerate(pairs)
            if abs(LEVELS.index(a) - LEVELS.index(b)) >= APART
        ]
    return found


CLOCK = (
    *(Act(starts_minutes=180 * n, minutes=30, what="breast") for n in range(1, 8)),
    *(Act(starts_minutes=180 * n + 30, minutes=15, what="milk") for n in range(1, 8)),
    *(Act(starts_minutes=180 * n + 45, minutes=30, what="express") for n in range(1, 8)),
    Act(starts_minutes=0, minutes=30, what="bottle", who="helper"),
    Act(starts_minutes=1335, minutes=285, what="sleep"),
)
"""A day by hand: what the schedule finds may change, how it is drawn may not."""
PLAN = Plan(
    move="first", goal="only the breast", feeds_count=8, gap_day_h=3, gap_night_h=4,
    at_breast="every feed", sides="both sides", breast_minutes=30, supplement_ml_per_day=240,
    supplement_feeds_count=8, supplement_ml=30, supplement_most_ml=45, milk="own, donor, formula",
    method="cup", express_for="build", sessions_count=8, session_minutes=15,
    session_sides="together", weigh_at=NOW + timedelta(days=2),
    contact_at=NOW + timedelta(days=1), ends_at=NOW + timedelta(days=3),
    clock=CLOCK,
)  # fmt: skip


# ---- which papers ----------------------------------------------------------------------------


@cache
def papers() -> Mapping[str, Paper]:
    """One of each paper, each block that a paper can have among them; on both sheets and from the right."""
    return dict(_papers())


def _papers() -> Iterator[tuple[str, Paper]]:
    made = _planned("A4")
    infant = made.record.infants[-1].id
    for kind in ("plan", "days", "log", "letter"):
        yield kind, made.paper(Offer(kind=kind, whose=infant))
    yield "note", made.paper(Offer(kind="note", whose=None))
    letter = _planned("letter")
    for kind in ("plan", "letter"):
        yield f"{kind}-us", letter.paper(Offer(kind=kind, whose=infant))
    yield "discharge", letter.paper(Offer(kind="discharge", whose=None))
    yield "positions", teaching_sheet(made.source, "positions")
    for name, key, size in (("days-first", "first-day", "letter"), ("days-third", "fluids", "A4")):
        young = folder(key, size=size, **WORDS)  # type: ignore[arg-type]
        infant = young.record.infants[-1].id
        yield name, young.paper(Offer(kind="days", whose=infant))
    arabic = folder("thriving", language="ar", **WORDS).source
    yield "waking-ar", teaching_sheet(arabic, "waking")


def _planned(size: str) -> Folder:
    record = records()["twin-trouble"]
    infant = record.infants[-1].id
    made = visited(record, (PLAN, infant))
    return folder_of_record(made, visit=VISIT, size=size, **WORDS)  # type: ignore[arg-type]


def grids(paper: Paper) -> list[str]:
    """Each page of a paper as a grid."""
    return [grid_of(one) for one in pictures_of(paper, fonts_home(), ppi=PPI)]


def kept(name: str) -> list[str]:
    """The grids of a paper as they were looked at."""
    return (KEPT / f"{name}.txt").read_text(encoding="utf-8").rstrip("\n").split("\n\f\n")


def write() -> None:
    """Keep the grids of the papers as they are now."""
    KEPT.mkdir(exist_ok=True)
    for name, paper in papers().items():
        (KEPT / f"{name}.txt").write_text("\n\f\n".join(grids(paper)) + "\n", encoding="utf-8")
        sys.stdout.write(f"{name}\n")


if __name__ == "__main__":
    write()
