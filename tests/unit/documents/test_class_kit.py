"""The kit of a class: one idea a page in large letters, the same facts to take home, nothing of a family."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pikepdf
import pytest

from paper_source import SIZES, fonts_home
from pdf_reader import Seen, see
from reading_level import level_of
from suffice.documents.class_kit import (
    DECK_PTS,
    DECK_TITLE_PT,
    ParentsClass,
    Which,
    class_paper,
    deck,
    handout,
)
from suffice.documents.page import Box, Drawing, Heading, Items, PageBreak, Paper, pdf_of
from suffice.knowledge.policy import Policy
from suffice.knowledge.sheet import MOST_ON_A_PAGE
from suffice.knowledge.store import load

NB = "\N{NO-BREAK SPACE}"
SMALL_PT = 12.0
"""The foot; nothing else of a deck is so small."""
LEAST_PT = 20.0
"""The table; all else of a deck is larger."""
PHONES = {
    "phone_day": "555-0100",
    "phone_night": "555-0199",
    "emergency_number": "112",
    "crisis_number": "555-0177",
}


def given(language: str = "en", size: str = "A4", **policy: str) -> ParentsClass:
    return ParentsClass(
        content=load(),
        policy=Policy(zone="UTC", clinic_name="Larkhaven", language=language, **(PHONES | policy)),  # type: ignore[arg-type]
        size=size,  # type: ignore[arg-type]
        made_at=datetime(2026, 11, 29, 9, tzinfo=UTC),
    )


def pages(paper: Paper) -> list[list[object]]:
    """The blocks of each page of a deck."""
    found: list[list[object]] = [[]]
    for block in paper.blocks:
        if isinstance(block, PageBreak):
            found.append([])
        else:
            found[-1].append(block)
    return found


def read(which: Which, language: str, size: str) -> tuple[Seen, bytes]:
    pdf = pdf_of(class_paper(given(language, size), which), fonts_home())
    seen = see(pdf, language=language)
    assert seen.faults == ()
    return seen, pdf


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_each_idea_fits_its_page_which_lies_on_its_side(language: str, size: str) -> None:
    seen, pdf = read("deck", language, size)
    assert seen.pages == len(pages(deck(given(language, size))))
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        for page in opened.pages:
            _x, _y, width, height = (float(one) for one in page.MediaBox)  # type: ignore[union-attr]
            assert width > height
            assert sizes_pt(page) <= {SMALL_PT} | {one for one in sizes_pt(page) if one >= LEAST_PT}
            assert max(sizes_pt(page)) >= DECK_PTS[-1]


def test_each_page_of_the_deck_has_the_largest_letters_that_fit_it() -> None:
    """Two lines in 32 pt at the top left a page white for two thirds; the fullest page decided for all."""
    _seen, pdf = read("deck", "en", "A4")
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        sizes = [sizes_pt(page) - {SMALL_PT, DECK_TITLE_PT} for page in opened.pages]
    assert sizes[0] == {42.0}
    assert len({max(one) for one in sizes if one}) > 2


def sizes_pt(page: pikepdf.Page) -> set[float]:
    """Every size of letters on a page, as its content stream sets it."""
    return {
        round(float(operands[1]), 1)
        for operands, operator in pikepdf.parse_content_stream(page)
        if str(operator) == "Tf"
    }


def test_a_page_of_the_deck_has_one_heading_and_few_lines() -> None:
    for page in pages(deck(given())):
        assert sum(isinstance(one, Heading) for one in page) == 1
        lists = [one for one in page if isinstance(one, Items)]
        lists += [
            one
            for block in page
            if isinstance(block, Drawing)
            for one in block.beside
            if isinstance(one, Items)
        ]
        assert all(len(one.items) <= MOST_ON_A_PAGE + 1 for one in lists)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_handout_is_two_pages_at_the_level_of_twelve_year_olds(
    language: str, size: str
) -> None:
    seen, _pdf = read("handout", language, size)
    assert seen.pages == 2
    blocks = [t.text for t in seen.tags if t.kind in {"H1", "H2", "P", "LBody", "TH", "TD"}]
    found = level_of(blocks, language)
    assert found.longest <= 20
    assert found.perspicuity >= 65 if language == "es" else found.grade <= 6


def test_the_deck_teaches_nothing_that_the_handout_leaves_out() -> None:
    shown, _ = read("deck", "en", "A4")
    taken, _ = read("handout", "en", "A4")
    assert set(shown.of("LBody")) <= set(taken.of("LBody"))
    assert set(shown.of("TR")) == set(taken.of("TR"))
    rows = [one.replace(NB, " ") for one in shown.of("TR")]
    helps = [one for one in handout(given()).blocks if isinstance(one, Box)]
    asked = [one for box in helps for one in box.blocks if isinstance(one, Items)]
    count = sum(len(one.items) for one in asked)
    assert len(helps) == 1
    assert count >= 10
    # Each reason to call is on a page of its own, what is for today among them: it stood in the handout only.
    assert set(taken.of("LBody")[-count:]) <= set(shown.of("LBody"))
    assert "Day 7 and laterAt least 6At least 2Yellow" in rows


def test_each_drawing_says_what_it_shows() -> None:
    seen, _ = read("deck", "en", "A4")
    assert len(seen.of("Figure")) == 3


def test_the_diapers_follow_the_norm_that_the_clinic_chose() -> None:
    policy = Policy(zone="UTC", choices={"wets_norm": "output_taught.wets_count_per_day"})
    one = given()
    content = policy.content_in_force(one.content)
    other = ParentsClass(content=content, policy=policy, size="A4", made_at=one.made_at)
    assert handout(other).blocks != handout(one).blocks


def test_numbers_that_the_clinic_never_entered_are_asked_for() -> None:
    bare = given(phone_day="", phone_night="", emergency_number="", crisis_number="")
    seen = see(pdf_of(deck(bare), fonts_home()), language="en")
    assert seen.text.count("ask the clinic to fill in: ______") == 12


def test_the_same_kit_again_to_the_byte() -> None:
    assert pdf_of(handout(given()), fonts_home()) == pdf_of(handout(given()), fonts_home())
