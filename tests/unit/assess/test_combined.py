"""Findings that count more together, as a clinic may choose, and how they are said."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.knowledge.policy import policy_from_settings
from suffice.knowledge.store import load

BOY = "boy, 39+0, 3400 g, vaginal"
SLEEPY, NO_STOOL = "80 h: sign does_not_wake_for_feeds", "80 h: 0 stools in 24 h"
CHOSEN = {"choices": {"kinds_of_flags": "combined.kinds_that_add_up_count"}}


def found(seen, asked_at, settings=None):
    policy = policy_from_settings({"zone": "UTC", **(settings or {})}, load())
    content = policy.content_in_force(load())
    as_of = BORN_AT + age_of(asked_at)
    assessment = assess(record_of(BOY, seen), as_of, content, policy, engine=False)
    return {one.code: one for one in assessment.infants[0].findings}


@pytest.mark.parametrize(
    ("seen", "settings", "adds_up"),
    [
        (f"{SLEEPY}; {NO_STOOL}", CHOSEN, True),
        (f"{SLEEPY}; {NO_STOOL}", None, False),
        (SLEEPY, CHOSEN, False),
        (f"{SLEEPY}; 80 h: sign vomit_forceful; 80 h: 3 stools in 24 h", CHOSEN, False),
        (f"{SLEEPY}; 80 h: 3140 g", CHOSEN, False),
    ],
    ids=["two kinds", "not chosen", "one", "two of a kind", "beside a look"],
)
def test_two_flags_within_a_day_add_up_where_the_clinic_has_chosen_it(seen, settings, adds_up):
    flags = found(seen, "81 h", settings)
    assert ("two-kinds-of-flags" in flags) is adds_up


def test_a_combination_names_its_parts_once_each_and_one_day():
    flags = found(
        "99 h: wet with urates; 100 h: 3090 g; 100 h: 2 wets in 24 h; 100 h: 0 stools in 24 h",
        "101 h",
    )
    said = in_sentences(flags["loss-few-wets-urates"].messages)
    assert said == (
        "At 4 days: 9.1 % lost, 2 wets, urates: phone a physician within the hour;"
        " sodium is checked today."
    )


def test_a_physician_answers_a_measure_beside_a_sign():
    seen = "80 h: 3050 g; 80 h: sign hard_to_wake"
    assert "hard-to-wake-and-loss" in found(seen, "81 h")
    assert "hard-to-wake-and-loss" not in found(f"{seen}; 82 h: answer physician", "83 h")
    again = f"{seen}; 82 h: answer physician; 90 h: 3000 g; 90 h: sign hard_to_wake"
    assert "hard-to-wake-and-loss" in found(again, "91 h")
    assert "hard-to-wake-and-loss" in found(f"{seen}; 82 h: answer midwife", "83 h")
