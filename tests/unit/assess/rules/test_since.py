"""Since when several findings are so together: from the last of them that is needed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

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
