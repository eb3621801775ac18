"""Dates and times of a table: read when clear, asked about when not, never guessed."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import pytest

from suffice.errors import InputError
from suffice.exchange.moment import (
    check_zone,
    date_order,
    instant,
    read_date,
    read_moment,
    read_time,
)

MADRID = "Europe/Madrid"


def code(call, *arguments):
    with pytest.raises(InputError) as caught:
        call(*arguments)
    return caught.value.problems[0].code


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-25",
        "2026/3/25",
        "2026.03.25",
        "25/03/2026",
        "25.3.2026",
        "25-03-2026",
        "03/25/2026",
        "25 Mar 2026",
        "25 March 2026",
        "25-mar-2026",
        "25. March, 2026",
        "March 25, 2026",
        "Mar 25 2026",
        "25 de marzo de 2026",
    ],
)
def test_clear_dates_are_read(text):
    assert read_date(text, None) == date(2026, 3, 25)


def test_a_date_that_may_be_two_is_asked_about_until_the_order_is_said():
    assert code(read_date, "03/04/2026", None) == "CSV-011"
    assert read_date("03/04/2026", "day first") == date(2026, 4, 3)
    assert read_date("03/04/2026", "month first") == date(2026, 3, 4)
    assert read_date("04/04/2026", None) == date(2026, 4, 4)


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", "2026-02-30", "31/04/2026", "25/13/2026", "25/03/26", "46082", "25 Foo 2026"],
)
def test_what_is_no_date_is_refused(text):
    assert code(read_date, text, "day first") == "CLOCK-001"


def test_a_day_beyond_twelve_is_refused_where_the_month_should_be():
    assert code(read_date, "25/03/2026", "month first") == "CLOCK-001"


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        (["03/04/2026", "25/04/2026"], ("day first", "25/04/2026")),
        (["03/04/2026", "04/25/2026"], ("month first", "04/25/2026")),
        (["03/04/2026", "05/05/2026"], (None, "03/04/2026")),
        (["05/05/2026", "2026-03-01"], (None, "")),
        ([], (None, "")),
    ],
)
def test_the_order_of_a_column_is_told_by_its_own_dates(cells, expected):
    assert date_order(cells) == expected


def test_dates_of_both_orders_in_a_column_are_refused():
    assert code(date_order, ["25/04/2026", "04/25/2026"]) == "CSV-012"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("14:30", time(14, 30)),
        ("14:30:15", time(14, 30, 15)),
        ("14.30", time(14, 30)),
        ("14h30", time(14, 30)),
        ("2:30 pm", time(14, 30)),
        ("2:30PM", time(14, 30)),
        ("12:10 a.m.", time(0, 10)),
        ("12 pm", time(12)),
        ("7h", time(7)),
        ("00:00", time(0)),
    ],
)
def test_times_of_day_are_read(text, expected):
    assert read_time(text) == expected


@pytest.mark.parametrize("text", ["", "14", "24:00", "14:60", "0:30 pm", "13:00 pm", "noon"])
def test_what_is_no_time_of_day_is_refused(text):
    assert code(read_time, text) == "CLOCK-006"


# Clocks in Madrid: forward from 02:00 to 03:00 on 2026-03-29, back from 03:00 to 02:00 on
# 2026-10-25 (last Sundays of March and October, Directive 2000/84/EC).
def test_an_hour_that_the_clocks_skipped_is_refused_whatever_is_said():
    for repeated in (None, "first", "second"):
        assert code(instant, date(2026, 3, 29), time(2, 30), MADRID, repeated) == "CLOCK-002"


def test_an_hour_that_came_twice_is_asked_about_until_it_is_said_which():
    asked = (date(2026, 10, 25), time(2, 30), MADRID)
    assert code(instant, *asked, None) == "CLOCK-003"
    assert instant(*asked, "first") == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert instant(*asked, "second") == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_other_hours_need_no_saying():
    assert instant(date(2026, 3, 29), time(3, 30), MADRID, None) == datetime(
        2026, 3, 29, 1, 30, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-25 14:30", datetime(2026, 3, 25, 13, 30, tzinfo=UTC)),
        ("2026-03-25T14:30", datetime(2026, 3, 25, 13, 30, tzinfo=UTC)),
        ("25/03/2026, 2:30 pm", datetime(2026, 3, 25, 13, 30, tzinfo=UTC)),
        ("2026-03-25T14:30:00Z", datetime(2026, 3, 25, 14, 30, tzinfo=UTC)),
        ("2026-03-25t14:30z", datetime(2026, 3, 25, 14, 30, tzinfo=UTC)),
        ("2026-10-25 02:30+02:00", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
    ],
)
def test_a_date_and_time_in_one_cell_is_read_and_an_offset_obeyed(text, expected):
    assert read_moment(text, MADRID, None, None) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-25", "CLOCK-006"),
        ("soon", "CLOCK-006"),
        ("2026-02-30T14:30:00Z", "CLOCK-001"),
        ("0001-01-01T00:00:00+05:00", "CLOCK-004"),
        ("03/04/2026 14:30", "CSV-011"),
        ("2026-03-29 02:30", "CLOCK-002"),
    ],
)
def test_a_date_and_time_that_cannot_be_read_is_refused(text, expected):
    assert code(read_moment, text, MADRID, None, None) == expected


@pytest.mark.parametrize("zone", ["", "Madrid", "../etc/passwd", "Europe/", "CEST+2"])
def test_what_is_no_zone_is_refused(zone):
    assert code(check_zone, zone) == "CLOCK-005"


def test_a_known_zone_passes():
    check_zone(MADRID)
