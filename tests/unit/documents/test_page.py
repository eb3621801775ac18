"""The frame of papers: one text area on both sheets, one font, tagged, and nothing typed is markup."""

from __future__ import annotations

import io
from collections.abc import Callable

import msgspec
import pikepdf
import pytest
from PIL import Image

from paper_source import NOW, fonts_home
from pdf_reader import see
from suffice.documents.page import (
    NOT_DRAWN,
    Blank,
    Box,
    Heading,
    Items,
    Paper,
    Paragraph,
    Ring,
    Rings,
    RingsPicture,
    Run,
    Runs,
    Table,
    page_count,
    pdf_of,
    pictures_of,
)
from suffice.errors import StorageError


def said(text: str) -> Runs:
    return (Run(text),)


PAPER = Paper(
    title="A paper",
    clinic="A clinic",
    language="en",
    size="A4",
    as_of=NOW,
    head_left=said("A clinic"),
    head_right=said("Somebody"),
    foot=said("From nothing"),
    page_words=("Page ", " of ", ""),
    blocks=(
        Heading(said("What is asked"), level=1),
        Paragraph((Run("Read "), Run("first", bold=True), Run(", then this."))),
        Heading(said("Seen")),
        Items((said("one"), said("two")), numbered=True),
        Table((said("What"), said("Value")), ((said("weight"), said("3200\u00a0g")),), (1, 1)),
        Box((Heading(said("Reply")), Blank((said("Seen on"),))), heavy=True),
    ),
    body_pts=(10.5, 10.0),
    title_pt=13.0,
    most_pages=1,
)


def pdf(paper: Paper = PAPER) -> bytes:
    return pdf_of(paper, fonts_home())


def test_a_screen_reader_meets_all_of_it_in_order() -> None:
    seen = see(pdf(), language="en")
    assert seen.faults == ()
    assert seen.pages == 1
    assert seen.of("H1") == ["What is asked"]
    assert seen.of("H2") == ["Seen", "Reply"]
    assert seen.of("LBody") == ["one", "two"]
    assert seen.of("TH") == ["What", "Value"]
    assert seen.of("TD") == ["weight", "3200\u00a0g"]
    assert seen.tags[0].text == (
        "What is askedRead first, then this.Seen1.one2.twoWhatValueweight3200\u00a0gReplySeen on"
    )


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_both_sheets_have_the_same_text_area(size: str) -> None:
    """180 x 246 mm, so that a paper breaks alike on both."""
    made = pdf(msgspec.structs.replace(PAPER, size=size))
    wide, high = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}[size]
    with pikepdf.open(io.BytesIO(made)) as opened:
        box = [float(one) * 25.4 / 72 for one in opened.pages[0].mediabox]
    assert box[2:] == pytest.approx([wide, high], abs=0.1)
    ink = Image.open(
        io.BytesIO(pictures_of(msgspec.structs.replace(PAPER, size=size), fonts_home(), ppi=72)[0])
    )
    dark = ink.convert("L").point(lambda grey: 255 if grey < 128 else 0)
    found = dark.getbbox()
    assert found is not None
    left, _top, right, _bottom = (one * 25.4 / 72 for one in found)
    assert right - left == pytest.approx(180, abs=0.8)
    assert left == pytest.approx((wide - 180) / 2, abs=0.8)


def test_the_same_paper_gives_the_same_bytes() -> None:
    assert pdf() == pdf()
    assert pdf() != pdf(msgspec.structs.replace(PAPER, title="Another"))


def test_the_smaller_text_is_taken_where_the_larger_needs_another_page() -> None:
    lines = tuple(Paragraph(said(f"Line {number}")) for number in range(46))
    long = msgspec.structs.replace(PAPER, blocks=(*PAPER.blocks[:1], *lines))
    one_size = msgspec.structs.replace(long, body_pts=(12.0,))
    assert page_count(pdf(one_size)) == 2
    assert page_count(pdf(msgspec.structs.replace(long, body_pts=(12.0, 10.0)))) == 1
    assert see(pdf(one_size), language="en").faults == ()


def test_where_its_pages_are_open_the_smaller_text_is_taken_only_if_it_saves_one() -> None:
    def pages_of(lines: int, *sizes: float) -> tuple[int, bytes]:
        each = tuple(Paragraph(said(f"Line {number}")) for number in range(lines))
        blocks = (*PAPER.blocks[:1], *each)
        made = pdf(msgspec.structs.replace(PAPER, blocks=blocks, body_pts=sizes, most_pages=None))
        return page_count(made), made

    saves = next(one for one in range(20, 60) if pages_of(one, 12.0)[0] == 2)
    assert pages_of(saves, 12.0, 10.0)[0] == 1
    assert pages_of(saves, 12.0, 10.0)[1] == pages_of(saves, 10.0)[1]
    assert pages_of(90, 12.0, 11.9) == pages_of(90, 12.0)
    assert pages_of(5, 12.0, 10.0) == pages_of(5, 12.0)


