"""A sign that says not to feed: no instruction that has the infant take milk stands beside it."""

from __future__ import annotations

import re

import pytest

from suffice.assess.problems.named import name_problems
from suffice.assess.problems.pathway import instructions_of
from suffice.assess.rules.table import Found
from suffice.knowledge.store import load

CONTENT = load()
GUIDE = CONTENT.guide
SIGNS = CONTENT.vocabularies["signs"]
HELD = CONTENT.known["no_milk_sign"]
SAYS_NOT = re.compile(
    r"not feed|no feed|stop any feed|nothing in its mouth|begin resuscitation", re.IGNORECASE
)
OF_FEEDING = re.compile(
    r"\b(feed|feeds|feeding|fed|offer|milk|supplement|latch|breast)\b", re.IGNORECASE
)
SPEAKS_OF_IT_ONLY = {
    # of the breast, the nipple or the parent; nothing of it puts milk into the infant
    *("shape_breast", "soften_areola", "warm_nipple", "clean_wound", "cold_to_breast"),
    *("rest_and_express", "stop_that_side", "express_discard", "picture_now", "support_arm"),
    *("drop_one", "company_at_letdown", "ask_prescriber", "stop_contact", "others_first"),
    # the milk of a parent whose infant has died
    *("say_what_can_be", "give_to_bank", "dry_up_slowly", "milk_for_the_living"),
    # says itself that there is none, or speaks of another infant of the birth
    *("no_milk_until_seen", "bilirubin_first", "each_twin"),
    "ask_in_order",  # questions only
    "remove_often",  # by feeds, by hand or with a pump: milk is removed, none need be given
}


def held_by(says: str) -> bool:
    return bool(SAYS_NOT.search(says))


def test_every_sign_that_says_not_to_feed_holds_the_milk_back() -> None:
    says_not = {
        key for key, one in SIGNS.items() if one.about == "infant" and held_by(one.until_help)
    }
    assert says_not == set(HELD.signs)
    assert {"grunting", "not_rousable", "vomit_green"} <= says_not


def test_each_of_them_has_its_flag() -> None:
    """The sign stays on the record after it was answered: the flag that is open says that it holds."""
    of_sign = {
        sign: {row.code for row in CONTENT.flags if f"'{sign}'" in repr(row.when)}
        for sign in HELD.signs
    }
    assert all(codes & set(HELD.flags["yes"]) for codes in of_sign.values()), of_sign
    assert set(HELD.flags["yes"]) == set(GUIDE.problems["not_to_feed"].flags)


def test_every_instruction_that_speaks_of_feeding_says_whether_milk_is_given() -> None:
    unsaid = {
        key
        for key, one in GUIDE.instructions.items()
        if OF_FEEDING.search(one.do) and one.acts_on.get("milk") != "given"
    }
    assert unsaid <= SPEAKS_OF_IT_ONLY, unsaid - SPEAKS_OF_IT_ONLY


@pytest.mark.parametrize("key", sorted(GUIDE.problems))
def test_no_instruction_to_feed_stands_beside_a_sign_that_says_not_to(key: str) -> None:
    named = name_problems({"no_milk_sign": (Found(("yes",)),)}, CONTENT)
    every = {one.key: one for one in named.problems}
    assert [one.key for one in named.named] == ["not_to_feed"]
    steps = instructions_of((every["not_to_feed"], every[key]), GUIDE)
    given = [one.key for one in steps if GUIDE.instructions[one.key].acts_on.get("milk") == "given"]
    assert [
        one for one in given if any(step.kind == "do" for step in steps if step.key == one)
    ] == []
    assert "no_milk_until_seen" in [one.key for one in steps]


def test_dehydration_leads_with_help_and_sets_no_day_plan() -> None:
    """Loss at its limit and hard to wake: help first; how often and how much is planned after it."""
    finds = {
        "loss_band": (Found(("severe",)),),
        "hard_to_wake": (Found(("yes",)),),
        "intake": (Found(("short",)),),
    }
    named = name_problems(finds, CONTENT).named
    assert {"suspected_dehydration", "excess_weight_loss"} <= {one.key for one in named}
    done = [one for one in instructions_of(named, GUIDE) if one.kind == "do"]
    keys = [one.key for one in done]
    assert keys[0] == "feed_now_phone"
    assert {"feed_often", "size_supplement"}.isdisjoint(keys)
    assert done[0].says.index("Phone") < done[0].says.index("feed at once")
    assert done[0].rules
