"""The log of a day on paper: one page in both sizes and languages, easy words, boxes where the reader looks."""

from __future__ import annotations

import io
import re
from typing import Any

import numpy as np
import pytest
from PIL import Image

from paper_source import SIZES, folder, folder_of_record, fonts_home, records, renamed
from pdf_reader import Seen, see
from reading_level import level_of
from suffice.documents.folder import Folder, Offer
from suffice.documents.page import Grid, pdf_of, pictures_of
from suffice.inference.home_log import grid
from suffice.inference.home_log.reading import read_log

KEY = "twin-trouble"
LONG = "Marguerite-Constance Okoro-Santos de la Fuente y Castellanos"


def paper(made: Folder) -> Any:
    return made.paper(Offer(kind="log", whose=made.source.assessment.infants[0].infant_id))


def seen(made: Folder) -> Seen:
    found = see(pdf_of(paper(made), fonts_home()), language=made.source.policy.language)
    assert found.faults == ()
    return found


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_it_is_one_page_with_a_row_an_hour_and_an_example(size: Any, language: Any) -> None:
    found = seen(folder(KEY, size=size, language=language))
    assert found.pages == 1
    rows = found.of("TR")
    assert len(rows) == grid.ROWS + 2
    assert [row for row in rows if row.startswith("8:00")]
    assert "7:00" in rows[-1]
    assert len([one for one in found.tags if one.kind == "TH"]) == len(grid.COLUMNS) + 1


@pytest.mark.parametrize(("name", "language"), [(LONG, "es"), ("مريم", "en")])
def test_a_long_name_and_one_from_the_right_leave_it_one_page(name: str, language: Any) -> None:
    record = renamed(records()[KEY], name)
    found = seen(folder_of_record(record, size="letter", language=language))
    assert found.pages == 1


@pytest.mark.parametrize(("language", "grade"), [("en", 6.0), ("es", 65.0)])
def test_a_twelve_year_old_reads_it(language: Any, grade: float) -> None:
    found = seen(folder(KEY, language=language))
    level = level_of([*found.of("H1"), *found.of("P")], language)
    assert level.longest <= 20
    assert level.grade <= grade if language == "en" else level.perspicuity >= grade


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_what_is_printed_is_what_the_reader_finds(size: Any, language: Any) -> None:
    made = folder(KEY, size=size, language=language)
    picture = Image.open(io.BytesIO(pictures_of(paper(made), fonts_home(), ppi=110)[0])).convert(
        "L"
    )
    found = read_log(np.asarray(picture, dtype=float) / 255)
    assert found is not None
    assert found.infant == made.source.assessment.infants[0].position
    assert {box for cells in found.boxes for box in cells} == {"empty"}


@pytest.mark.parametrize("size", SIZES)
def test_marks_and_boxes_are_printed_in_true_size(size: Any) -> None:
    made = folder(KEY, size=size)
    ppi = 200
    picture = Image.open(io.BytesIO(pictures_of(paper(made), fonts_home(), ppi=ppi)[0])).convert(
        "L"
    )
    found = read_log(np.asarray(picture, dtype=float) / 255)
    assert found is not None
    (left, top), (right, _), (_, bottom), _ = (
        _at(found.to_pixels, centre) for centre in grid.mark_centres()
    )
    mm = 25.4 / ppi
    assert abs((right - left) * mm - (grid.WIDTH_MM - grid.MARK_MM)) < 0.2
    assert abs((bottom - top) * mm - (grid.HEIGHT_MM - grid.MARK_MM)) < 0.2


def _at(to_pixels: Any, centre: tuple[float, float]) -> tuple[float, float]:
    u, v, w = to_pixels @ np.array([*centre, 1.0])
    return float(u / w), float(v / w)


def test_each_infant_of_twins_has_a_sheet_of_its_own_that_names_it() -> None:
    made = folder(KEY)
    offers = [one for one in made.offers() if one.kind == "log"]
    strips = []
    for offer in offers:
        block = next(one for one in made.paper(offer).blocks if isinstance(one, Grid))
        strips.append(block.squares_mm)
    assert len(set(strips)) == len(made.source.assessment.infants) == 2


def test_nothing_of_the_family_stands_in_the_squares() -> None:
    """The strip has the version of the grid and a place among siblings, and nothing else."""
    assert len(grid.code_of(1)) == 12
    assert re.fullmatch(r"[01]+", "".join(map(str, grid.code_of(1))))
