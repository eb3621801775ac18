"""The change of weight beside the answer."""

from __future__ import annotations

from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.family.answer import _change
from suffice.web.shown.wording import Wording


def change(seen: str, at: str) -> str:
    record = record_of("girl, 39+0, 3400 g, vaginal", seen)
    infant = assess(record, BORN_AT + age_of(at), load(), Policy(), engine=False).infants[0]
    return _change(infant, load(), Wording(policy=Policy())).replace("\N{NO-BREAK SPACE}", " ")


def test_it_is_that_since_the_weight_before_and_from_birth() -> None:
    assert change("3 d: 3200 g; 10 d: 3420 g", "10 d") == "+220 g in 7 days, +0.6 % from birth"


def test_a_weight_in_clothes_shows_no_change_and_is_no_weight_before() -> None:
    assert change("3 d: 3200 g; 10 d: 3420 g; 12 d: 3800 g clothed", "12 d") == "clothed"
    dressed_before = "3 d: 3200 g; 9 d: 3800 g clothed; 10 d: 3420 g"
    assert change(dressed_before, "10 d") == "+220 g in 7 days, +0.6 % from birth"


def test_weights_of_a_few_hours_are_one_weighing_and_the_other_is_named() -> None:
    """Two who weigh within minutes: '-20 g in 0 h' said nothing, and hid the change since the day before."""
    twice = change("3 d: 3200 g; 9 d: 3420 g; 217 h: 3400 g", "217 h")
    assert twice == "+200 g in 6 days, 0.0 % from birth, also 3420 g within 6 h"
    apart = change("3 d: 3200 g; 9 d: 3420 g; 222 h: 3440 g", "222 h")
    assert apart == "+20 g in 6 h, +1.2 % from birth"
    assert change("1 h: 3380 g", "1 h") == "−20 g in 1 h, −0.6 % from birth"
