"""A worse fact never calms, and never hides behind an answer or a handover that did not know of it."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.results import Rank
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from sweeps import drawn

CONTENT, POLICY = load(), Policy(zone=ZONE)
INFANT = "girl, 39+0, 3400 g, vaginal"
ASKED_H = 200
TAKEN_H = 150
"""Age at the answer, or the handover."""

weights = st.integers(2800, 3400).map("{} g".format)
counts = st.builds("{} {} in 24 h".format, st.integers(0, 8), st.sampled_from(["wets", "stools"]))
feeds = st.integers(4, 10).map("{} feeds in 24 h".format)
signs = st.sampled_from(["sign jaundice", "sign hard_to_wake", "wet with urates", "38.2 °C"])
facts = st.one_of(weights, counts, feeds, signs)
ages = st.integers(24, TAKEN_H)
histories = st.lists(st.tuples(ages, facts), min_size=1, max_size=4)
taken = st.sampled_from(["answer physician", "answer hospital", "handed over physician by 230 h"])


def rank_of(seen: list[str]) -> Rank:
    record = record_of(INFANT, "; ".join(seen))
    asked_at = BORN_AT + age_of(f"{ASKED_H} h")
    return assess(record, asked_at, CONTENT, POLICY, engine=False).rank


def written(history: list[tuple[int, str]]) -> list[str]:
    return [f"{age_h} h: {what}" for age_h, what in history]


@settings(max_examples=drawn(150), deadline=None)
@given(histories, taken, st.tuples(ages, facts))
def test_what_was_not_known_stands_no_calmer_than_what_was(history, act, fact):
    """The same facts: one of them entered after the answer or handover, or before it."""
    age_h, what = fact
    base = [*written(history), f"{TAKEN_H} h: {act}"]
    known = rank_of([*base, f"{age_h} h: {what}"])
    new = rank_of([*base, f"{age_h} h: {what} entered {ASKED_H - 1} h"])
    assert new.tier <= known.tier


@settings(max_examples=drawn(100), deadline=None)
@given(histories, taken, st.integers(TAKEN_H, ASKED_H - 1), st.integers(2500, 2790))
def test_the_lowest_weight_of_all_stands_as_if_nobody_had_answered(history, act, at_h, weight_g):
    """It is later than the answer or handover, and lower than every weight that was known."""
    lowest = f"{at_h} h: {weight_g} g entered {ASKED_H - 1} h"
    alone = rank_of([lowest])
    assert rank_of([*written(history), f"{TAKEN_H} h: {act}", lowest]).tier <= alone.tier


@settings(max_examples=drawn(100), deadline=None)
@given(histories, taken, st.integers(24, TAKEN_H), st.integers(1, 300))
def test_a_correction_to_a_lower_weight_is_no_calmer_than_the_weight_alone(
    history, act, at_h, less_g
):
    first, right = f"{at_h} h: 3050 g", f"{at_h} h: {3050 - less_g} g in place of 1"
    base = [first, *written(history), f"{TAKEN_H} h: {act}"]
    if any(what.endswith(" g") for _, what in history):
        return
    corrected = rank_of([*base, f"{right} entered {ASKED_H - 1} h"])
    assert corrected.tier <= rank_of([f"{at_h} h: {3050 - less_g} g"]).tier
