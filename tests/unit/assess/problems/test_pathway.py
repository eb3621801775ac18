"""Instructions for problems together, the rules between them, and codes that fit person and age."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from suffice.assess.problems.named import name_problems
from suffice.assess.problems.pathway import (
    Step,
    codes_of,
    fight,
    instructions_of,
    rule_for,
    ways_of,
)
from suffice.assess.rules.table import Found
from suffice.knowledge.store import load

CONTENT = load()
GUIDE = CONTENT.guide
RED = {"redness": (Found(("wedge",)),), "warm": (Found(("yes",)),)}
PUMP = {"apart": (Found(("now",)),), "expression_use": (Found(("all",)),)}


def steps(finds):
    return instructions_of(name_problems(finds, CONTENT).named, GUIDE)


def test_a_red_breast_keeps_its_usual_sessions_beside_a_plan_to_express_more():
    found = {(one.kind, one.key): one for one in steps(RED | PUMP)}
    assert ("do", "express_extra") not in found
    assert ("do", "express_start") not in found
    kept = found["do", "keep_usual_removal"]
    assert any("two days after it has gone" in says for says in kept.rules)
    assert ("do", "express_extra") in {(one.kind, one.key) for one in steps(PUMP)}


def test_each_instruction_is_said_once_with_all_problems_that_ask_for_it():
    found = steps({"nipple_after": (Found(("creased",)),), "gape": (Found(("short",)),),
                   "pain_end": (Found(number=6),)})  # fmt: skip
    keys = [(one.kind, one.key) for one in found]
    assert len(keys) == len(set(keys))
    latch = next(one for one in found if one.key == "improve_latch")
    assert set(latch.problems) == {"shallow_latch", "pain_latch"}
    kinds = [one.kind for one in found]
    assert kinds == sorted(kinds, key=lambda kind: kind != "do")


def test_where_two_go_together_both_stay_and_the_first_says_how():
    finds = {
        "gape": (Found(("short",)),),
        "nipple_after": (Found(("creased",)),),
        "intake": (Found(("short",)),),
        "before_feed": (Found(("full",)),),
        "after_feed": (Found(("same",)),),
        "swallows": (Found(("light",)),),
    }
    found = {one.key: one for one in steps(finds) if one.kind == "do"}
    assert {"soften_areola", "compress"} <= found.keys()
    says = [one for key in ("soften_areola", "compress") for one in found[key].rules]
    assert sum("compress during the feed" in one for one in says) == 1


def test_expressed_milk_of_a_side_with_blisters_is_never_given():
    """Grouped blisters beside an infant who leaves the milk: 'give what is expressed' says of which side."""
    finds = {
        "blisters": (Found(("grouped",), None, "left"),),
        "intake": (Found(("short",)),),
        "before_feed": (Found(("full",)),),
        "after_feed": (Found(("same",)),),
        "swallows": (Found(("light",)),),
    }
    found = {(one.kind, one.key): one for one in steps(finds)}
    assert ("avoid", "milk_that_side") in found
    express = found["do", "express_after"]
    assert any("is discarded" in says for says in express.rules)


def step(kind, key):
    return Step(kind=kind, key=key, says="", problems=())


@pytest.mark.parametrize(
    ("one", "other", "topics"),
    [
        (("do", "express_extra"), ("do", "reduce_pumping"), {"removal"}),
        (("do", "express_extra"), ("avoid", "express_extra"), {"removal"}),
        (("avoid", "express_extra"), ("avoid", "skip_removal"), set()),
        (("do", "express_after"), ("do", "express_extra"), set()),
        (("do", "stop_that_side"), ("do", "keep_usual_removal"), {"that side"}),
        (("do", "cold_to_breast"), ("do", "warm_nipple"), set()),
        (("do", "cold_to_breast"), ("avoid", "long_heat"), set()),
        (("do", "wake_3_hourly"), ("do", "protect_sleep"), {"night"}),
        (("do", "feed_often"), ("do", "protect_sleep"), {"night"}),
        (("do", "express_after"), ("avoid", "milk_that_side"), {"milk of that side"}),
        (("do", "switch_sides"), ("avoid", "milk_that_side"), {"milk of that side"}),
        (("do", "stop_contact"), ("avoid", "cream_on_pus"), {"ointment"}),
    ],
)
def test_two_that_pull_one_thing_two_ways_fight(one, other, topics):
    found = list(fight(step(*one), step(*other), GUIDE))
    assert {topic for topic, *_ in found} == topics
    for topic, *ways in found:
        assert rule_for(topic, ways, GUIDE) is not None
        assert rule_for(topic, reversed(ways), GUIDE) == rule_for(topic, ways, GUIDE)


def test_a_warning_acts_the_other_way():
    assert ways_of(step("avoid", "express_extra"), GUIDE) == {"removal": "not more"}
    assert rule_for("weather", ("rain", "sun"), GUIDE) is None


def test_codes_fit_person_and_age_and_a_routine_visit_never_stands_beside_a_disorder():
    sore = {"nipple_after": (Found(("creased",)),), "gape": (Found(("short",)),),
            "pain_end": (Found(number=6),)}  # fmt: skip
    calm = {"supply_worry": (Found(("yes",)),), "intake": (Found(("enough",)),),
            "gain_band": (Found(("usual",)),), "wets": (Found(("norm",)),),
            "supplement_ml": (Found(number=0),)}  # fmt: skip
    named = name_problems(sore | calm, CONTENT).named
    assert codes_of(named, "infant", 5) == ("P92.5",)
    assert codes_of(named, "infant", 40) == ("R63.39",)
    assert "Z39.1" not in codes_of(named, "parent", 40)
    assert codes_of(name_problems(calm, CONTENT).named, "parent", 40) == ("Z39.1",)


def test_two_that_pull_two_ways_without_a_rule_both_stay():
    """That the content holds no such pair is tested there; here nothing may be dropped unsaid."""
    named = name_problems(RED | PUMP, CONTENT).named
    kept = instructions_of(named, replace(GUIDE, rules=()))
    keys = {(one.kind, one.key) for one in kept}
    assert {("do", "express_extra"), ("do", "keep_usual_removal")} <= keys
    assert not any(one.rules for one in kept)
