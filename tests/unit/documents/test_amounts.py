"""The amounts of the first days in true size, beside what a stomach holds as taught and as measured."""

from __future__ import annotations

import itertools
import re

import msgspec
import pytest

from paper_source import SIZES, folder, folder_of_record, fonts_home, records, renamed
from suffice.documents.amounts import LINE_MM, FeedOfDay, across_mm, drawn_amounts
from suffice.documents.day_sheet import day_sheet
from suffice.documents.page import PaperSize, Rings, RingsPicture, page_count, pdf_of

NB = "\N{NO-BREAK SPACE}"
DAYS = (FeedOfDay(1, 2, 10), FeedOfDay(2, 5, 15), FeedOfDay(3, 15, 30), FeedOfDay(4, 30, 60))
PHONES = {"phone_day": "555-0100", "phone_night": "555-0199", "emergency_number": "112"}


def rings(key: str, **policy: str) -> Rings:
    """The drawing of the day-by-day sheet of a family."""
    made = folder(key, **policy)
    infant = made.record.infants[-1].id
    return next(one for one in day_sheet(made.source, infant).blocks if isinstance(one, Rings))


def radii(drawing: RingsPicture, line: str) -> list[float]:
    """Outer radii of the rings of a drawing that have this dash, mm, the largest first."""
    found = re.findall(rf'r="([\d.]+)"[^>]*stroke-dasharray="{line}"', drawing.svg)
    return [float(one) + LINE_MM / 2 for one in found]


@pytest.mark.parametrize(
    ("ml", "mm"), [(5, 21.2), (7, 23.7), (10, 26.7), (15, 30.6), (30, 38.6), (60, 48.6)]
)
def test_a_ring_is_as_wide_as_a_ball_of_its_volume(ml: float, mm: float) -> None:
    assert across_mm(ml) == pytest.approx(mm, abs=0.05)


def test_each_day_has_the_ring_of_its_most_and_today_that_of_its_least() -> None:
    feeds, _stomach = drawn_amounts(folder("first-day").source, DAYS, 0.0).pictures
    wide = [across_mm(one.high_ml) / 2 for one in reversed(DAYS)]
    assert radii(feeds, "none") == pytest.approx(wide, abs=0.06)
    assert radii(feeds, "2 1.4") == pytest.approx([across_mm(2) / 2], abs=0.06)
    assert feeds.width_mm > feeds.height_mm == pytest.approx(across_mm(60))


@pytest.mark.parametrize(("key", "taught"), [("first-day", (5, 7)), ("fluids", (22, 27))])
def test_the_taught_stomach_stands_dotted_beside_the_measured_one(
    key: str, taught: tuple[int, int]
) -> None:
    made = rings(key)
    stomach = made.pictures[1]
    assert radii(stomach, "none") == pytest.approx([across_mm(20) / 2], abs=0.06)
    assert radii(stomach, "0.1 1.2") == pytest.approx([across_mm(taught[1]) / 2], abs=0.06)
    assert f"Often taught (dotted): {taught[0]} to {taught[1]}" in stomach.alt.replace(NB, " ")
    assert "Measured at birth: about 20" in stomach.alt
    sources = made.sources[0].text
    assert "Bergman 2013" in sources
    assert "Academy of Breastfeeding Medicine" in sources
    assert "As taught: common practice, no source" in sources


def test_no_words_cover_each_other_and_all_are_in_the_alt() -> None:
    for picture in (*rings("first-day").pictures, *rings("fluids").pictures):
        places = [one.at_mm for one in picture.rings]
        assert all(later - sooner >= 5 for sooner, later in itertools.pairwise(places))
        for one in picture.rings:
            assert "".join(run.text for run in one.said) in picture.alt
        assert "<text" not in picture.svg


def test_ounces_stand_beside_the_most() -> None:
    said = "".join(run.text for run in rings("fluids", volume_unit="oz").pictures[0].rings[0].said)
    assert "mL (to" in said
    assert "oz" in said


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_sheet_of_a_first_day_is_one_page_with_the_longest_name(
    language: str, size: PaperSize
) -> None:
    record = renamed(
        records()["ward-loss"], "Maximiliana-Alexandrina van der Westerhuizen-Okonkwo-Abara"
    )
    for key, made in (("ward-loss", record), ("first-day", records()["first-day"])):
        source = folder_of_record(
            made, size=size, language=language, volume_unit="oz", **PHONES
        ).source
        paper = day_sheet(source, made.infants[-1].id)
        assert page_count(pdf_of(paper, fonts_home())) == 1, key


def test_a_day_after_the_table_draws_nothing() -> None:
    made = folder("few-wets")
    blocks = day_sheet(made.source, made.record.infants[-1].id).blocks
    assert not any(isinstance(one, Rings) for one in blocks)
    assert msgspec.json.encode(blocks)
