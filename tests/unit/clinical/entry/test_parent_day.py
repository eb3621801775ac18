"""The parent's day as it is said; form, line and round trips are tested for every kind."""

from __future__ import annotations

import msgspec

from suffice.clinical.entry import KINDS
from suffice.clinical.entry.parent_day import ParentDay
from suffice.language.facts import parts_of

DAY = ParentDay(
    sleep_h=5.0,
    sleep_between="21:00-07:00",
    away="8:30-17",
    expresses_away=True,
    helpers="18-24, 5-7",
    feeds_together=True,
)


def test_its_line_says_the_day() -> None:
    said = [str(part) for part in parts_of(DAY)]
    assert said == [
        "5 h of unbroken sleep wished for",
        "sleep between 21:00-07:00",
        "away 8:30-17",
        "can express there",
        "somebody helps 18-24, 5-7",
        "twins are fed together",
    ]


def test_what_is_left_open_is_not_said() -> None:
    assert list(parts_of(ParentDay())) == []


def test_what_is_written_is_read_again() -> None:
    assert msgspec.json.decode(msgspec.json.encode(DAY), type=ParentDay) == DAY
    assert KINDS["parent day"] is ParentDay
