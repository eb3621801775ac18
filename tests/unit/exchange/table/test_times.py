"""A date and its time in one cell, in two, or in both: what a column holds is taken from its cells."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from csv_case import look, read, refused
from spoken import text

AT = datetime(2026, 3, 5, 13, 30, tzinfo=UTC)
"""14:30 in Madrid."""


def file(header, *rows):
    return "\n".join([f"infant,{header},weight g", *(f"1,{row},3280" for row in rows)])


def instants(content, **said):
    (record,) = read(content, **said).records
    found = (entry for entry in record.entries if entry.fact.__struct_config__.tag == "weight")
    return [entry.true_at for entry in found]


@pytest.mark.parametrize(
    "cell",
    [
        "2026-03-05 14:30",
        "2026-03-05T14:30",
        "2026-03-05 14:30:00.000",
        "2026-03-05T14:30+01:00",
        "2026-03-05T14:30:00+01",
        "2026-03-05 14:30 +0100",
        "2026-03-05T13:30:00Z",
        "2026-03-05 13:30 UTC",
        "2026-03-05 2:30 PM",
        "2026-03-05 2:30:00 p. m.",
        "5 Mar 2026 14:30",
        '"March 5, 2026 2:30 pm"',
    ],
)
@pytest.mark.parametrize("name", ["date", "day", "time", "hora", "date and time"])
def test_a_lone_column_that_holds_dates_and_times_is_read_whatever_it_is_called(name, cell):
    content = file(name, cell)
    assert look(content).questions == ()
    assert look(content).columns[1].field == "date and time"
    assert instants(content) == [AT]


def test_a_part_of_a_second_is_kept():
    content = file("date and time", "2026-03-05T14:30:00.345")
    assert instants(content) == [AT.replace(microsecond=345_000)]


def test_what_the_reader_says_of_the_column_may_be_date_too():
    assert instants(file("when weighed", "2026-03-05 14:30"), columns={"when weighed": "date"}) == [
        AT
    ]


def test_times_settle_no_order_and_the_order_is_asked_with_one_of_the_cells():
    content = file("date", "03/05/2026 14:30")
    (asked,) = look(content).questions
    assert (asked.code, "03/05/2026 14:30" in text(asked.what)) == ("CSV-011", True)
    assert look(content).rows[0].problems == ()
    assert instants(content, date_order="month first") == [AT]
    assert instants(file("date", "05/03/2026 14:30", "25/03/2026 9:00"))[0] == AT


@pytest.mark.parametrize("cell", ["2026-03-05 00:00:00", "2026-03-05T00:00:00Z", "2026-03-05"])
def test_midnight_behind_every_date_is_no_time_and_the_time_is_asked(cell):
    content = file("date", cell)
    assert [one.code for one in look(content).questions] == ["CSV-031"]
    assert look(content).rows[0].problems == ()
    assert instants(content, time_of_day="14:30") == [AT]


def test_midnight_among_other_times_is_midnight():
    found = instants(file("date", "2026-03-05 00:00", "2026-03-05 14:30"))
    assert found == [datetime(2026, 3, 4, 23, tzinfo=UTC), AT]


def test_rows_without_a_time_among_rows_with_one_are_asked_about():
    content = file("date", "2026-03-05 14:30", "2026-03-06")
    assert [one.code for one in look(content).questions] == ["CSV-031"]
    assert instants(content, time_of_day="14:30")[0] == AT


@pytest.mark.parametrize(
    "pair",
    [
        "2026-03-05,14:30",
        "2026-03-05 00:00:00,14:30",
        "2026-03-05 14:30,14:30:00",
        "2026-03-05 14:30,",
        "2026-03-05,2026-03-05 14:30",
        "2026-03-05,1899-12-30 14:30:00",
        "2026-03-05,1900-01-01T14:30",
        "2026-03-05,14:30+01:00",
        "2026-03-05,2:30 PM",
    ],
)
def test_date_and_time_columns_may_repeat_each_other(pair):
    content = file("date,time", pair)
    assert look(content).questions == ()
    assert instants(content) == [AT]


@pytest.mark.parametrize(
    "pair",
    ["2026-03-05 14:30,15:30", "2026-03-05,2026-03-06 14:30", "2026-03-05 14:30,2026-03-05 1:00"],
)
def test_two_dates_or_two_times_of_a_row_are_refused(pair):
    assert refused(file("date,time", pair)) == [("CSV-051", "row 2, date")]


def test_a_birth_date_that_holds_a_time_is_understood():
    content = "id,dob,date,weight g\n1,2026-03-01 06:00,2026-03-05 14:30,3280"
    assert look(content).questions == ()
    (record,) = read(content).records
    assert datetime(2026, 3, 1, 5, tzinfo=UTC) in {entry.true_at for entry in record.entries}


@pytest.mark.parametrize(
    ("header", "cell", "code"),
    [
        ("date", "46086.604", "CLOCK-001"),
        ("date", "46086", "CLOCK-001"),
        ("date,time", "2026-03-05,0.6041", "CLOCK-006"),
        ("date,time", "46086,0.6041", "CLOCK-001"),
    ],
)
def test_numbers_of_a_spreadsheet_are_refused_as_such_and_nothing_false_is_asked(
    header, cell, code
):
    shown = look(file(header, cell))
    assert shown.questions == ()
    (problem,) = shown.rows[0].problems
    assert (problem.code, "spreadsheet" in text(problem.why)) == (code, True)


@pytest.mark.parametrize("cell", ["2026-03-05 14:30 CET", "2026-03-05 14:30 (CET)"])
def test_a_zone_by_name_is_refused_as_such(cell):
    (problem,) = look(file("date", cell)).rows[0].problems
    assert "time zone" in text(problem.why)


@pytest.mark.parametrize(
    "cell", ["2026-03-05 25:00", "2026-03-05 14:30+99:00", "2026-02-30 14:30", "1799-03-05 14:30"]
)
def test_what_is_no_instant_is_refused_at_its_row(cell):
    ((code, where),) = refused(file("date", cell, "2026-03-05 14:30"))
    assert (code[:5], where) == ("CLOCK", "row 2, date")
