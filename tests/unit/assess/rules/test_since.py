"""Since when several findings are so together: from the last of them that is needed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from spec.vignette import BORN_AT as BIRTH
from spec.vignette import age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.rules.since import what_came_last
from suffice.assess.rules.table import Ground, Sign
from suffice.assess.rules.truth import Truth
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import load

BORN_AT = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)
YELLOW, LOSS, STOOLS, MEASURED = (
    Condition(sign=name) for name in ("yellow", "loss", "stools", "measured")
)
TOGETHER = Condition(all_of=(YELLOW, Condition(any_of=(LOSS, STOOLS)), Condition(not_of=MEASURED)))


def ground(asked, at_h):
    at = None if at_h is None else BORN_AT + timedelta(hours=at_h)
    return Ground(asked=asked, truth=Truth.TRUE, fact=Sign(present=Truth.TRUE, at=at))


def hours(condition, **at_h):
    named = {"yellow": YELLOW, "loss": LOSS, "stools": STOOLS, "measured": MEASURED}
    found = what_came_last(condition, [ground(named[name], at) for name, at in at_h.items()])
    return found and (found.fact.at - BORN_AT) / timedelta(hours=1)


def test_what_is_needed_last_says_since_when():
    assert hours(TOGETHER, yellow=60, loss=130) == 130
    assert hours(TOGETHER, yellow=140, loss=130) == 140


def test_of_alternatives_the_first_is_enough():
    assert hours(TOGETHER, yellow=60, loss=130, stools=90) == 90
    assert hours(TOGETHER, yellow=60, loss=50, stools=90) == 60


def test_what_has_no_time_says_nothing():
    assert hours(TOGETHER, yellow=60, loss=None) == 60
    assert hours(TOGETHER, yellow=None, loss=None) is None
    assert hours(Condition(not_of=MEASURED), measured=50) is None


def test_to_weigh_again_gains_no_time_for_a_bilirubin():
    """Yellow since 60 h: what speaks for it beside the loss of 84 h is due six hours after 60 h."""
    seen = "59 h: 3050 g; 60 h: sign jaundice; 84 h: 3040 g"
    record = record_of("girl, 39+4, 3400 g, vaginal", seen)
    found = assess(record, BIRTH + age_of("85 h"), load(), Policy(), engine=False)
    (one,) = (one for one in found.infants[0].findings if one.code == "jaundice-and-loss")
    assert (one.at, one.due_at) == (BIRTH + age_of("84 h"), BIRTH + age_of("66 h"))


def due(seen, asked_at, code):
    record = record_of("girl, 39+3, 3300 g, vaginal", seen)
    found = assess(record, BIRTH + age_of(asked_at), load(), Policy(zone="UTC"), engine=False)
    (one,) = (one for one in found.infants[0].findings if one.code == code)
    assert one.due_at is not None
    return (one.due_at - BIRTH) / timedelta(hours=1)


LOSING = "72 h: 3080 g; 96 h: 3060 g; 120 h: 3050 g"


@pytest.mark.parametrize(
    ("seen", "asked_at", "due_h"),
    [
        (LOSING, "121 h", 144),
        (f"{LOSING}; 140 h: 3048 g", "141 h", 144),
        (f"{LOSING}; 132 h: 3055 g; 143 h: 3058 g", "143.5 h", 144),
        (f"{LOSING}; 140 h: 3048 g; 141 h: contact due 190 h", "141.5 h", 164),
        (f"{LOSING}; 140 h: contact due 190 h; 160 h: contact due 190 h", "161 h", 144),
        (f"{LOSING}; 120.5 h: answer physician; 140 h: 3040 g", "141 h", 144),
    ],
    ids=[
        "once",
        "lower",
        "a little higher, and still there",
        "seen meanwhile",
        "not weighed",
        "answered",
    ],
)
def test_a_weight_that_shows_the_same_gains_nobody_time(seen, asked_at, due_h):
    """Seven percent on day 6, seen within a day: weighing every day does not put that off.

    Nor does a contact at which nobody weighed the infant.
    """
    assert due(seen, asked_at, "loss-late") == due_h


def test_what_was_not_asked_of_an_earlier_weight_does_not_make_it_late():
    assert (
        due("72 h: 3000 g; 96 h: 3080 g; 120 h: 3060 g; 130 h: 3055 g", "131 h", "loss-late") == 144
    )


def test_a_physician_is_due_from_the_first_of_the_weights_that_no_one_answered():
    seen = "72 h: 2960 g; 96 h: 2955 g"
    assert due(seen, "97 h", "loss-at-limit") == 76
    assert due("72 h: 2960 g; 74 h: answer physician; 96 h: 2950 g", "97 h", "loss-at-limit") == 100


def test_a_slow_gain_that_is_weighed_again_and_again_is_due_from_the_first():
    """Flat since day 20: seen within a day of the first weight that shows it for sure."""
    weights = "14 d: 3450 g; 20 d: 3480 g; 27 d: 3500 g"
    first = due(weights, "27.1 d", "gain-surely-slow")
    assert due(f"{weights}; 28 d: 3505 g; 29 d: 3510 g", "29.1 d", "gain-surely-slow") == first


def test_two_findings_together_are_due_from_the_first_weight_that_shows_the_one():
    seen = "60 h: sign jaundice; 84 h: 3020 g; 108 h: 3015 g"
    record = record_of("girl, 39+4, 3300 g, vaginal", seen)
    found = assess(record, BIRTH + age_of("109 h"), load(), Policy(), engine=False)
    (one,) = (one for one in found.infants[0].findings if one.code == "jaundice-and-loss")
    assert one.due_at is not None
    assert one.due_at <= BIRTH + age_of("90 h")
