"""Messages in plain English, and what they refuse."""

from __future__ import annotations

from datetime import UTC, date, datetime

import msgspec
import pytest

from suffice.message import (
    Age,
    Ago,
    Amount,
    Chance,
    Day,
    Instant,
    Listed,
    Message,
    Number,
    Param,
    holds_instant,
    joined,
    message,
)

AT = datetime(2026, 11, 25, 8, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("gap", "text"),
    [
        ("as typed", "as typed"),
        (3, "3"),
        (Amount(3280, "g"), "3280 g"),
        (Amount(2.5, "%", decimals=1, signed=True), "+2.5 %"),
        (Amount(-2.5, "%", signed=True), "-2.5 %"),
        (Number(0.25), "0.25"),
        (Number(0.25, 1), "0.2"),
        (Instant(AT), "2026-11-25 08:30 UTC"),
        (Day(date(2026, 11, 25)), "2026-11-25"),
        (Age(30), "30 h"),
        (Ago(30), "30 h ago"),
        (Chance(0.421), "42 %"),
        (Listed(("a", "b", "c"), "or"), "a, b or c"),
        (Listed(("a", "b")), "a, b"),
        (Listed(("a",), "and"), "a"),
        (message("naked"), "naked"),
    ],
)
def test_each_kind_of_gap_reads_in_plain_english(gap: Param, text: str) -> None:
    assert str(message("<{gap}>", gap=gap)) == f"<{text}>"


def test_the_plural_goes_by_the_count() -> None:
    words = message("{count} wet", plural="{count} wets")
    assert [str(words.with_params(count=n)) for n in (0, 1, 2)] == ["0 wets", "1 wet", "2 wets"]
    assert message("{count} h", count=5).count == 1


def test_a_gap_that_nothing_fills_is_a_fault() -> None:
    with pytest.raises(KeyError):
        str(message("{weight} is missing"))


def test_gaps_keep_their_order_and_more_can_be_filled() -> None:
    words = message("{a} {b}", a=1).with_params(b=2)
    assert words.params == (("a", 1), ("b", 2))
    assert words.values == {"a": 1, "b": 2}
    assert str(words) == "1 2"


def test_an_instant_is_found_in_whatever_fills_a_gap() -> None:
    inner = message("at {at}", at=Instant(AT))
    assert holds_instant(inner)
    assert holds_instant(message("{a}", a=Listed((Number(1), inner))))
    assert not holds_instant("Wed 09:30")
    assert not holds_instant(message("{a}{b}", a=Day(date(2026, 1, 2)), b=Listed((Age(3), "x"))))


def test_joined_leaves_out_what_is_empty() -> None:
    assert joined() == ""
    assert joined("", "one") == "one"
    assert str(joined(message("One."), "", message("Two."))) == "One. Two."


def test_a_message_goes_through_json_unharmed() -> None:
    words = message(
        "{a}{b}{c}{d}",
        a=Amount(1.5, "g"),
        b=Listed((message("x"), Instant(AT)), "and"),
        c=Day(date(2026, 1, 2)),
        d="typed",
    )
    assert msgspec.json.decode(msgspec.json.encode(words), type=Message) == words
