"""Findings that count more together, as a clinic may choose, and how they are said."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.knowledge.policy import policy_from_settings
from suffice.knowledge.schema import LEVELS
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


WORSE_BESIDE = {
    "80 h": ("70 h: 3200 g; 80 h: 3120 g", ("", "; 80 h: sign does_not_wake_for_feeds")),
    "6 d": ("4 d: 3100 g; 6 d: 3125 g", ("", "; 6 d: sign fontanelle_sunken")),
    "21 d": ("4 d: 3200 g; 20 d: 3700 g", ("; 21 d: 37.7 °C", "; 21 d: sign feeds_half")),
    "120 d": ("90 d: 5800 g; 118 d: 6400 g", ("; 120 d: 38.1 °C", "; 120 d: sign vomit_forceful")),
}
"""Age to a course of weights, and to what is found beside the count of wets."""


@pytest.mark.parametrize("age", list(WORSE_BESIDE))
def test_fewer_wets_over_the_same_time_or_a_longer_one_are_never_calmer(age):
    weights, each = WORSE_BESIDE[age]
    hours = (7, 9, 13, 18, 24)
    for beside in each:
        levels = {}
        for count in (0, 1, 3, 6):
            for over_h in hours:
                seen = f"{weights}; {age}: {count} wets in {over_h} h{beside}"
                flags = found(seen, age)
                known = (one.level for one in flags.values() if one.topic != "not known")
                levels[count, over_h] = min(map(LEVELS.index, known), default=len(LEVELS))
        for (count, over_h), level in levels.items():
            for (more, shorter_h), other in levels.items():
                if count <= more and over_h >= shorter_h:
                    assert level <= other, (beside, count, over_h, more, shorter_h)


def test_none_for_hours_is_named_with_its_hours():
    seen = "20 d: 3740 g; 21 d: sign fontanelle_sunken; 21 d: 0 wets in 14 h"
    said = in_sentences(found(seen, "21.1 d")["fontanelle-sunken-and-dry"].messages)
    assert said == "At 21 days: sunken fontanelle, no wet in 14 h: an emergency, feed on the way."
    seen = "120 d: 6700 g; 121 d: 38.2 °C; 121 d: 0 wets in 12 h"
    said = in_sentences(found(seen, "121.1 d")["fever-and-poor-feeding"].messages)
    assert "38.2" in said
    assert "no wet in 12 h" in said