def test_a_number_to_call_is_not_broken_over_two_lines() -> None:
    """Wherever the line ends, it is set as one whose spaces cannot be broken."""
    number = "01632 960 142"
    seen = set()
    for pad in range(0, 40, 2):
        words = "a line of words that goes on up to where it ends and then has " + "n" * pad

        def drawn(one: str, words: str = words) -> bytes:
            blocks = (
                PAPER.blocks[0],
                Paragraph(
                    said(
                        f"{words} by day {one}; at night another number, and then the words go on for a while, as they do."
                    )
                ),
            )
            paper = msgspec.structs.replace(PAPER, blocks=blocks)
            return pictures_of(paper, fonts_home(), ppi=60)[0]

        assert drawn(number) == drawn(number.replace(" ", "\N{NO-BREAK SPACE}")), pad
        seen.add(drawn(number))
    assert len(seen) == 20


def test_rings_and_their_bar_are_printed_in_true_size() -> None:
    """A drawing of 48.6 mm is 48.6 mm wide on the sheet, and the bar is as long as it says."""
    across = 48.6
    circle = f'<circle cx="24.3" cy="24.3" r="{across / 2 - 0.25}" fill="none" stroke="#111111" stroke-width="0.5"/>'
    drawing = RingsPicture(
        title=said(""), said=(), alt="A ring of the true size of this volume", width_mm=across, height_mm=across,
        svg=f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {across} {across}">{circle}</svg>',
        rings=(Ring(at_mm=10, said=said("")),),
    )  # fmt: skip
    block = Rings(pictures=(drawing,), bar=said(""), bar_mm=50, sources=said(""))
    heading = Heading(said("."), level=1)
    made = msgspec.structs.replace(PAPER, blocks=(heading, block), most_pages=None)
    page = Image.open(io.BytesIO(pictures_of(made, fonts_home(), ppi=127)[0])).convert("L")
    # 127 points an inch: five a millimetre. The drawing stands below the heading, at the left edge.
    dots = 5
    ink = page.point(lambda grey: 255 if grey < 160 else 0)
    rows = [
        ink.crop((13 * dots, y, 80 * dots, y + 1)).getbbox() for y in range(40 * dots, 120 * dots)
    ]
    widths = [(box[2] - box[0]) / dots for box in rows if box is not None]
    bar = [one for one in widths if one > across + 0.5]
    assert bar
    assert bar == pytest.approx([50] * len(bar), abs=0.3)
    assert max(one for one in widths if one < across + 0.5) == pytest.approx(across, abs=0.3)


def test_a_pattern_is_drawn_beside_its_word_and_is_no_text() -> None:
    patterns = ("black", "green", "brown", "yellow")
    blocks = (
        Heading(said("Colors"), level=1),
        *(Paragraph((Run(one, swatches=(one,)),)) for one in patterns),
    )
    made = msgspec.structs.replace(PAPER, blocks=blocks)
    seen = see(pdf(made), language="en")
    assert seen.faults == ()
    assert seen.of("P") == list(patterns)
    page = Image.open(io.BytesIO(pictures_of(made, fonts_home(), ppi=127)[0])).convert("L")
    bare = msgspec.structs.replace(
        PAPER, blocks=(blocks[0], *(Paragraph((Run(one),)) for one in patterns))
    )
    without = Image.open(io.BytesIO(pictures_of(bare, fonts_home(), ppi=127)[0])).convert("L")
    assert page.tobytes() != without.tobytes()


HOSTILE = [
    '#panic("x")',
    "*bold* _it_ `raw` $x^2$ \\ // /* <label> @ref = head",
    '"}],"blocks":[]} #sys.inputs',
    '#import "@preview/x:1.0.0"; #read("/etc/passwd")',
    "- item + item / term: ~ -- ---  ...",
    "<script>alert(1)</script>",
    "x" * 300,
]


