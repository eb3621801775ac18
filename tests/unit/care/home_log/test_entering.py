"""Rows of a log as entries: the middle of the hour, the local clock, what is whole and what is not."""

from __future__ import annotations

from datetime import UTC, date, datetime
from uuid import uuid4

import pytest

from people import an_id
from suffice.care.home_log.entering import Log, LogRow, placed
from suffice.clinical.entry import Expression, Feed, FeedCount, Stool, Wet
from suffice.errors import InputError

NOW = datetime(2026, 11, 28, 12, 0, tzinfo=UTC)
INFANT = an_id("infant")


def log(*rows: LogRow, on: date = date(2026, 11, 27), zone: str = "UTC", **more: object) -> Log:
    return Log(key=uuid4(), infant_id=INFANT, on=on, zone=zone, rows=rows, **more)


def facts(made: Log, now: datetime = NOW) -> list[object]:
    return [one.entry.fact for one in placed(made, now=now, actor="consultant")]


def problems(made: Log, now: datetime = NOW) -> list[tuple[str, object]]:
    with pytest.raises(InputError) as refusal:
        placed(made, now=now, actor="consultant")
    return [(one.code, one.where) for one in refusal.value.problems]


def test_both_breasts_are_one_feed_and_two_of_one_side_are_two() -> None:
    assert facts(log(LogRow(row=0, left=1, right=1))) == [Feed(milk="breast", side="both")]
    assert facts(log(LogRow(row=0, left=2, right=1))) == [
        Feed(milk="breast", side="both"),
        Feed(milk="breast", side="left"),
    ]


def test_milk_has_its_amount_only_where_it_is_one_milk() -> None:
    assert facts(log(LogRow(row=1, milk_ml=30.0, milks=("formula",)))) == [
        Feed(milk="formula", volume_ml=30.0)
    ]
    assert facts(log(LogRow(row=1, milks=("expressed", "donor")))) == [
        Feed(milk="expressed"),
        Feed(milk="donor"),
    ]


def test_zero_expressed_is_a_session_and_nothing_written_is_none() -> None:
    assert facts(log(LogRow(row=1, pumped_left_ml=0.0))) == [Expression(left_ml=0.0)]
    assert facts(log(LogRow(row=1, wets=1))) == [Wet(count=1)]


def test_several_diapers_in_an_hour_are_a_count_that_ends_with_it() -> None:
    made = placed(log(LogRow(row=2, wets=3, stools=(("green", 2),))), now=NOW, actor="consultant")
    assert [one.entry.fact for one in made] == [
        Wet(count=3, over_h=1.0),
        Stool(count=2, over_h=1.0, colour="green"),
    ]
    assert {one.entry.true_at for one in made} == {datetime(2026, 11, 27, 11, tzinfo=UTC)}


def test_the_rows_after_midnight_are_of_the_next_day_on_the_clinics_clock() -> None:
    made = placed(
        log(LogRow(row=0, left=1), LogRow(row=23, left=1), zone="America/New_York"),
        now=datetime(2026, 11, 28, 14, tzinfo=UTC),
        actor="consultant",
    )
    assert [one.entry.true_at for one in made] == [
        datetime(2026, 11, 27, 13, 30, tzinfo=UTC),
        datetime(2026, 11, 28, 12, 30, tzinfo=UTC),
    ]


def test_a_row_that_is_not_over_is_entered_as_of_now_and_a_later_one_refused() -> None:
    today = date(2026, 11, 28)
    now = datetime(2026, 11, 28, 12, 10, tzinfo=UTC)
    made = placed(log(LogRow(row=4, left=1), on=today), now=now, actor="consultant")
    assert made[0].entry.true_at == now
    assert problems(log(LogRow(row=5, left=1), on=today), now) == [("LOG-003", "left-5")]


def test_of_an_hour_that_the_clock_shows_twice_the_first_is_taken() -> None:
    """Clocks go back in Madrid on 25 October 2026 at 03:00: 02:00 to 03:00 comes twice."""
    made = placed(
        log(LogRow(row=18, left=1), on=date(2026, 10, 24), zone="Europe/Madrid"),
        now=NOW,
        actor="consultant",
    )
    assert made[0].entry.true_at == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_an_hour_that_the_clock_skips_is_refused() -> None:
    skipped = log(LogRow(row=18, left=1), on=date(2026, 3, 28), zone="Europe/Madrid")
    assert problems(skipped)[0][0] == "CLOCK-002"


def test_only_a_whole_sheet_counts_feeds_and_says_what_there_was_none_of() -> None:
    rows = (LogRow(row=0, left=1), LogRow(row=3, milk_ml=20.0, milks=("donor",), wets=1))
    assert not any(isinstance(one, FeedCount) for one in facts(log(*rows)))
    found = placed(log(*rows, is_whole=True), now=NOW, actor="consultant")
    assert [one.entry.fact for one in found if one.row is None] == [
        FeedCount(count=2),
        Stool(count=0, over_h=24.0),
    ]
    assert found[-1].entry.true_at == datetime(2026, 11, 28, 8, tzinfo=UTC)


def test_a_whole_day_that_is_not_over_is_refused() -> None:
    rows = (LogRow(row=0, left=1),)
    early = datetime(2026, 11, 28, 7, 59, tzinfo=UTC)
    assert problems(log(*rows, is_whole=True), early) == [("LOG-003", "is_whole")]


def test_every_problem_is_said_at_once_with_its_row() -> None:
    rows = (
        LogRow(row=1, milk_ml=30.0),
        LogRow(row=2, milk_ml=30.0, milks=("expressed", "formula")),
    )
    assert problems(log(*rows)) == [("LOG-001", "milk-1"), ("LOG-002", "milk-2")]
    assert problems(log()) == [("LOG-004", "")]


def test_the_same_sheet_has_the_same_ids_and_each_entry_its_own() -> None:
    made = log(LogRow(row=0, left=2, wets=1), LogRow(row=1, left=1))
    ids = [one.entry.id for one in placed(made, now=NOW, actor="consultant")]
    assert len(set(ids)) == len(ids) == 4
    assert ids == [one.entry.id for one in placed(made, now=NOW, actor="consultant")]
