"""The teaching sheets of the content: their topics, and that no family is given two that fight."""

from __future__ import annotations

import re
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
    "danger", "no_milk_yet", "dry_baby", "yellow_baby", "safe_swallow", "sudden_crying",
    "fever_after_birth", "blisters", "lump_drain", "breast_check", "nipple_wound", "latch", "positions",
    "sore_nipples", "engorgement", "inflamed_breast", "cold_nipple", "itchy_nipple", "yeast",
    "bleb", "touch_pain", "chest_muscle", "pump_fit", "shield", "waking", "early_baby",
    "not_on_yet", "refusal", "sore_from_birth", "unit", "twins", "cues", "cluster_feeding",
    "unsettled", "enough", "paced_feeding", "storing_milk", "making_more", "milk_cause",
    "medicine", "step_down", "stopping", "return_to_work", "fast_flow", "hand_expression",
    "low_mood", "low_at_letdown", "aversion", "blood_or_food", "after_death", "after_loss_of_one",
]  # fmt: skip
GUIDE = CONTENT.guide
JOINED = [{"usual", "comfort"}, {"usual", "by hand"}, {"comfort", "by hand"}]
"""Ways of which the rule has room for both: the usual feeds, comfort between them, and that it is done by hand."""
AGAINST = [
    (r"\btake milk out more often\b", r"\bas often as before\b|\bas often as your baby used to\b"),
    (r"\btake milk out more often\b", r"\bpress out only a little\b|\bleave out one feed\b"),
    (r"\bdo not feed from that side\b", r"\bon both sides\b|\bdo not leave the sore side out\b"),
    (r"\bpress or pump \*\{times\} times", r"\bleave out one feed\b"),
    (r"\bcarry your baby, rock\b", r"\bhave a doctor look at your baby today\b"),
    (r"\bsoft breasts still make milk\b", r"\bfind out why milk is low\b"),
    (r"\blean back, so that your baby lies on top\b|\band when milk flows fast\b", r"\bfeed upright\b"),
]  # fmt: skip
"""Instructions that a tired parent could not both follow."""
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
    assert usual <= set(SHEETS["making_more"].not_with)


@pytest.mark.parametrize("problem", PROBLEMS)
def test_every_pathway_has_a_sheet(problem: str) -> None:
    own = [key for key, one in SHEETS.items() if problem in one.goes_with]
    assert own, "no sheet goes with it"


def together(first: Sheet, second: Sheet) -> bool:
    """Whether a family with one open problem of each could be given both.

    Where no milk may be given all but a few sheets wait; `test_teaching_sheets.py` asks that.
    """
    return any(
        not {one, other} & {*first.not_with, *second.not_with}
        for one in first.goes_with or PROBLEMS
        for other in second.goes_with or PROBLEMS
    )


def given_with(key: str, problem: str) -> bool:
    """Whether the sheet could be given while the problem is open, beside one that it goes with."""
    return problem not in SHEETS[key].not_with


@pytest.mark.parametrize("key", TOPICS)
def test_no_sheet_pulls_against_a_pathway_beside_which_it_may_be_given(key: str) -> None:
    """The search over every instruction of every problem: where a rule lets the other way win, it is not given."""
    against = []
    for problem, one in PROBLEMS.items():
        for done, keys in ((True, one.do), (False, one.avoid)):
            for instruction in keys:
                for topic, way in GUIDE.instructions[instruction].acts_on.items():
                    mine = SHEETS[key].acts_on.get(topic)
                    if mine is None or not given_with(key, problem):
                        continue
                    if loses(topic, mine, way if done else f"not {way}"):
                        against.append((problem, instruction, mine))
    assert against == []


def loses(topic: str, mine: str, other: str) -> bool:
    """Whether a way of a sheet would give in to another, or nobody says which of them wins."""
    if mine == other or {mine, other} in JOINED:
        return False
    if other.startswith("not ") and other != f"not {mine}":
        return False
    rule = next(
        (one for one in GUIDE.rules if one.topic == topic and {*one.ways} == {mine, other}), None
    )
    return rule is None or rule.wins not in {"both", mine}


def test_a_way_that_loses_is_found() -> None:
    assert loses("removal", "more", "usual")
    assert loses("removal", "more", "not more")
    assert loses("removal", "more", "a way that nobody knows")
    assert not loses("removal", "usual", "more")
    assert not loses("rhythm", "wake", "cue")


