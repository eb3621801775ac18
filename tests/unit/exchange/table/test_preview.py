"""What the reader sees of a table before and while it is read, however long it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from csv_case import COHORT, look, read, table
from people import BORN_AT
from spoken import text
from suffice.clinical.entry import Birth
from suffice.clinical.structure import record_problems


def test_the_preview_shows_the_first_rows_as_they_will_be_read():
    found = look(COHORT, born_at=BORN_AT)
    assert [column.spelt for column in found.columns][:5] == [
        "infant",
        "sex",
        "gestation days",
        "ignored",
        "age days",
    ]
    assert tuple(map(text, found.rows[1].read_as)) == (
        "infant 1",
        "Sex: boy",
        "Gestation: 39+0",
        "age 168 h",
        "weight: 3250 g",
        "length and head: length 50.4 cm",
    )
    assert found.row_count == 3
    assert found.questions == ()


def test_the_preview_shows_problems_beside_their_rows_and_questions_instead_of_raising():
    found = look(table("weight_g", "heavy", "3280"))
    assert [[problem.code for problem in row.problems] for row in found.rows] == [["READ-001"], []]
    asked = look(COHORT, source="")
    assert [question.code for question in asked.questions] == ["CSV-032", "CSV-034"]
    assert [column.header for column in asked.columns][:2] == ["id", "sex"]
    assert "weight: 3300 g" in tuple(map(text, asked.rows[0].read_as))  # as far as is known
    assert [row.problems for row in asked.rows] == [()] * 3  # what is asked is held against no row


def test_the_reader_is_told_how_far_it_has_come():
    heard = []
    rows = [f"{3000 + n}" for n in range(1200)]
    read(table("weight_g", *rows), progress=lambda done, of: heard.append((done, of)))
    assert heard == [(0, 1200), (500, 1200), (1000, 1200), (1200, 1200)]


def test_fifty_thousand_rows_are_read():
    lines = ["id,sex,gest_days,age_days,weight_g,length_cm,head_cm"]
    lines += [
        f"{n // 10},male,273,{n % 10},{3000 + (n * 37) % 900}.{n % 10},{49 + n % 5}.5,35.{n % 9}"
        for n in range(50_000)
    ]
    found = read("\n".join(lines), born_at=BORN_AT)
    assert found.row_count == 50_000
    assert found.entry_count == 50_000 * 2 + 5_000 * 3


@pytest.mark.shared
def test_three_hundred_real_infants_are_read():
    shared = Path(__file__).resolve().parents[4] / "shared" / "data" / "weights"
    file = shared / "life6mo_300.csv"
    if not file.exists():
        pytest.skip("the open data beside the checkout are absent")
    content = file.read_bytes()
    asked = look(content, source="")
    assert {question.code for question in asked.questions} == {"CSV-032", "CSV-034"}
    found = read(content, source="open data", born_at=BORN_AT)
    assert (len(found.records), found.row_count) == (300, 2191)
    assert found.entry_count == 2191 * 2 + 300 * 3
    assert all(record_problems(record) == () for record in found.records)
    assert not any(
        entry.fact.birth_weight_g
        for record in found.records
        for entry in record.entries
        if isinstance(entry.fact, Birth)
    )
