"""The rendered pages of papers against the grids that were looked at; what is moved, cut or darkened is found."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import pytest

from paper_pages import FEW, KEPT, grids, kept, moved, papers
from suffice.documents.page import Block, Box, Items, Paper, Paragraph

AGAIN = "look at the paper; if it is as it should be: PYTHONPATH=. python tests/paper_pages.py"


def far(before: list[str], after: list[str]) -> list[int]:
    """How many squares of each page differ; all of a page that is new or gone."""
    pages = max(len(before), len(after))
    pairs = zip(before + [""] * pages, after + [""] * pages, strict=False)
    return [len(moved(one, other)) for one, other in list(pairs)[:pages]]


@pytest.mark.parametrize("name", sorted(papers()))
def test_each_page_looks_as_it_was_looked_at(name: str) -> None:
    found = far(kept(name), grids(papers()[name]))
    assert max(found) <= FEW, f"{name}: {found} squares; {AGAIN}"


def test_there_is_no_grid_without_its_paper() -> None:
    assert {one.stem for one in KEPT.glob("*.txt")} == set(papers())


def without_last_line(paper: Paper) -> tuple[Block, ...]:
    return tuple(
        msgspec.structs.replace(one, items=one.items[:-1]) if isinstance(one, Items) else one
        for one in paper.blocks
    )


def without_box(paper: Paper) -> tuple[Block, ...]:
    return tuple(one for one in paper.blocks if not isinstance(one, Box))


def swapped(paper: Paper) -> tuple[Block, ...]:
    return (*paper.blocks[:-2], paper.blocks[-1], paper.blocks[-2])


def pushed_down(paper: Paper) -> tuple[Block, ...]:
    first, *others = paper.blocks
    text = next(one.said for one in others if isinstance(one, Paragraph))
    return (first, Paragraph(text), *others)


def without_picture(paper: Paper) -> tuple[Block, ...]:
    return tuple(one for one in paper.blocks if type(one).__name__ not in {"Dial", "Gallery"})


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("plan", without_last_line),
        ("plan", without_box),
        ("plan", swapped),
        ("plan", pushed_down),
        ("plan", without_picture),
        ("positions", without_picture),
        ("letter", without_last_line),
        ("discharge", swapped),
        ("waking-ar", pushed_down),
    ],
)
def test_what_is_moved_or_cut_is_found(
    name: str, fault: Callable[[Paper], tuple[Block, ...]]
) -> None:
    paper = papers()[name]
    wrong = msgspec.structs.replace(paper, blocks=fault(paper))
    assert wrong.blocks != paper.blocks
    assert max(far(kept(name), grids(wrong))) > 2 * FEW


def test_a_smaller_letter_and_a_page_from_the_other_side_are_found() -> None:
    plan, arabic = papers()["plan"], papers()["waking-ar"]
    small = msgspec.structs.replace(plan, body_pts=(9.0,))
    assert max(far(kept("plan"), grids(small))) > 2 * FEW
    turned = msgspec.structs.replace(arabic, language="en")
    assert max(far(kept("waking-ar"), grids(turned))) > 2 * FEW


def test_a_grid_forgives_a_hair_and_shows_a_line() -> None:
    page = ".....\n.343.\n.343.\n....."
    assert moved(page, page.replace("4", "5")) == []
    assert moved(page, page.replace(".343.\n.343.", ".....\n.343.")) == [(1, 1), (1, 2), (1, 3)]
    assert moved(page, page + "\n777") == [(4, 0), (4, 1), (4, 2)]
