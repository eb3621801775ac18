"""A loss past the first birthday is a flag, and said where it is answered; it is never 'nothing looks wrong'."""

from __future__ import annotations

from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load


def said(seen: str, at: str) -> tuple[str, str]:
    record = record_of("boy, 39+0, 3500 g, vaginal", seen)
    found = assess(record, BORN_AT + age_of(at), load(), Policy(), engine=False)
    verdict = found.infants[0].verdict
    assert verdict is not None
    return in_sentences(found.rank.reason), in_sentences(verdict.headline)


LOST = "180 d: 7900 g; 380 d: 10300 g; 424 d: 9600 g"


def test_seven_hundred_grams_lost_at_fourteen_months_are_a_flag() -> None:
    reason, headline = said(LOST, "426 d")
    assert reason.startswith("Weight fell from 10300 g to 9600 g")
    assert headline == "Not enough: fall after a rise"


def test_where_a_physician_has_answered_the_loss_is_still_said() -> None:
    reason, headline = said(f"{LOST}; 425 d: answer physician", "426 d")
    assert reason.startswith("Losing weight, −")
    assert "Nothing looks wrong" not in reason
    assert headline == "Cannot tell: losing 16 g/day"


def test_a_gain_that_may_be_none_is_still_said_to_be_unsure() -> None:
    reason, headline = said("180 d: 7900 g; 380 d: 10300 g; 424 d: 10290 g", "426 d")
    assert "do not show a gain for sure" in reason
    assert headline == "Cannot tell: the weights do not show a gain for sure"
