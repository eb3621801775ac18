"""The one frame of every paper: text and tables as data in, a tagged PDF or pictures of its pages out.

A paper is data. Its words are handed to typst as JSON, so nothing that somebody typed can be read as
markup. The text area is 180 x 246 mm on A4 and on US Letter: a paper breaks alike on both. The same
paper gives the same bytes, on any day.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Final, Literal

import msgspec
import pymupdf_fonts
import typst

from suffice.errors import Problem, StorageError
from suffice.knowledge.policy import PaperSize
from suffice.message import message

TEMPLATE_VERSION: Final = "10"
"""Raised with every change of the frame or of a paper that a reader can see; stands in each foot."""
FONTS: Final = {"FiraGO-Regular.ttf": "figo", "FiraGO-Bold.ttf": "figbo"}
"""File to its name in the package of fonts; it holds Latin, Greek, Cyrillic and Arabic letters."""
STANDARD: Final = "ua-1"
NOT_DRAWN: Final = "\N{WHITE VERTICAL RECTANGLE}"
"""Stands for a letter that the font does not have."""
TRIES: Final = 20
"""How often letters that cannot be drawn are looked for; each try names all that it finds."""


Pattern = Literal["black", "green", "brown", "yellow"]
"""What is seen in a diaper: full, close lines, wide lines, grains; told apart without any colour."""


class Run(msgspec.Struct, frozen=True):
    """A piece of text; `bold` where it is read first.

    Attributes:
        text: What it says.
        bold: Whether it is read first.
        swatches: Patterns drawn before it, each for one of `Pattern`: a second cue, never the only one.
        language: Its language where that is not the paper's; empty elsewhere.
    """

    text: str
    bold: bool = False
    swatches: tuple[Pattern, ...] = ()
    language: str = ""


Runs = tuple[Run, ...]
"""One text, in pieces."""


class Heading(msgspec.Struct, frozen=True, tag="heading"):
    """A heading; no level is skipped."""

    said: Runs
    level: int = 2


class Paragraph(msgspec.Struct, frozen=True, tag="paragraph"):
    """A paragraph, of the usual size, small, or large as what is to be done first."""

    said: Runs
    style: Literal["body", "small", "action"] = "body"


class Items(msgspec.Struct, frozen=True, tag="items"):
    """A list, numbered where the order matters; `whole` where the end of a page does not part it."""

    items: tuple[Runs, ...]
    numbered: bool = False
    whole: bool = False


class Table(msgspec.Struct, frozen=True, tag="table"):
    """A table under one row of heads.

    Attributes:
        head: What heads the columns.
        rows: Its rows.
        widths: Shares of the width.
        smaller_pt: How much smaller it is set; never below 10 pt.
        whole_rows: Whether no row is parted by the end of a page.
    """

    head: tuple[Runs, ...]
    rows: tuple[tuple[Runs, ...], ...]
    widths: tuple[float, ...]
    smaller_pt: float = 0.0
    whole_rows: bool = False


class Ring(msgspec.Struct, frozen=True):
    """What a ring of a drawing stands for, beside it; `at_mm` from the top of the drawing, where the words begin."""

    at_mm: float
    said: Runs


class RingsPicture(msgspec.Struct, frozen=True, kw_only=True):
    """Volumes as rings of their true size, with words to the right of them.

    Attributes:
        title: What heads it.
        said: What stands between that and the drawing; empty where nothing does.
        svg: The drawing.
        alt: What it shows, in words.
        width_mm: Its true width.
        height_mm: Its true height.
        rings: What the rings stand for, from the top.
    """

    title: Runs
    said: Runs
    svg: str
    alt: str
    width_mm: float
    height_mm: float
    rings: tuple[Ring, ...]


class Rings(msgspec.Struct, frozen=True, kw_only=True, tag="rings"):
    """Drawings in true size beside each other, with a bar to check the printer by.

    Attributes:
        pictures: The drawings.
        bar: What stands under the bar.
        bar_mm: Its length.
        sources: Where the volumes are from.
    """

    pictures: tuple[RingsPicture, ...]
    bar: Runs
    bar_mm: float
    sources: Runs


class Dial(msgspec.Struct, frozen=True, tag="dial"):
    """A drawing beside what is said, with a table of what it shows below both.

    Attributes:
        svg: The drawing.
        alt: What it shows, in words.
        width_mm: How wide it is.
        beside: What stands to the left of it.
        table: What stands below.
        legend: A drawing that names its patterns; the table says the same.
    """

    svg: str
    alt: str
    width_mm: float
    beside: tuple[Heading | Paragraph | Items, ...]
    table: Table
    legend: str


class Drawing(msgspec.Struct, frozen=True, tag="drawing"):
    """A drawing of ours with what goes with it to its left; it holds no word.

    Attributes:
        svg: The drawing.
        alt: What it shows, in words.
        share: Share of the width that it takes.
        beside: What stands to the left of it.
    """

    svg: str
    alt: str
    share: float
    beside: tuple[Heading | Paragraph | Items, ...]


class Picture(msgspec.Struct, frozen=True):
    """One drawing of ours with what stands under it.

    Attributes:
        svg: The drawing.
        alt: What it shows, in words.
        said: What stands under it.
    """

    svg: str
    alt: str
    said: Runs


class Gallery(msgspec.Struct, frozen=True, tag="gallery"):
    """Drawings of one size, several to a row; a row is never parted."""

    pictures: tuple[Picture, ...]
    columns: int = 3


class PageBreak(msgspec.Struct, frozen=True, tag="break"):
    """What follows begins on a new page."""


class Blank(msgspec.Struct, frozen=True, tag="blank"):
    """Lines to be filled in by hand, each behind its label, so many beside one another."""

    labels: tuple[Runs, ...]
    columns: int = 1


class Box(msgspec.Struct, frozen=True, tag="box"):
    """What stands in a frame of its own and is never parted."""

    blocks: tuple[Heading | Paragraph | Items | Table | Blank, ...]
    heavy: bool = False


class GridHead(msgspec.Struct, frozen=True):
    """What heads a column of a grid; `is_upright` where the column is too narrow for it across."""

    said: Runs
    is_upright: bool
    swatches: tuple[Pattern, ...] = ()


class Grid(msgspec.Struct, frozen=True, kw_only=True, tag="grid"):
    """Boxes to be ticked, each at its place to the tenth of a mm, with marks by which a reader finds them.

    Attributes:
        heads: Of the column of hours, then of each column of boxes.
        hours: What begins each row.
        example: The row above the first, filled in: one cell a column, empty where nothing is shown.
        widths_mm: Of the columns.
        head_mm: Height of the heads.
        row_mm: Height of a row.
        width_mm: Of the whole frame.
        table_x_mm: Where the table begins in it.
        mark_mm: A corner mark: its side, how thick its ring is, the side of its core.
        squares_mm: The black squares of the strip: left, top, side.
    """

    heads: tuple[GridHead, ...]
    hours: tuple[Runs, ...]
    example: tuple[Runs, ...]
    widths_mm: tuple[float, ...]
    head_mm: float
    row_mm: float
    width_mm: float
    table_x_mm: float
    mark_mm: tuple[float, float, float]
    squares_mm: tuple[tuple[float, float, float], ...]


class Label(msgspec.Struct, frozen=True):
    """A label: whose it is, small lines, and what has to be seen first."""

    head: Runs
    lines: tuple[Runs, ...]
    large: Runs


class Labels(msgspec.Struct, frozen=True, tag="labels"):
    """Labels of one size, several to a row, each in a frame to cut along and never parted."""

    labels: tuple[Label, ...]
    width_mm: float
    height_mm: float


Block = (
    Heading
    | Paragraph
    | Items
    | Table
    | Rings
    | Dial
    | Drawing
    | Gallery
    | PageBreak
    | Blank
    | Box
    | Grid
    | Labels
)


class Paper(msgspec.Struct, frozen=True, kw_only=True):
    """A paper, ready to be set.

    Attributes:
        title: What it is called, in the file and in the reader's window.
        clinic: The clinic's name, as the author of the file.
        language: Language of its words, as in BCP 47.
        size: The sheet.
        as_of: For when it says what it says; the file carries it as its date.
        head_left: The clinic, above the line of each page.
        head_right: Whom it is about, and when it was written.
        foot: From what it was made.
        page_words: What stands before the number of the page, between it and their count, and after it.
        blocks: What it says, from top to bottom.
        body_pts: Sizes of its text in points, the one that is wanted first: the first with which it fits
            its pages is taken, the last where none does.
        title_pt: Size of its title.
        most_pages: How many pages it should have; None leaves it open.
        is_shown: Whether it is shown on a wall: sheets on their side, nothing small but the foot.
    """

    title: str
    clinic: str
    language: str
    size: PaperSize
    as_of: datetime
    head_left: Runs
    head_right: Runs
    foot: Runs
    page_words: tuple[str, str, str]
    blocks: tuple[Block, ...]
    body_pts: tuple[float, ...]
    title_pt: float
    most_pages: int | None = None
    is_shown: bool = False


def pdf_of(paper: Paper, home: Path) -> bytes:
    """A paper as a tagged PDF: PDF/UA-1 as typst writes it.

    Args:
        paper: The paper.
        home: A folder of our own, in which the fonts are kept.

    Raises:
        StorageError: PAPER-001 when it cannot be set.
    """
    return _fitted(paper, fonts_in(home))[0]


def pictures_of(paper: Paper, home: Path, *, ppi: float) -> tuple[bytes, ...]:
    """The pages of a paper as PNG, exactly as its PDF has them; arguments as for `pdf_of`."""
    fonts = fonts_in(home)
    _pdf, text = _fitted(paper, fonts)
    pages = _compiler(text, fonts).compile(format="png", ppi=ppi)
    return tuple(pages) if isinstance(pages, list) else (pages or b"",)


def _fitted(paper: Paper, fonts: typst.Fonts) -> tuple[bytes, str]:
    """The PDF with the first size of text with which the paper fits, and the data it was made from.

    Where its pages are left open, a smaller size is taken if that saves one: no page with three lines.
    """
    sizes = iter(paper.body_pts)
    pdf, text = _drawn(_data(paper, next(sizes)), paper, fonts)
    most = page_count(pdf) - 1 if paper.most_pages is None else paper.most_pages
    if not most:
        return pdf, text
    wanted = pdf, text
    for body_pt in sizes:
        if page_count(pdf) <= most:
            break
        pdf, text = _drawn(_data(paper, body_pt), paper, fonts)
    is_saved = paper.most_pages is not None or page_count(pdf) <= most
    return (pdf, text) if is_saved else wanted


def page_count(pdf: bytes) -> int:
    """How many pages a PDF of ours has."""
    found = re.search(rb"/Type/Pages/Count (\d+)", pdf)
    if found is None:
        raise ValueError("not a PDF of ours: its tree of pages is missing")
    return int(found[1])


def _data(paper: Paper, body_pt: float) -> str:
    plain = msgspec.to_builtins(paper) | {"body_pt": body_pt}
    return msgspec.json.encode(plain).decode()


def _drawn(text: str, paper: Paper, fonts: typst.Fonts) -> tuple[bytes, str]:
    """The PDF; letters that the font does not have are replaced by an empty square first."""
    for _try in range(TRIES):
        try:
            pdf, warnings = _compiler(text, fonts).compile_with_warnings(
                format="pdf", pdf_standards=STANDARD, timestamp=int(paper.as_of.timestamp())
            )
        except typst.TypstError as error:
            lacking = _lacking(error.diagnostic)
            if not lacking:
                raise _cannot(error.message) from error
            for letters in lacking:
                text = text.replace(letters, NOT_DRAWN)
            continue
        if warnings:
            raise _cannot(warnings[0].message)
        return bytes(pdf if isinstance(pdf, bytes) else b""), text
    raise _cannot("letters without a font")


def _lacking(diagnostic: str) -> list[str]:
    """The letters that a compiler says it has no font for."""
    found = (_ESCAPE.sub(_unescaped, letters) for letters in _LACKING.findall(diagnostic))
    return [letters for letters in found if letters != NOT_DRAWN]


def _unescaped(found: re.Match[str]) -> str:
    """What a compiler's message spells out, as JSON has it: a control sign is spelt out there too."""
    return msgspec.json.encode(chr(int(found[1], 16))).decode()[1:-1]


