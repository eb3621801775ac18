"""What goes into the weight chart: the levels are those that the flags ask, the clinic's choice in them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from spec.vignette import BORN_AT, record_of
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.family.weight_chart import weight_chart_of
from suffice.web.shown.wording import Wording

KEYS = {
    "ten": "weight_loss.limit_ten_percent",
    "seven": "weight_loss.limit_seven_percent",
    "chart": "weight_loss.limit_chart_percent",
}


def limit_drawn(infant, seen, chosen, *, age_d=3.0):
    policy = Policy(zone="UTC", choices={"weight_loss_limit": KEYS[chosen]})
    content = policy.content_in_force(load())
    as_of = BORN_AT + timedelta(days=age_d)
    assessed = assess(record_of(infant, seen), as_of, content, policy, engine=False)
    drawn = weight_chart_of(assessed.infants[0], content, Wording(policy=policy)).limit
    if drawn is None:
        return None
    steps = {round(weight_g): age_d for age_d, weight_g in reversed(drawn.points)}
    return steps, drawn.label.replace("\N{NO-BREAK SPACE}", " ")


BOY = "boy, 39+0, 3000 g, vaginal"


@pytest.mark.parametrize(
    ("chosen", "expected"),
    [
        ("ten", ({2700: 0}, "10 % loss: 2700 g")),
        ("seven", ({2790: 0}, "7 % loss: 2790 g")),
        ("chart", ({2700: 0, 2667: 2}, "11.1 % loss: 2667 g")),
    ],
)
def test_the_limit_of_loss_is_drawn_where_the_clinic_chose_it(chosen, expected):
    """Before the chart's first day another candidate holds, as for the red flag."""
    assert limit_drawn(BOY, "60 h: 2800 g", chosen) == expected


def test_it_steps_where_the_limit_does():
    seen = "60 h: 2800 g; 30 d: 3800 g"
    steps, label = limit_drawn(BOY, seen, "seven", age_d=30.1)
    assert steps == {2790: 0, 2700: 28}
    assert label == "10 % loss: 2700 g"


def test_without_a_birth_weight_or_past_every_limit_none_is_drawn():
    assert limit_drawn("boy, 39+0, vaginal", "60 h: 2800 g", "ten") is None
    late = "60 h: 2800 g; 100 d: 6000 g"
    assert limit_drawn(BOY, late, "ten", age_d=101.0) is None
