"""All problems weighed: order, urgency, reasons, both sides; the cases themselves are in tests/spec/problems."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from suffice.assess.problems.named import name_problems
from suffice.assess.problems.state import State
from suffice.assess.rules.table import Found
from suffice.assess.rules.truth import Truth
from suffice.knowledge.schema import LEVELS
from suffice.knowledge.store import load

CONTENT = load()
WORDS = {**CONTENT.vocabularies["observations"], **CONTENT.known}
SORE = {
    "gape": (Found(("short",), None, "left"), Found(("clear",), None, "right")),
    "nipple_after": (Found(("creased",), None, "left"), Found(("round",), None, "right")),
    "pain_end": (Found((), 6, "left"), Found((), 0, "right")),
    "pain_where": (Found(("nipple",), None, "left"), Found(("none",), None, "right")),
}


@st.composite
def finds(draw):
    asked = sorted(key for key, word in WORDS.items() if word.type != "text")
    keys = draw(st.lists(st.sampled_from(asked), max_size=25, unique=True))
    found = {}
    for key in keys:
        side = draw(st.sampled_from(["", "left", "right"]))
        word = WORDS[key]
        if word.type == "number":
            one = Found((), draw(st.sampled_from([0, 0.3, 1, 4, 20, 80, 400, 5000])), side)
        else:
            one = Found((draw(st.sampled_from(word.answers)),), None, side)
        found[key] = (one,)
    return found


def by_key(result):
    return {one.key: one for one in result.problems}


def test_a_problem_of_one_breast_is_named_on_that_side_with_its_reasons():
    latch = by_key(name_problems(SORE, CONTENT))["shallow_latch"]
    assert (latch.state, latch.sides) == (State.STRONG, ("left",))
    assert {one.key for one in latch.supports} == {"gape", "nipple_after", "pain_end"}
    assert {one.found.side for one in latch.supports} == {"left"}
    assert latch.parts_count == 3


def test_urgency_goes_before_strength():
    result = name_problems(SORE | {"mood_total": (Found(number=11),)}, CONTENT)
    assert result.named[0].key == "low_mood"
    assert result.named[0].state is State.SUPPORTED


def test_an_open_flag_of_a_problem_makes_it_as_urgent():
    calm = by_key(name_problems(SORE, CONTENT))["shallow_latch"]
    now = by_key(name_problems(SORE, CONTENT, flags={"no-swallows": "physician"}))["shallow_latch"]
    assert (calm.level, now.level) == ("consultant", "physician")
    assert now.open_flags == ("no-swallows",)


def test_it_is_handed_over_only_where_it_is_named_and_the_row_applies():
    crust = by_key(name_problems({"nipple_fluid": (Found(("crust",)),)}, CONTENT))
    assert [one.within_h for one in crust["nipple_infection"].hand_over] == [24]
    none = by_key(name_problems({"nipple_fluid": (Found(("none",)),)}, CONTENT))
    assert none["nipple_infection"].hand_over == ()


def test_what_settles_it_is_asked_of_each_side():
    settled = {"pain_end": (Found(number=0),), "nipple_after": (Found(("round",)),)}
    assert by_key(name_problems(settled, CONTENT))["pain_latch"].is_settled is Truth.TRUE
    assert by_key(name_problems({}, CONTENT))["pain_latch"].is_settled is Truth.CANNOT_TELL


@settings(max_examples=20)
@given(finds())
def test_the_order_is_that_of_the_stated_criteria_and_nothing_is_left_out(found):
    result = name_problems(found, CONTENT)
    assert sorted(one.key for one in result.problems) == sorted(CONTENT.guide.problems)
    place = {key: at for at, key in enumerate(CONTENT.guide.problems)}
    order = [
        (LEVELS.index(one.level), -one.state, -one.parts_count, place[one.key])
        for one in result.named
    ]
    assert order == sorted(order)
    assert result == name_problems(dict(reversed(found.items())), CONTENT)


@settings(max_examples=20)
@given(finds())
def test_nothing_that_calms_is_named_while_intake_is_not_known(found):
    found = {key: one for key, one in found.items() if key != "intake"}
    for one in name_problems(found, CONTENT).named:
        if one.problem.reassures:
            early = [row for row in one.problem.strong if row.early]
            assert early, one.key


@settings(max_examples=20)
@given(finds())
def test_every_reason_was_found(found):
    for one in name_problems(found, CONTENT).problems:
        for reason in (*one.supports, *one.against):
            assert reason.found in found[reason.key]
        assert bool(one.supports) or not one.is_named


def test_of_equals_the_one_that_more_parts_of_the_contact_support_goes_first():
    """Content order alone would name the latch first: each is strong and the consultant's."""
    finds = {
        "better_after_change": (Found(("yes",)),),
        "pain_start": (Found(number=5),),
        "intake": (Found(("short",)),),
        "before_feed": (Found(("full",)),),
        "after_feed": (Found(("same",)),),
        "swallows": (Found(("light",)),),
    }
    named = name_problems(finds, CONTENT).named
    strong = [one for one in named if one.state is State.STRONG and one.level == "consultant"]
    counts = [one.parts_count for one in strong]
    assert [one.key for one in strong][:2] == ["ineffective_suck", "shallow_latch"]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[1]


def test_a_problem_names_five_unknown_things_at_most_and_waits_for_nothing_unless_it_is_supported():
    problems = name_problems({}, CONTENT).problems
    assert max(len(one.not_known) for one in problems) == 5
    assert not any(one.waits_for_intake for one in problems)
