"""How urgent a problem is called on the page of a contact: as its hand-over says, on both sides of a day."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from spec.test_problems import finds_of
from suffice.assess.problems import name_problems
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import Level
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.web.contact.problems import mark_of, urgency_of

CONTENT = load()
SHORT = "intake short; gain_g_per_day 12"


@pytest.mark.parametrize(
    ("found", "flags", "says", "mark"),
    [
        (f"gain_band low; age_h 700; {SHORT}", {}, "physician within 3 days", "within-a-day"),
        (f"gain_band very_low; age_h 600; {SHORT}", {}, "physician today", "today"),
        (
            f"gain_band low; age_h 700; {SHORT}",
            {"gain-surely-slow": "physician"},
            "physician today",
            "today",
        ),
        (f"gain_band lowish; age_h 700; {SHORT}", {}, "within a day", "within-a-day"),
    ],
)
def test_a_physician_of_days_is_not_called_one_of_today(
    found: str, flags: Mapping[str, Level], says: str, mark: str
) -> None:
    named = name_problems(finds_of(found), CONTENT, flags=flags).named
    slow = next(one for one in named if one.key == "slow_gain")
    assert (text_of(urgency_of(slow), Policy()), mark_of(slow)) == (says, mark)


@pytest.mark.parametrize(
    ("found", "flags", "says"),
    [
        ("low_most_days yes; mood_total 9", {}, "within a day"),
        ("mood_total 14; self_harm_item never", {}, "physician within 3 days"),
        ("mood_total 14; worry panic", {}, "physician today"),
        ("mood_total 21", {"mood-total-very-high": "physician"}, "physician today"),
        ("mood_total 14; self_harm_item any", {}, "physician today"),
    ],
)
def test_low_mood_is_as_urgent_as_its_hand_over_and_its_flags_say(
    found: str, flags: Mapping[str, Level], says: str
) -> None:
    named = name_problems(finds_of(found), CONTENT, flags=flags).named
    low = next(one for one in named if one.key == "low_mood")
    assert text_of(urgency_of(low), Policy()) == says