_ESCAPE: Final = re.compile(r"\\u\{([0-9a-fA-F]+)\}")
_LACKING: Final = re.compile('the text `"(.+?)"` could not be displayed')


def _cannot(why: str) -> StorageError:
    return StorageError(
        Problem(
            code="PAPER-001",
            what=message("The paper"),
            why=message("could not be set: {why}.", why=why),
            fix=message("Report this; everything is on the family's page as well."),
        )
    )


def _compiler(text: str, fonts: typst.Fonts) -> typst.Compiler:
    return typst.Compiler(_template(), font_paths=fonts, sys_inputs={"paper": text})


@lru_cache(maxsize=1)
def _template() -> bytes:
    return files("suffice.documents").joinpath("page.typ").read_bytes()


@lru_cache(maxsize=4)
def fonts_in(home: Path) -> typst.Fonts:
    """Our fonts and no others: those of the machine would change what a paper looks like."""
    folder = home / "fonts"
    folder.mkdir(parents=True, exist_ok=True)
    read: Callable[[str], bytes] = pymupdf_fonts.myfont
    for name, known_as in FONTS.items():
        path, font = folder / name, read(known_as)
        if not path.exists() or path.read_bytes() != font:
            # Whole or not at all: another process may be reading it.
            new = folder / f".{name}.{os.getpid()}"
            new.write_bytes(font)
            new.replace(path)
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder]
    )
