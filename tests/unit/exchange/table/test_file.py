"""A file becomes a table of text, or the reader is told what keeps it from being one."""

from __future__ import annotations

import pytest

from suffice.errors import InputError
from suffice.exchange.table.file import COLUMNS_MOST, Row, is_missing, read_table


def code(content, **said):
    with pytest.raises(InputError) as caught:
        read_table(content, **said)
    (problem,) = caught.value.problems
    return problem.code


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "CSV-001"),
        (b" \r\n \n", "CSV-001"),
        (b"\xef\xbb\xbf", "CSV-001"),
        (b",", "CSV-001"),
        (b"date,weight_g\n", "CSV-001"),
        (b"date,weight_g\n,\n\n", "CSV-001"),
        (b"date,weight_g\n2026-03-01,\x00\n", "CSV-002"),
        (b"PK\x03\x04\x00\x00", "CSV-002"),
        (b"date,peso\n2026-03-01,ni\xf1o\n", "CSV-003"),
        (b"date,weight_g\n2026-03-01,3280\n,".replace(b"3280", b"\x81"), "CSV-003"),
        (b"weight,weight\n1,2\n", "CSV-005"),
        (b"Weight,weight\n1,2\n", "CSV-005"),
        (b"2026-03-01,3280\n2026-03-02,3270\n", "CSV-005"),
        (b'date,note\n2026-03-01,"never closed\n2026-03-02,x\n', "CSV-006"),
        (b'date,note\n2026-03-01,"x"y\n', "CSV-006"),
        (b"date,note\n2026-03-01," + b"x" * 200_000 + b"\n", "CSV-006"),
    ],
)
def test_what_is_no_table_is_refused(content, expected):
    assert code(content) == expected


def test_an_unknown_encoding_is_refused():
    assert code(b"date,weight\n1,2\n", encoding="ebcdic") == "CSV-003"


def test_the_question_for_the_encoding_shows_how_it_would_read():
    with pytest.raises(InputError, match="cp1252 it would be: …date,nota niño…"):
        read_table("date,nota\nniño\n".encode("cp1252"))


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        ("día,peso\n1,2\n".encode(), "utf-8"),
        ("día,peso\n1,2\n".encode("utf-8-sig"), "utf-8"),
        ("día,peso\n1,2\n".encode("utf-16"), "utf-16"),
    ],
)
def test_marked_encodings_are_told_from_the_bytes(content, encoding):
    table = read_table(content)
    assert table.header == ("día", "peso")
    assert table.encoding == encoding


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1"])
def test_a_named_encoding_is_obeyed(encoding):
    assert read_table("día,peso\n1,2\n".encode(encoding), encoding=encoding).header[0] == "día"


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_the_delimiter_is_the_one_that_parts_every_row_alike(mark):
    rows = ["date", "weight_kg", "note"], ["2026-03-01", "3 28", "a"], ["2026-03-02", "3", "b"]
    table = read_table("\n".join(mark.join(row) for row in rows).encode())
    assert table.delimiter == mark
    assert [row.cells for row in table.rows] == [tuple(row) for row in rows[1:]]


def test_a_decimal_comma_does_not_hide_the_semicolon():
    table = read_table(b"date;weight_kg\n2026-03-01;3,28\n2026-03-02;3,30\n")
    assert table.delimiter == ";"
    assert table.rows[0].cells == ("2026-03-01", "3,28")


def test_a_delimiter_that_cannot_be_told_is_asked_for():
    content = b"a,b;c\n1,2;3\n"
    assert code(content) == "CSV-004"
    assert read_table(content, delimiter=";").header == ("a,b", "c")


def test_one_column_needs_no_delimiter():
    assert read_table(b"weight\n3280\n").rows == (Row(number=2, cells=("3280",)),)


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_quoted_cells_may_hold_delimiters_quotes_and_line_ends(ending):
    content = f'date,note{ending}2026-03-01,"a, ""b""{ending}c"{ending}2026-03-02,d{ending}'
    table = read_table(content.encode())
    assert table.rows[0].cells[1] == f'a, "b"{ending}c'
    assert [row.number for row in table.rows] == [2, 3]


def test_rows_keep_the_numbers_of_the_file_when_empty_ones_are_passed_over():
    table = read_table(b"a,b\n1,2\n\n,\n3,4\n")
    assert [row.number for row in table.rows] == [2, 5]
    assert read_table(b"\n,\na,b\n1,2\n").rows[0].number == 4


def test_ragged_rows_are_problems_of_their_own_and_the_rest_is_read():
    table = read_table(b"a,b,c\n1,2,3\n1,2\n1,2,3,4\n1,2,3,,\n")
    assert [row.number for row in table.rows] == [2, 5]
    assert [(number, problem.code) for number, problem in table.problems] == [
        (3, "CSV-007"),
        (4, "CSV-007"),
    ]


def test_blanks_around_cells_and_empty_columns_at_the_end_do_not_count():
    table = read_table(b" a , b ,,\n 1 , 2 ,,\n")
    assert table.header == ("a", "b")
    assert table.rows[0].cells == ("1", "2")


@pytest.mark.parametrize("cell", ["", "NA", "n/a", "NaN", "null", "-", "."])
def test_missing_is_not_asked(cell):
    assert is_missing(cell)


@pytest.mark.parametrize("cell", ["0", "no", "0.0", "none seen"])
def test_zero_and_no_are_not_missing(cell):
    assert not is_missing(cell)


def wide(columns, rows=1, end=""):
    header = ",".join(["date and time", *(f"column {n}" for n in range(1, columns))])
    return "\n".join([header + end, *(",".join("1" * columns) + end for _ in range(rows))]).encode()


def test_more_columns_than_any_table_has_are_refused_before_they_are_looked_at():
    assert len(read_table(wide(COLUMNS_MOST)).header) == COLUMNS_MOST
    for columns in (COLUMNS_MOST + 1, 100_000):
        with pytest.raises(InputError) as caught:
            read_table(wide(columns))
        (problem,) = caught.value.problems
        assert (problem.code, str(problem.where)) == ("CSV-008", "row 1")
        assert f"{columns} columns" in str(problem)
        assert f"{COLUMNS_MOST} are read" in str(problem)


def test_empty_columns_at_the_end_do_not_count():
    """A spreadsheet writes thousands of them; taking them away one by one would take minutes."""
    table = read_table(wide(3, rows=2, end="," * 200_000))
    assert len(table.header) == 3
    assert [row.cells for row in table.rows] == [("1", "1", "1")] * 2
