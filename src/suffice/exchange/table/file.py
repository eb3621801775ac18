"""A CSV file as a table of text: encoding, delimiter and shape settled, or asked about.

Nothing is read as a number or a date here. Rows are numbered as a spreadsheet shows them:
empty ones count, and the header is mostly row 1.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Final

import msgspec

from suffice.errors import InputError, Problem
from suffice.message import Listed, Words, message

DELIMITERS = {
    ",": message("comma"),
    ";": message("semicolon"),
    "\t": message("tab"),
    "|": message("vertical bar"),
}
ENCODINGS: Final = ("utf-8", "cp1252", "latin-1", "utf-16")
"""What the reader of a file may name; only UTF-8 and a marked UTF-16 are recognised by their bytes."""

MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", "–", ".", "?"})
"""Cells that say 'not asked', in any case of letters; they are never read as zero or as no."""

SNIFFED_ROWS = 50
PROGRESS_EVERY = 2000

Progress = Callable[[int, int], None]
"""Called with how much is done, and of how much."""

COLUMNS_MOST = 200
"""More columns than any table of weights, feeds and output has: each is looked at by itself."""


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One row: its number in the file and its cells, as many as the header has."""

    number: int
    cells: tuple[str, ...]


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """A file with a header. `problems` are of rows that do not have its shape."""

    header: tuple[str, ...]
    rows: tuple[Row, ...]
    encoding: str
    delimiter: str
    problems: tuple[tuple[int, Problem], ...] = ()


def _unwatched(done: int, total: int) -> None:
    del done, total


def read_table(
    content: bytes,
    *,
    encoding: str | None = None,
    delimiter: str | None = None,
    progress: Progress = _unwatched,
) -> Table:
    """Read a CSV file; cells lose the blanks around them, empty rows are passed over.

    Args:
        content: The bytes of the file.
        encoding: One of ENCODINGS; None tells UTF-8 and marked UTF-16 from the bytes.
        delimiter: One of DELIMITERS; None finds the one that parts every row alike.
        progress: Told how far the reading has come, in lines gone over; there are two rounds.

    Raises:
        InputError: CSV-001 empty, CSV-002 not text, CSV-003 the encoding must be named, CSV-004
            the delimiter must be named, CSV-005 the header, CSV-006 the quotes, CSV-008 too many
            columns.
    """
    text, used = _decode(content, encoding)
    if not text.strip():
        raise InputError(_empty(message("The file is empty.")))
    if delimiter and not _can_part(delimiter):
        raise InputError(_which_delimiter(list(DELIMITERS)))
    mark = delimiter or _delimiter_of(text)
    records = _records(text, mark, progress)
    first = next((n for n, record in enumerate(records) if any(map(str.strip, record))), None)
    if first is None:
        raise InputError(_empty(message("The file has empty cells only.")))
    header = _without_empty_end(tuple(cell.strip() for cell in records[first]))
    if len(header) > COLUMNS_MOST:
        raise InputError(_too_wide(len(header), first + 1))
    _check_header(header)
    rows, problems = _rows(records[first + 1 :], len(header), first + 2, progress)
    if not rows and not problems:
        raise InputError(_empty(message("The file has a header and no rows.")))
    return Table(
        header=header, rows=tuple(rows), encoding=used, delimiter=mark, problems=tuple(problems)
    )


