"""A sheet in Arabic as a proof: it reads from the right, every number keeps its order, and it is marked a draft."""

from __future__ import annotations

import io

import pytest
from tools import messages

from paper_source import SIZES, folder, fonts_home
from pdf_reader import Seen, see
from spec.papers_of import text_in
from suffice.documents.draft import DRAFTS, MARK, NAMES, drafts_of, is_draft
from suffice.documents.page import NOT_DRAWN, Box, Paper, pdf_of, pictures_of
from suffice.documents.teaching_sheet import teaching_sheet
from suffice.knowledge.policy import Policy
from suffice.language.catalogue import catalogue, translated, unreviewed
from suffice.language.times import MONTHS, WEEKDAYS

PHONES = {
    "phone_day": "555-0100",
    "phone_night": "555-0199",
    "emergency_number": "112",
    "crisis_number": "555-0177",
}
LRI, RLI, FSI, PDI = "\u2066", "\u2067", "\u2068", "\u2069"
NB = "\N{NO-BREAK SPACE}"


def sheet(size: str = "A4", language: str = "ar") -> Paper:
    return teaching_sheet(
        folder("thriving", size=size, language=language, **PHONES).source, "waking"
    )  # type: ignore[arg-type]


def read(paper: Paper) -> Seen:
    seen = see(pdf_of(paper, fonts_home()), language="ar")
    assert seen.faults == ()
    return seen


@pytest.mark.parametrize("size", SIZES)
def test_it_is_one_tagged_page_in_our_font_with_every_letter_drawn(size: str) -> None:
    seen = read(sheet(size))
    assert seen.pages == 1
    assert NOT_DRAWN not in seen.text


def test_it_has_the_tags_of_the_english_sheet() -> None:
    english = see(pdf_of(sheet(language="en"), fonts_home()), language="en")
    structure = [tag.kind for tag in read(sheet()).tags if tag.kind in {"H1", "H2", "L", "LI"}]
    assert structure == [tag.kind for tag in english.tags if tag.kind in {"H1", "H2", "L", "LI"}]


def test_it_says_in_both_languages_that_it_is_a_draft() -> None:
    mark = sheet().blocks[0]
    assert isinstance(mark, Box)
    arabic, english = (block.said[0] for block in mark.blocks)  # type: ignore[union-attr]
    assert arabic.text == translated(MARK.template, "ar") != MARK.template
    assert (english.text, english.language) == (MARK.template, "en")
    assert not isinstance(sheet(language="en").blocks[0], Box)


def test_nothing_on_it_is_left_in_english() -> None:
    english = [tag.text for tag in read(sheet()).tags if tag.kind in {"H1", "H2", "LBody", "P"}]
    words = [one for one in english if any(letter.isascii() and letter.isalpha() for letter in one)]
    assert [one for one in words if "°C" not in one] == [MARK.template]


def test_a_number_to_call_keeps_its_order_and_a_count_stands_before_its_word() -> None:
    speaker = folder("thriving", language="ar", **PHONES).source.speaker
    said = text_in(sheet())
    assert f"{FSI}{LRI}555{PDI}-{LRI}0100{PDI}{PDI}" in said
    assert f"{RLI}6{NB}ساعات{PDI}" in said
    assert f"{LRI}38.0{NB}°C{PDI}" in said
    assert speaker.policy.language == "ar"


def test_the_page_is_turned() -> None:
    """The ink of a list begins at the right edge of the text, where the English one begins at its left."""
    from PIL import Image  # noqa: PLC0415  # only here

    def starts(paper: Paper) -> tuple[int, int]:
        picture = Image.open(io.BytesIO(pictures_of(paper, fonts_home(), ppi=40)[0])).convert("L")
        width, height = picture.size
        heading = picture.crop((0, int(height * 0.24), width, int(height * 0.27)))
        left, _top, right, _bottom = heading.point(lambda shade: 255 * (shade < 128)).getbbox()  # type: ignore[misc,operator]
        return left, width - right

    left, right = starts(sheet())
    assert right < left
    left, right = starts(sheet(language="en"))
    assert left < right


def test_the_catalogue_is_what_was_written_whole_and_unreviewed() -> None:
    assert tuple(DRAFTS) == messages.DRAFTS
    assert messages.drafts(is_check=True) == []
    for language in DRAFTS:
        written = messages.messages_of(messages.read(language))
        assert all(one.string and messages.UNREVIEWED in one.flags for one in written)
        assert unreviewed(language) == "all"
        for named in (*WEEKDAYS, *MONTHS):
            assert catalogue(language).gettext(named.template) != named.template


def test_only_the_sheets_of_a_draft_are_offered_in_it() -> None:
    assert drafts_of("waking") == (("ar", NAMES["ar"]),)
    assert drafts_of("latch") == drafts_of("") == ()
    assert is_draft("ar")
    assert not is_draft("es")
    assert Policy().language == "en"
