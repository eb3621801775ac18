"""An act on the clock: when it ends, and what a file may not say of it."""

from __future__ import annotations

import msgspec
import pytest

from suffice.clinical.entry import Plan
from suffice.clinical.entry.clock import Act


def test_an_act_may_pass_midnight() -> None:
    assert Act(starts_minutes=1410, minutes=60, what="sleep").ends_minutes == 1470


@pytest.mark.parametrize(
    "act",
    [
        {"starts_minutes": 1440, "minutes": 15, "what": "breast"},
        {"starts_minutes": -1, "minutes": 15, "what": "breast"},
        {"starts_minutes": 0, "minutes": 0, "what": "breast"},
        {"starts_minutes": 0, "minutes": 15, "what": "walk"},
        {"starts_minutes": 0, "minutes": 15, "what": "milk", "who": "nobody"},
    ],
)
def test_an_act_that_cannot_be_is_refused(act: dict[str, object]) -> None:
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({"kind": "plan", "move": "first", "clock": [act]}, type=Plan)


def test_a_plan_keeps_its_day() -> None:
    plan = Plan(
        move="first", clock=(Act(starts_minutes=30, minutes=45, what="bottle", who="helper"),)
    )
    assert msgspec.json.decode(msgspec.json.encode(plan), type=Plan) == plan
