"""The teaching sheets of the content: their topics, and that no family is given two that fight."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import pytest

from suffice.clinical.working import SourceBasis
from suffice.knowledge.sheet import FACTS, Sheet, fights
from suffice.knowledge.store import load

CONTENT = load()
SHEETS = CONTENT.sheets
PROBLEMS = CONTENT.guide.problems
TOPICS = [
    "latch", "sore_nipples", "engorgement", "inflamed_breast", "waking", "cluster_feeding",
    "paced_feeding", "storing_milk", "making_more", "step_down", "return_to_work", "fast_flow",
    "hand_expression",
]  # fmt: skip
MORE = ("express_extra", "express_after", "express_start")
"""Instructions that ask for more milk removal than usual."""


def test_the_topics_in_their_order() -> None:
    assert list(SHEETS) == TOPICS


@pytest.mark.parametrize("key", TOPICS)
def test_a_sheet_says_what_each_fact_rests_on_and_how_old_it_is(key: str) -> None:
    one = SHEETS[key]
    assert {fact.basis for fact in one.facts()} <= set(get_args(SourceBasis))
    assert any(fact.basis != "common practice" for fact in one.facts())
    assert one.read_on <= CONTENT.manifest.dated
    assert sum(len(part.facts) for part in one.parts) in FACTS


@pytest.mark.parametrize("key", TOPICS)
def test_the_last_line_says_when_to_call(key: str) -> None:
    assert SHEETS[key].call.says.startswith("Call us")


def avoided(problem: str) -> set[str]:
    return set(PROBLEMS[problem].avoid)


def test_more_milk_is_never_taught_where_a_problem_warns_of_it() -> None:
    """Else 'take milk out more often' would stand beside 'do not express more than usual'."""
    warned = {key for key in PROBLEMS if avoided(key) & {"express_extra", "express_to_empty"}}
    assert warned
    usual = {key for key in warned if not set(PROBLEMS[key].do) & set(MORE)}
    assert usual <= set(SHEETS["making_more"].not_with) | {"return_to_work"}


def test_no_calming_sheet_goes_with_a_problem_of_too_little_milk() -> None:
    short = {"low_supply", "slow_gain", "excess_weight_loss", "suspected_dehydration"}
    for key in ("cluster_feeding", "fast_flow"):
        assert short <= set(SHEETS[key].not_with), key
    assert [key for key, one in SHEETS.items() if one.reassures] == ["cluster_feeding"]


def test_no_sheet_sends_to_a_breast_with_herpes() -> None:
    for key in ("sore_nipples", "engorgement", "inflamed_breast", "making_more"):
        assert "breast_herpes" in SHEETS[key].not_with


def test_what_teaches_opposite_things_is_not_given_together() -> None:
    apart = {frozenset(pair) for pair in combinations(SHEETS, 2) if fights(*pair, SHEETS)}
    assert apart == {
        frozenset({"engorgement", "making_more"}),
        frozenset({"inflamed_breast", "making_more"}),
        frozenset({"fast_flow", "making_more"}),
        frozenset({"waking", "cluster_feeding"}),
    }


def words_of(one: Sheet) -> str:
    return " ".join(one.texts()).casefold()


@pytest.mark.parametrize("key", TOPICS)
def test_no_sheet_teaches_what_the_pathways_warn_of(key: str) -> None:
    """Deep massage, heat, emptying the breast, one side for hours: named to warn of them only."""
    for sentence in words_of(SHEETS[key]).split(". "):
        for harm in ("rub", "knead", "empty", "one side for hours", "microwave", "water milk down"):
            if harm in sentence:
                assert any(no in sentence for no in ("do not", "never")), sentence
        assert "heat" not in sentence.split()
        assert " mg" not in sentence


def test_milk_at_home_has_one_profile_and_says_so() -> None:
    one = SHEETS["storing_milk"]
    assert one.note.startswith("For milk at home")
    assert {"unit_start", "late_preterm_feeding"} <= set(one.not_with)
    assert {key.partition(".")[0] for key in one.numbers.values()} == {"storage"}
    others = [each for key, each in SHEETS.items() if key != "storing_milk"]
    assert not any("storage." in key for each in others for key in each.numbers.values())
