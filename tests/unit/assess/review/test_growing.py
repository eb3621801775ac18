"""Whether an infant grows so well that one feed fewer is no reason to wake it."""

from __future__ import annotations

import msgspec
import pytest

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from suffice.assess.case import case_of
from suffice.assess.parameters import parameters_of
from suffice.assess.review.growing import review_growing
from suffice.assess.review.output import Gained
from suffice.assess.review.weight import review_weights
from suffice.assess.rules.truth import Truth
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load


def growing(
    seen: str, infant: str = "boy, 40+3, 3700 g, vaginal", low: float | None = None
) -> Truth:
    content, record = load(), record_of(infant, seen)
    case = case_of(
        record.infants[0],
        "x",
        record.entries,
        as_of=BORN_AT + age_of("20 d"),
        content=content,
        policy=Policy(zone=ZONE),
    )
    parameters = parameters_of(content)
    weights = review_weights(case, parameters, corrected_age=None)
    figures = weights.reviewed.figures
    gain = figures.get("gain_since_nadir_g_per_day")
    if gain is not None and low is not None:
        gain = msgspec.structs.replace(gain, low=low)
    gained = Gained(has_risen=weights.has_risen, since_lowest=gain)
    found = review_growing(case, parameters, gained, figures.get("change_percent"))
    return found.signs["growing_well"][0].present


@pytest.mark.parametrize(
    ("seen", "is_growing"),
    [
        ("6 d: 3570 g; 13 d: 3780 g; 13 d: count of 7 feeds", Truth.TRUE),
        ("6 d: 3570 g; 13 d: 3773 g; 13 d: count of 7 feeds", Truth.FALSE),
        ("6 d: 3450 g; 13 d: 3699 g; 13 d: count of 7 feeds", Truth.FALSE),
        ("6 d: 3570 g; 13 d: 3780 g; 17 d: count of 7 feeds", Truth.TRUE),
        ("6 d: 3570 g; 13 d: 3780 g; 17.1 d: count of 7 feeds", Truth.FALSE),
        ("13 d: 3780 g; 13 d: count of 7 feeds", Truth.FALSE),
        ("13 d: count of 7 feeds", Truth.FALSE),
    ],
)
def test_back_at_birth_weight_with_a_strong_gain_that_still_stands(seen, is_growing):
    assert growing(seen) is is_growing


def test_without_a_birth_weight_nobody_knows_that_it_is_back():
    seen = "6 d: 3570 g; 13 d: 3836 g; 13 d: count of 7 feeds"
    assert growing(seen, "boy, 40+3, vaginal") is Truth.FALSE


def test_a_gain_that_weighing_alone_may_have_made_is_not_strong():
    seen = "6 d: 3570 g; 13 d: 3780 g; 13 d: count of 7 feeds"
    assert growing(seen, low=0.5) is Truth.TRUE
    assert growing(seen, low=-0.5) is Truth.FALSE
