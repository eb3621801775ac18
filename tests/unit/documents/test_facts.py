"""What a paper tells a colleague of a weight that was taken in clothes."""

from __future__ import annotations

from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.clinical.entry import about
from suffice.documents.facts import _of_infant
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

GIRL = "girl, 39+0, 3400 g, vaginal"


def told(seen: str, at: str) -> dict[str, tuple[str, object]]:
    record = record_of(GIRL, seen)
    as_of = BORN_AT + age_of(at)
    infant = assess(record, as_of, load(), Policy(), engine=False).infants[0]
    own = about(record.entries, infant.infant_id)
    return {
        in_sentences([one.what]): (in_sentences([one.value]), one.at - BORN_AT)
        for one in _of_infant(infant, own)
    }


def test_a_weight_in_clothes_is_named_so_and_shows_no_loss() -> None:
    found = told("3 d: 3200 g; 10 d: 3420 g; 12 d: 3800 g clothed", "12 d")
    assert found["Weight in clothes"] == ("3800 g", age_of("12 d"))
    assert "Weight" not in found


def test_the_gain_is_of_the_last_weight_that_it_rests_on() -> None:
    found = told("3 d: 3200 g; 10 d: 3420 g; 12 d: 3800 g clothed", "12 d")
    assert found["Gain"][1] == age_of("10 d")
    bare = told("3 d: 3200 g; 10 d: 3420 g", "12 d")
    assert bare["Gain"] == found["Gain"]
    assert bare["Weight"][0] == "3420 g, 0.6 % above birth weight"


def test_what_was_written_down_in_part_is_not_told_as_a_count() -> None:
    part = told("3 d: 3200 g; 5.4 d: wet", "5.5 d")["Wet diapers in 24 h"][0]
    assert part == "1 written down, there may be more (at least 5 expected)"
    whole = told("3 d: 3200 g; 5.5 d: 1 wets in 24 h", "5.5 d")["Wet diapers in 24 h"][0]
    assert whole == "1 (at least 5 expected)"