def _decode(content: bytes, encoding: str | None) -> tuple[str, str]:
    if encoding is None and content[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        encoding = "utf-16"
    if encoding != "utf-16" and b"\x00" in content:
        raise InputError(_not_text(content.index(b"\x00") + 1))
    if encoding is not None and encoding not in ENCODINGS:
        raise InputError(_unknown_encoding(encoding))
    codec = "utf-8-sig" if encoding in {None, "utf-8"} else encoding or ""
    try:
        text = content.decode(codec)
    except UnicodeDecodeError as error:
        raise InputError(_which_encoding(content, error.start, encoding)) from error
    if "\x00" in text:
        raise InputError(_not_text(text.index("\x00") + 1))
    return text, encoding or "utf-8"


def _records(text: str, delimiter: str, progress: Progress) -> list[list[str]]:
    """All records; blank ones as empty lists, so that numbers stay those of the file."""
    rounds = 2 * (text.count("\n") + 1)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[list[str]] = []
    try:
        for record in reader:
            records.append(record)  # what was read before an error stays, and numbers the error
            if len(records) % PROGRESS_EVERY == 0:
                progress(len(records), rounds)
    except csv.Error as error:
        raise InputError(_quotes(len(records) + 1)) from error
    return records


def _can_part(delimiter: str) -> bool:
    """Whether columns can be parted by it: one sign, none that ends a row or quotes a cell."""
    return len(delimiter) == 1 and delimiter not in {"\n", "\r", '"', "\x00"}


def _delimiter_of(text: str) -> str:
    """The delimiter that parts the first rows alike into the most columns."""
    start = "".join(text.splitlines(keepends=True)[: SNIFFED_ROWS + 1])
    fitting: dict[str, int] = {}
    present = [mark for mark in DELIMITERS if mark in start.partition("\n")[0]]
    for mark in present:
        try:
            widths = {
                len(record)
                for record in csv.reader(io.StringIO(start, newline=""), delimiter=mark)
                if any(cell.strip() for cell in record)
            }
        except csv.Error:
            continue
        if len(widths) == 1:
            fitting[mark] = widths.pop()
    if not present:
        return ","  # one column needs no delimiter
    candidates = fitting or dict.fromkeys(present, 0)
    best = [mark for mark, width in candidates.items() if width == max(candidates.values())]
    if len(best) > 1:
        raise InputError(_which_delimiter(best))
    return best[0]


def _check_header(header: tuple[str, ...]) -> None:
    named = [name.casefold() for name in header if name]
    twice = sorted({name for name in named if named.count(name) > 1})
    if twice:
        raise InputError(
            _header(
                message("The column name '{name}' appears twice.", name=twice[0]),
                message("Give each column its own name."),
            )
        )
    if not any(any(character.isalpha() for character in name) for name in named):
        raise InputError(
            _header(
                message("The first row is {cells}.", cells=", ".join(named)[:60])
                if named
                else message("The first row is empty."),
                message("Put a row with the names of the columns above it, units included."),
            )
        )


def _rows(
    records: list[list[str]], width: int, first_number: int, progress: Progress
) -> tuple[list[Row], list[tuple[int, Problem]]]:
    rows = []
    problems = []
    for number, record in enumerate(records, start=first_number):
        if number % PROGRESS_EVERY == 0:
            progress(len(records) + number, 2 * len(records) + first_number)
        cells = tuple(cell.strip() for cell in record)
        if not any(cells):
            continue
        if len(cells) > width:
            cells = _without_empty_end(cells, width)
        if len(cells) == width:
            rows.append(Row(number=number, cells=cells))
        else:
            problems.append((number, _row_of_other_width(number, len(cells), width)))
    return rows, problems


def _without_empty_end(cells: tuple[str, ...], least: int = 0) -> tuple[str, ...]:
    """The cells without the empty ones at the end, `least` of them at the least."""
    end = len(cells)
    while end > least and not cells[end - 1]:
        end -= 1
    return cells[:end]


def is_missing(cell: str) -> bool:
    """Whether the cell says 'not asked'."""
    return cell.casefold() in MISSING


def _empty(what: Words) -> Problem:
    return Problem(
        code="CSV-001",
        what=what,
        why=message("There is nothing to import."),
        fix=message("Choose the file with the rows."),
    )


def _not_text(position: int) -> Problem:
    return Problem(
        code="CSV-002",
        what=message("The file has a NUL character (number {position}).", position=position),
        why=message("A CSV file is text; this is a spreadsheet, an archive or a damaged file."),
        fix=message("Open it in the program that wrote it and save it as CSV (UTF-8)."),
    )


def _unknown_encoding(encoding: str) -> Problem:
    return Problem(
        code="CSV-003",
        what=message("The encoding '{encoding}' is not known.", encoding=encoding),
        why=message("Files are read as {encodings}.", encodings=Listed(ENCODINGS)),
        fix=message("Name one of these, or save the file as UTF-8."),
        where=message("encoding"),
    )


def _which_encoding(content: bytes, position: int, encoding: str | None) -> Problem:
    around = content[max(0, position - 20) : position + 20].decode("cp1252", errors="replace")
    return Problem(
        code="CSV-003",
        what=message(
            "Byte {position} is not {encoding} text.",
            position=position + 1,
            encoding=encoding or "UTF-8",
        ),
        why=message("Read as cp1252 it would be: …{text}…", text=" ".join(around.split())),
        fix=message(
            "If that looks right, name the encoding cp1252; otherwise save the file as UTF-8."
        ),
        where=message("encoding"),
    )


def _which_delimiter(marks: list[str]) -> Problem:
    return Problem(
        code="CSV-004",
        what=message(
            "The columns may be separated by {marks}.",
            marks=Listed(tuple(DELIMITERS[mark] for mark in marks), "or"),
        ),
        why=message("None of them gives every row the same number of cells."),
        fix=message("Say which one it is."),
        where=message("delimiter"),
    )


def _header(what: Words, fix: Words) -> Problem:
    return Problem(
        code="CSV-005",
        what=what,
        why=message("The first row names the columns, each by its own name."),
        fix=fix,
        where=message("row {number}", number=1),
    )


def _too_wide(count: int, number: int) -> Problem:
    return Problem(
        code="CSV-008",
        what=message("The table has {count} columns.", count=count),
        why=message("At most {most} are read.", most=COLUMNS_MOST),
        fix=message("Keep the columns with weights, feeds, output and who they are about."),
        where=message("row {number}", number=number),
    )


def _quotes(number: int) -> Problem:
    return Problem(
        code="CSV-006",
        what=message("It cannot be seen where row {number} ends.", number=number),
        why=message(
            "A quotation mark opens a cell and none closes it, or a cell is longer than allowed."
        ),
        fix=message("Close or remove the quotation mark."),
        where=message("row {number}", number=number),
    )


def _row_of_other_width(number: int, cells: int, width: int) -> Problem:
    return Problem(
        code="CSV-007",
        what=message("The row has {cells} cells.", cells=cells),
        why=message("The header has {width}, so it is unclear which value is which.", width=width),
        fix=message(
            "Add or remove what is missing or too many; quote a cell that contains the delimiter."
        ),
        where=message("row {number}", number=number),
    )
