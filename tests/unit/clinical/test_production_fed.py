"""What happened at one breast, in its order: sessions and feeds, the weighed ones, those of an unknown side."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from people import an_entry, an_id
from suffice.clinical.entry import Entry, Expression, Feed, Infant, TestWeight
from suffice.clinical.production import ProductionParameters
from suffice.clinical.production_fed import fed_stretch
from suffice.knowledge.store import load

PARAMETERS = ProductionParameters.from_content(load().flat, load().series)
INFANT = Infant(id=an_id("infant"), position=1)


def expressed(*hours: float) -> list[Entry]:
    return [an_entry(f"x{at}", Expression(left_ml=60), infant=None, at_h=at) for at in hours]


def a_feed(at_h: float, side: str | None = "left") -> Entry:
    fact = Feed(milk="breast", side=side)  # type: ignore[arg-type]
    return an_entry(f"f{at_h}", fact, infant=INFANT, at_h=at_h)


def kinds(entries: Sequence[Entry], side: str = "left") -> str:
    ordered = sorted(entries, key=lambda one: one.true_at)
    return " ".join(one.kind for one in fed_stretch(side, ordered, PARAMETERS))  # type: ignore[arg-type]


def test_it_begins_and_ends_with_a_session() -> None:
    entries = [a_feed(-1), *expressed(0, 5, 9), a_feed(3), a_feed(11)]
    assert kinds(entries) == "session feed session session"


@pytest.mark.parametrize(("side", "kind"), [("left", "feed"), ("both", "feed"), (None, "maybe")])
def test_a_feed_counts_as_what_is_known_of_its_side(side: str | None, kind: str) -> None:
    assert kinds([*expressed(0, 5, 9), a_feed(3, side)]) == f"session {kind} session session"


def test_a_feed_at_the_other_breast_does_not_count() -> None:
    assert kinds([*expressed(0, 5, 9), a_feed(3, "right")]) == "session session session"


def test_a_feed_that_was_logged_and_weighed_is_one_and_weighed() -> None:
    weighed = an_entry(
        "t", TestWeight(before_g=3300, after_g=3340, side="left"), infant=INFANT, at_h=3.2
    )
    for feed in (a_feed(3), a_feed(3.4)):
        assert kinds([*expressed(0, 5, 9), feed, weighed]) == "session weighed session session"


@pytest.mark.parametrize(
    "hours", [(0, 5), (0, 3, 6), (0, 4, 20)], ids=["two", "six hours", "a gap of 16 h"]
)
def test_too_little_is_no_stretch(hours: tuple[float, ...]) -> None:
    assert kinds([*expressed(*hours), a_feed(1)]) == ""


def test_a_feed_bridges_a_gap_that_would_else_end_the_stretch() -> None:
    assert kinds([*expressed(0, 4, 20), a_feed(12)]) == "session session feed session"


def test_at_one_moment_the_infant_goes_first() -> None:
    assert kinds([*expressed(0, 5, 9), a_feed(5)]) == "session feed session session"
