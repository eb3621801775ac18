"""What the button above the red flags hands over: all of one person, of several nobody's by itself."""

from __future__ import annotations

from urllib.parse import parse_qs, urlencode

import pytest

from suffice.web.family.page import FindingShown
from suffice.web.shown.mark import Mark
from suffice.web.templatetags.shown import hand_over_of


def flag(code: str, about: str, *, taken: str = "", is_late: bool = False) -> FindingShown:
    query = urlencode({"flag": code, "infant": about, "to": f"to-{code}", "how": "phone"})
    return FindingShown(
        colour="red",
        mark=Mark("now", "Now"),
        sentence=code,
        to_whom="Physician, now",
        clears="",
        whose="",
        working=None,
        taken=taken,
        is_late=is_late,
        hand_over=query,
        about=about,
    )


def said(*reds: FindingShown) -> dict[str, list[str]]:
    return parse_qs(hand_over_of(reds))


def test_one_flag_is_named() -> None:
    assert said(flag("fever", "a")) == {
        "flag": ["fever"],
        "infant": ["a"],
        "to": ["to-fever"],
        "how": ["phone"],
    }


def test_several_of_one_are_handed_over_together_to_whom_the_first_needs() -> None:
    assert said(flag("fever", "a"), flag("loss", "a")) == {
        "infant": ["a"],
        "to": ["to-fever"],
        "how": ["phone"],
    }


def test_of_several_people_it_is_asked_whose() -> None:
    assert "infant" not in said(flag("fever", "a"), flag("pain", "parent"))


@pytest.mark.parametrize("is_late", [True, False])
def test_what_was_taken_waits_again_only_when_late(is_late: bool) -> None:
    taken = flag("fever", "a", taken="Handed over", is_late=is_late)
    assert bool(said(taken)) is is_late
    assert said(taken, flag("loss", "a")).get("flag") == (None if is_late else ["loss"])


def test_what_nobody_can_take_over_offers_nothing() -> None:
    assert hand_over_of([]) == ""