def test_two_sheets_pull_one_thing_in_two_ways_only_where_the_rules_have_room_for_both() -> None:
    found = []
    for one, other in combinations(SHEETS, 2):
        first, second = SHEETS[one], SHEETS[other]
        if fights(one, other, SHEETS) or not together(first, second):
            continue
        for topic in first.acts_on.keys() & second.acts_on.keys():
            ways = (first.acts_on[topic], second.acts_on[topic])
            if ways[0] != ways[1] and loses(topic, *ways) and loses(topic, *reversed(ways)):
                found.append((one, other, topic, ways))
    assert found == []


def test_what_a_sheet_acts_on_is_said_as_the_instructions_say_it() -> None:
    known = {pair for one in GUIDE.instructions.values() for pair in one.acts_on.items()}
    said = {pair for one in SHEETS.values() for pair in one.acts_on.items()}
    assert said <= known
    assert len(said) > 10


@pytest.mark.parametrize(("one", "other"), AGAINST, ids=[one for one, _ in AGAINST])
def test_no_two_sheets_that_a_family_can_be_given_say_opposite_things(one: str, other: str) -> None:
    says = {key: words_of(each) for key, each in SHEETS.items()}
    left = [key for key, text in says.items() if re.search(one, text)]
    right = [key for key, text in says.items() if re.search(other, text)]
    assert left
    pairs = [(a, b) for a in left for b in right if a != b]
    assert [
        pair
        for pair in pairs
        if not fights(*pair, SHEETS)
        and together(*(SHEETS[key] for key in pair))
        and not any(SHEETS[key].without_milk for key in pair)
    ] == []


def test_a_sheet_for_one_problem_alone_goes_with_one() -> None:
    assert all(one.goes_with for one in SHEETS.values() if one.only_with)
    assert [key for key, one in SHEETS.items() if one.without_milk] == ["danger", "no_milk_yet"]


def test_no_calming_sheet_goes_with_a_problem_of_too_little_milk() -> None:
    short = {"low_supply", "slow_gain", "excess_weight_loss", "suspected_dehydration"}
    for key in ("cluster_feeding", "fast_flow"):
        assert short <= set(SHEETS[key].not_with), key
    calm = [key for key, one in SHEETS.items() if one.reassures]
    assert calm == ["cluster_feeding", "unsettled", "enough"]
    assert all(short <= set(SHEETS[key].not_with) for key in calm)


def test_no_sheet_sends_to_a_breast_with_herpes() -> None:
    for key in ("sore_nipples", "engorgement", "inflamed_breast", "making_more"):
        assert "breast_herpes" in SHEETS[key].not_with


def test_no_sheet_forbids_the_long_sleep_that_another_asks_for() -> None:
    says = words_of(SHEETS["low_mood"])
    assert "one long sleep" in says
    for key in TOPICS:
        for sentence in words_of(SHEETS[key]).split(". "):
            assert "skip the night" not in sentence, key


def test_what_is_an_emergency_in_the_rules_is_not_left_for_a_call_to_the_clinic() -> None:
    """A faint of the parent, a fever of a young infant, and a yellow infant too sleepy to feed are."""
    for key in TOPICS:
        for sentence in SHEETS[key].call.says.casefold().split(". "):
            if "faint" in sentence:
                assert "call for help now" in sentence, key
            assert not re.search(r"\bbaby\b.*\bfever\b", sentence), key
            if "too sleepy to feed" in sentence and "yellow" in sentence:
                assert "go to the hospital now" in sentence, key


def test_what_teaches_opposite_things_is_not_given_together() -> None:
    apart = {frozenset(pair) for pair in combinations(SHEETS, 2) if fights(*pair, SHEETS)}
    assert apart == {
        frozenset({"engorgement", "making_more"}),
        frozenset({"inflamed_breast", "making_more"}),
        frozenset({"fast_flow", "making_more"}),
        frozenset({"waking", "cluster_feeding"}),
        frozenset({"waking", "enough"}),
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


def test_the_sheet_of_blood_or_food_asks_no_haste_for_a_rash_alone() -> None:
    """The pathway has a week for eczema; the sheet that goes with it said 'today' whatever was found."""
    sheet = SHEETS["blood_or_food"]
    assert sheet.first.says.startswith("For blood, hives, swelling or vomiting")
    said = [fact.says for part in sheet.parts for fact in part.facts]
    assert any("Ask for a time this week." in one for one in said)
