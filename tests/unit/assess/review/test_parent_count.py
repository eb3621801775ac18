"""Numbers of the parent: the highest and the latest that no physician has answered."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from spec.vignette import BORN_AT, record_of
from suffice.assess.review.parent_count import count_measures

GIRL = "girl, 40+0, 3400 g, vaginal"


def measures(seen):
    entries = record_of(GIRL, seen).entries
    own = tuple(one for one in entries if one.infant_id is None)
    return {name: one.value for name, (one,) in count_measures(own, BORN_AT).items()}


def test_the_highest_and_the_latest_are_told():
    seen = "20 d: parent observed mood_total 14; 40 d: parent observed mood_total 8"
    assert measures(seen) == {"highest_mood_total_points": 14, "last_mood_total_points": 8}


def test_what_a_physician_has_answered_is_told_no_more():
    seen = "20 d: parent observed mood_total 14; 21 d: parent answer physician"
    assert measures(seen) == {}
    later = measures(f"{seen}; 40 d: parent observed mood_total 12")
    assert later == {"highest_mood_total_points": 12, "last_mood_total_points": 12}
    midwife = seen.replace("physician", "midwife")
    assert measures(midwife)["highest_mood_total_points"] == 14


@pytest.mark.parametrize("answer", [None, "", "often", "14|15", "nan", "inf"])
def test_what_is_no_number_is_no_total(answer):
    (one,) = [
        one
        for one in record_of(GIRL, "20 d: parent observed mood_total 14").entries
        if one.infant_id is None
    ]
    odd = replace(one, fact=replace(one.fact, answer=answer))
    assert count_measures((odd,), BORN_AT) == {}


def test_its_age_is_time_since_birth_and_none_before_it():
    entries = record_of(GIRL, "20 d: parent observed mood_total 14").entries
    own = tuple(one for one in entries if one.infant_id is None)
    (found,) = count_measures(own, BORN_AT)["last_mood_total_points"]
    assert found.age_h == 480
    (unknown,) = count_measures(own, None)["last_mood_total_points"]
    assert unknown.age_h == 0


def test_pulse_and_breaths_are_the_highest_that_no_physician_has_answered():
    seen = "5 d: parent observed parent_pulse 118; 5.1 d: parent observed parent_pulse 96"
    assert measures(seen) == {"highest_pulse_per_min": 118}
    assert measures(f"{seen}; 5.2 d: parent answer physician") == {}
    both = f"{seen}; 5 d: parent observed parent_breaths 22"
    assert measures(both) == {"highest_pulse_per_min": 118, "highest_breaths_per_min": 22}
