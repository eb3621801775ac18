"""How papers speak: numbers keep their units, and a name read from the right turns nothing."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from suffice.documents.page import Run
from suffice.documents.speaker import MARKS, Speaker, bound, plain, typed
from suffice.knowledge.policy import Policy
from suffice.message import Amount, Instant, Listed, message

SPEAKER = Speaker(Policy(zone="Europe/London"))
NB = "\N{NO-BREAK SPACE}"
ARABIC = "سلمى بنت أحمد"


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("30 mL of milk", f"30{NB}mL of milk"),
        ("11.6 % lost", f"11.6{NB}% lost"),
        ("−7 g/day (−26 g/day to 12 g/day).", f"−7{NB}g/day (−26{NB}g/day to 12{NB}g/day)."),
        ("3 wets in 24 h.", f"3{NB}wets in 24{NB}h."),
        ("Sat 28 Nov, 05:18", f"Sat 28{NB}Nov, 05:18"),
        ("38.4 °C", f"38.4{NB}°C"),
        ("at 37+2 weeks", f"at 37+2{NB}weeks"),
        ("scale 2. Then", "scale 2. Then"),
        ("from 08:50 to 09:40", "from 08:50 to 09:40"),
    ],
)
def test_a_line_never_ends_between_a_number_and_its_unit(text: str, kept: str) -> None:
    assert bound(text) == kept


def test_a_text_read_from_the_left_has_no_marks() -> None:
    found = SPEAKER.text(message("{name} took {amount}.", name="Ana", amount=Amount(30, "mL")))
    assert found == f"Ana took 30{NB}mL."


def test_a_name_read_from_the_right_and_each_number_beside_it_are_set_apart() -> None:
    words = message("{name} weighs {weight}.", name=ARABIC, weight=Amount(3200, "g"))
    found = SPEAKER.text(words)
    assert found == f"\u2068{ARABIC}\u2069 weighs \u20663200{NB}g\u2069."
    assert plain(found) == f"{ARABIC} weighs 3200{NB}g."


def test_names_inside_other_messages_and_lists_are_set_apart_too() -> None:
    inner = message("{who} (physician)", who=ARABIC)
    listed = Listed((ARABIC, "Ana"))
    found = SPEAKER.text(message("{inner}; {listed}", inner=inner, listed=listed))
    assert found.count("\u2068") == found.count("\u2069") == 2


@pytest.mark.parametrize("mark", [*sorted(MARKS), "\u202e", "\u202a", "\u200f", "\x00", "\x1b"])
def test_marks_that_somebody_typed_are_left_out(mark: str) -> None:
    assert typed(f"An{mark}a") == "Ana"


def test_a_typed_text_is_one_line() -> None:
    assert typed("  one\n two\tthree ") == "one two three"
    assert typed(" \n ") == ""


def test_an_instant_always_has_its_date() -> None:
    at = Instant(datetime(2026, 11, 28, 10, 0, tzinfo=UTC))
    assert SPEAKER.text(message("at {at}", at=at)) == f"Sat 28{NB}Nov, 10:00"


def test_what_stands_between_our_stars_is_bold_and_a_typed_star_is_a_letter() -> None:
    words = message("*Go now* with {name}.", name="*x* y*")
    assert SPEAKER.emphasised(words) == (Run("Go now", bold=True), Run(" with *x* y*."))
    assert SPEAKER.text(words) == "*Go now* with *x* y*."
    assert SPEAKER.text("*x*") == "*x*"
    two = SPEAKER.emphasised(message("*One*."), message("Two."))
    assert two == (Run("One", bold=True), Run("."), Run(" "), Run("Two."))
