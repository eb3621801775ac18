"""Local times into instants, over both changes of the clock.

Clock changes of 2026 in Europe/Madrid: 29 March 02:00 to 03:00, 25 October 03:00 to 02:00
(EU Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC).
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from suffice.errors import InputError
from suffice.exchange.local_time import local_time, read_day, read_local, written
from suffice.knowledge.policy import DateOrder, Policy
from suffice.language.text import text_of


def test_ordinary_time_is_one_instant() -> None:
    moment = read_local("2026-11-25T14:30", "Europe/Madrid")
    assert moment.instants == (datetime(2026, 11, 25, 13, 30, tzinfo=UTC),)


def test_time_that_came_twice_is_both_instants_an_hour_apart() -> None:
    moment = read_local("2026-10-25 02:30", "Europe/Madrid")
    assert moment.is_ambiguous
    assert moment.instants == (
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
    )
    assert moment.clock_times() == ("02:30 CEST (UTC+0200)", "02:30 CET (UTC+0100)")


@pytest.mark.parametrize("text", ["2026-03-29T02:00", "2026-03-29T02:59"])
def test_time_that_was_skipped_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_local(text, "Europe/Madrid")
    assert refused.value.problems[0].code == "CLOCK-002"


@pytest.mark.parametrize(
    "text", ["", "noon", "2026-13-01T10:00", "2026-02-30T10:00", "2026-11-25", "2026-11-25T10:00Z"]
)
def test_what_is_no_local_time_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_local(text, "Europe/Madrid")
    assert refused.value.problems[0].code == "CLOCK-001"


ORDERS: tuple[DateOrder, ...] = ("day first", "month first", "year first")
NOON = datetime(2026, 4, 3, 14, 30)  # noqa: DTZ001  # what a clock shows


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("03/04/2026 14:30", "day first"),
        ("3.4.2026, 14:30", "day first"),
        ("030420261430", "day first"),
        ("03/04/2026 1430", "day first"),
        ("03042026 14:30", "day first"),
        ("3 Apr 2026 2:30 pm", "month first"),
        ("04/03/2026 14:30", "month first"),
        ("040320261430", "month first"),
        ("2026-04-03 14:30", "year first"),
        ("2026/4/3 14:30", "year first"),
        ("202604031430", "year first"),
        *[("2026-04-03T14:30", order) for order in ORDERS],
        *[("2026-04-03 14:30", order) for order in ORDERS],
    ],
)
def test_a_time_is_read_in_the_clinics_order_and_in_iso_8601_always(
    text: str, order: DateOrder
) -> None:
    assert local_time(text, order) == NOON


@pytest.mark.parametrize(
    ("text", "order", "words"),
    [
        ("25/03/2026 14:30", "month first", "is no day of the calendar"),
        ("03/25/2026 14:30", "day first", "is no day of the calendar"),
        ("03/04/2026 14:30", "year first", "does not have the year first"),
        ("25/03/2026 14:30", "year first", "does not have the year first"),
        ("03/04/26 14:30", "day first", "writes the year with two digits"),
        ("31/02/2026 14:30", "day first", "is no day of the calendar"),
        ("31/04/2026", "day first", "cannot be read as a date and a time"),
        ("14:30", "day first", "cannot be read as a date and a time"),
        ("03/04/2026 24:30", "day first", "cannot be read as a date and a time"),
        ("03/04/2026 930", "day first", "cannot be read as a date and a time"),
        ("03/04/2026 14:30+02:00", "day first", "cannot be read as a date and a time"),
        ("0304202614", "day first", "cannot be read as a date and a time"),
        ("٠٣/٠٤/٢٠٢٦ x", "day first", "cannot be read as a date and a time"),
    ],
)
def test_a_time_of_another_order_is_refused_with_how_to_write_it(
    text: str, order: DateOrder, words: str
) -> None:
    with pytest.raises(InputError) as refused:
        local_time(text, order)
    (problem,) = refused.value.problems
    assert problem.code == "CLOCK-001"
    assert words in str(text_of(problem.why, Policy()))
    example = {"day first": "25/11/2026", "month first": "11/25/2026", "year first": "2026-11-25"}
    assert f"{example[order]} 14:30" in text_of(problem.fix, Policy())


def test_a_year_that_no_record_holds_is_refused_as_everywhere() -> None:
    for read in (local_time, read_day):
        with pytest.raises(InputError) as refused:
            read("03/04/1026 14:30" if read is local_time else "03/04/1026", "day first")
        assert refused.value.problems[0].code == "CLOCK-004"


@pytest.mark.parametrize(
    ("order", "text"),
    [("day first", "03/04/2026"), ("month first", "04/03/2026"), ("year first", "2026-04-03")],
)
def test_a_day_alone_has_the_same_orders(order: DateOrder, text: str) -> None:
    assert read_day(text, order) == NOON.date()
    assert read_day(text.replace("/", "").replace("-", ""), order) == NOON.date()
    assert written(NOON.date(), order) == text
    assert written(NOON, order) == f"{text} 14:30"