@pytest.mark.parametrize("text", HOSTILE)
def test_what_was_typed_is_never_markup(text: str) -> None:
    blocks = (Heading(said(text), level=1), Paragraph(said(text)), Items((said(text),)))
    paper = msgspec.structs.replace(PAPER, blocks=blocks, title=text, head_right=said(text))
    seen = see(pdf(paper), language="en")
    assert seen.faults == ()
    squeezed = "".join(text.split())
    for kind in ("H1", "P", "LBody"):
        assert "".join(seen.of(kind)[0].split()) == squeezed


@pytest.mark.parametrize("letters", ["漢字", "😀", "\u0001"])
def test_letters_without_a_font_become_a_square_and_the_paper_is_whole(letters: str) -> None:
    blocks = (Heading(said(f"Name {letters} here"), level=1),)
    seen = see(pdf(msgspec.structs.replace(PAPER, blocks=blocks)), language="en")
    assert seen.faults == ()
    assert seen.of("H1")[0].startswith(f"Name {NOT_DRAWN}")
    assert seen.of("H1")[0].endswith("here")


def test_a_paper_that_cannot_be_set_says_so() -> None:
    skipped = (Heading(said("one"), level=1), Heading(said("three"), level=3))
    with pytest.raises(StorageError, match="PAPER-001"):
        pdf(msgspec.structs.replace(PAPER, blocks=skipped))


# ---- the reader finds what is wrong ----------------------------------------------------------


def _without_marks(opened: pikepdf.Pdf) -> None:
    del opened.Root.MarkInfo


def _other_language(opened: pikepdf.Pdf) -> None:
    opened.Root.Lang = pikepdf.String("fr")


def _untitled(opened: pikepdf.Pdf) -> None:
    opened.Root.ViewerPreferences.DisplayDocTitle = False


def _no_metadata(opened: pikepdf.Pdf) -> None:
    opened.Root.Metadata.write(b"<x/>")


def _heads_as_cells(opened: pikepdf.Pdf) -> None:
    _rename(opened, "/TH", "/TD")


def _skipped_level(opened: pikepdf.Pdf) -> None:
    _rename(opened, "/H2", "/H4")


def _rename(opened: pikepdf.Pdf, old: str, new: str) -> None:
    for one in opened.objects:
        if isinstance(one, pikepdf.Dictionary) and str(one.get("/S", "")) == old:
            one.S = pikepdf.Name(new)


def _fonts(opened: pikepdf.Pdf) -> list[pikepdf.Dictionary]:
    return [
        one
        for one in opened.objects
        if isinstance(one, pikepdf.Dictionary) and str(one.get("/Type", "")) == "/Font"
    ]


def _no_unicode(opened: pikepdf.Pdf) -> None:
    for font in _fonts(opened):
        if "/ToUnicode" in font:
            del font.ToUnicode


def _not_embedded(opened: pikepdf.Pdf) -> None:
    for font in _fonts(opened):
        for key in ("/FontFile2", "/FontFile3"):
            if "/FontDescriptor" in font and key in font.FontDescriptor:
                del font.FontDescriptor[key]


def _other_font(opened: pikepdf.Pdf) -> None:
    for font in _fonts(opened):
        font.BaseFont = pikepdf.Name("/ABCDEF+Elsewhere-Regular")


def _paint_outside(opened: pikepdf.Pdf) -> None:
    opened.pages[0].contents_add(b"0 0 10 10 re f")


def _no_tabs(opened: pikepdf.Pdf) -> None:
    del opened.pages[0].obj["/Tabs"]


def _no_structure(opened: pikepdf.Pdf) -> None:
    del opened.Root.StructTreeRoot


@pytest.mark.parametrize(
    ("plant", "fault"),
    [
        (_without_marks, "not marked as tagged"),
        (_other_language, "language is fr"),
        (_untitled, "the title is not displayed"),
        (_no_metadata, "no title"),
        (_no_metadata, "not said to be PDF/UA-1"),
        (_heads_as_cells, "a table without heads"),
        (_skipped_level, "heading 4 follows heading 1"),
        (_no_unicode, "font FiraGO-Regular has no map to Unicode"),
        (_not_embedded, "font FiraGO-Regular is not embedded"),
        (_other_font, "font Elsewhere-Regular is not ours"),
        (_paint_outside, "paint outside marked content"),
        (_no_tabs, "tab order does not follow the structure"),
        (_no_structure, "no structure"),
    ],
)
def test_the_reader_finds_a_planted_fault(plant: Callable[[pikepdf.Pdf], None], fault: str) -> None:
    with pikepdf.open(io.BytesIO(pdf())) as opened:
        plant(opened)
        changed = io.BytesIO()
        opened.save(changed)
    assert fault in see(changed.getvalue(), language="en").faults
