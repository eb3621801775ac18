"""Wet diapers and stools: a day's count at its limits from both sides."""

from __future__ import annotations

import msgspec
import pytest

from csv_case import facts, table
from entry_limits import found, read
from suffice.clinical.entry.field import Counted, Measured, fields_of
from suffice.clinical.entry.output import Stool, Wet


@pytest.mark.parametrize(("kind", "usual"), [(Wet, 15), (Stool, 14)], ids=["wet", "stool"])
@pytest.mark.parametrize("days", [1, 2])
def test_a_days_count_at_its_limits(kind, usual, days):
    def codes(count_per_day):
        fact = kind(count=count_per_day * days, over_h=24.0 * days)
        return found(fact)

    assert codes(0) == codes(usual) == []
    assert codes(usual + 1) == codes(40) == [("OUTPUT-002", "count", True)]
    assert codes(41) == codes(-1) == [("OUTPUT-001", "count", False)]


@pytest.mark.parametrize("over_h", [0.5, 23, None])
def test_a_count_over_less_than_a_day_is_not_multiplied_up(over_h):
    assert found(Wet(count=15, over_h=over_h)) == []
    assert found(Wet(count=16, over_h=over_h)) == [("OUTPUT-002", "count", True)]


@pytest.mark.parametrize("kind", [Wet, Stool])
def test_hours_cannot_be_negative(kind):
    assert found(kind(count=1, over_h=0)) == []
    assert found(kind(count=1, over_h=-0.5)) == [("OUTPUT-001", "over_h", False)]


@pytest.mark.parametrize("kind", [Wet, Stool])
def test_one_diaper_now_is_what_holds_where_nothing_is_said(kind):
    assert (kind().count, kind().over_h) == (1, None)
    assert kind(count=0, over_h=6).count == 0


def test_stain_colour_and_amount_that_nobody_asked_about_are_not_known():
    assert Wet().urates is None
    assert (Stool().colour, Stool().amount) == (None, None)
    assert Wet(urates=False) != Wet()


@pytest.mark.parametrize("colour", ["black", "green", "brown", "yellow", "pale", "red"])
def test_every_colour_is_taken(colour):
    assert read(kind="stool", colour=colour) == Stool(colour=colour)


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "stool", "colour": "white"},
        {"kind": "stool", "amount": "huge"},
        {"kind": "stool", "urates": True},
        {"kind": "wet", "colour": "yellow"},
        {"kind": "wet", "count": 1.5},
    ],
)
def test_what_is_no_diaper_is_refused(fields):
    with pytest.raises(msgspec.ValidationError):
        read(**fields)


@pytest.mark.parametrize("kind", [Wet, Stool])
def test_a_form_takes_zero_and_hours_from_half_an_hour_to_a_week(kind):
    count, hours = fields_of(kind)["count"], fields_of(kind)["over_h"]
    assert isinstance(count, Counted)
    assert isinstance(hours, Measured)
    assert count.least_count == 0
    assert (hours.least_h, hours.most_h) == (0.5, 7 * 24)


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("wets", Wet(count=3, over_h=24)),
        ("orina", Wet(count=3, over_h=24)),
        ("dirty diapers", Stool(count=3, over_h=24)),
        ("deposiciones", Stool(count=3, over_h=24)),
    ],
)
def test_a_table_tells_wets_from_stools(header, expected):
    (told,) = facts(table(header, "3"), over_h=24.0)
    assert told == expected
