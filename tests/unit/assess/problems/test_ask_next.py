"""The next question: what it changes, what is skipped, and that it is worth asking."""

from __future__ import annotations

import pytest

from suffice.assess.problems.ask_next import MOST_TRIED, Question, ask_next
from suffice.assess.problems.named import name_problems
from suffice.assess.rules.table import Found
from suffice.clinical.entry import KINDS
from suffice.knowledge.store import load

CONTENT = load()
SORE = {"pain_where": (Found(("nipple",)),)}


def asked(finds, **options):
    return name_problems(finds, CONTENT, **options).ask


def test_a_danger_of_what_was_found_is_asked_first():
    first = asked({"redness": (Found(("wedge",)),), "fullness": (Found(("hard_sore",)),)})[0]
    assert CONTENT.guide.problems[first.problems[0]].level == "physician"


def test_what_is_known_or_skipped_is_not_asked():
    keys = [one.key for one in asked(SORE)]
    assert "pain_where" not in keys
    again = [one.key for one in asked(SORE, skipped=(keys[0],))]
    assert keys[0] not in again
    assert again


@pytest.mark.parametrize("finds", [SORE, {}, {"intake": (Found(("short",)),)}])
def test_every_question_changes_what_it_names(finds):
    """Asked anew with each answer that its problems tell apart, some state or level is another one."""
    before = {one.key: (one.state, one.level) for one in name_problems(finds, CONTENT).problems}
    questions = asked(finds)
    assert 0 < len(questions) <= MOST_TRIED
    for question in questions[:6]:
        word = CONTENT.vocabularies["observations"].get(question.key) or CONTENT.known[question.key]
        tried = [Found((one,)) for one in word.answers] or [
            Found(number=one) for one in (0, 0.2, 1, 3, 10, 100, 1000, 10000)
        ]
        changed = set()
        for found in tried:
            after = name_problems({**finds, question.key: (found,)}, CONTENT).problems
            changed |= {one.key for one in after if (one.state, one.level) != before[one.key]}
        assert changed & set(question.problems), question


def of(**finds):
    return {
        key: (Found(number=one) if isinstance(one, int | float) else Found((one,)),)
        for key, one in finds.items()
    }


@pytest.mark.parametrize(
    ("finds", "key", "problem"),
    [
        (of(dent="breast", fullness="firm_sore", age_h=30), "headache", "breast_oedema"),
        (of(fullness="hard_sore", shiny="yes", age_h=96), "parent_temperature_c", "engorgement"),
        (of(refuses="takes_other", refusal_began="sudden"), "wets", "breast_refusal"),
        (of(unit_stay="now", oral_percent=30), "pauses_72h", "unit_start"),
        (of(multiple="yes", gain_band="usual", intake="enough"), "other_twin", "twins_feeding"),
    ],
)
def test_what_would_hand_a_named_problem_over_sooner_is_asked_first(finds, key, problem):
    """No state hangs on it: before, only what names a problem or takes a name away was asked."""
    first = asked(finds)[0]
    assert (first.key, problem in first.problems) == (key, True)
    assert first.changes_leading


def test_a_hand_over_that_has_a_week_is_not_asked_about_first():
    assert "pain_days" not in [one.key for one in asked(SORE)[:3]]


def test_what_is_handed_over_already_is_not_asked_about_again():
    known = of(refuses="takes_other", refusal_began="sudden", ear_pain="yes")
    assert not any("breast_refusal" in one.problems and one.key == "wets" for one in asked(known))


def test_the_same_finds_ask_the_same():
    assert asked(SORE) == asked(SORE)
    assert isinstance(asked(SORE)[0], Question)
    assert ask_next.__doc__


def test_a_cause_waits_for_what_it_may_cause():
    """Nobody without pain and without a pump is asked for the colour of the nipple or for suction."""
    calm = {"gape": (Found(("clear",)),), "swallows": (Found(("long",)),)}
    keys = {one.key for one in asked(calm)}
    assert keys
    assert {"nipple_colour", "suction", "colour_when", "pain_relatch"}.isdisjoint(keys)
    assert "nipple_colour" in {one.key for one in asked(SORE)}


@pytest.mark.parametrize(
    ("finds", "leads"),
    [
        ({"self_harm_item": (Found(("any",)),)}, "mind_danger"),
        ({"strange_beliefs": (Found(("yes",)),)}, "mind_danger"),
        ({"no_milk_sign": (Found(("yes",)),)}, "not_to_feed"),
    ],
)
def test_beside_what_forbids_all_else_nothing_else_is_asked(finds, leads):
    result = name_problems({**SORE, **finds, "gape": (Found(("short",)),)}, CONTENT)
    assert result.named[0].key == leads
    assert all(leads in one.problems for one in result.ask)
    plan = {one.key for one in asked({"self_harm_item": (Found(("any",)),)})}
    assert {"self_harm_plan", "strange_beliefs", "unwanted_thoughts"} <= plan


def every_key(finds):
    """All that could be asked: what was asked is skipped until nothing is left."""
    keys = set()
    while more := {one.key for one in asked(finds, skipped=keys)}:
        keys |= more
    return keys


def test_nobody_is_asked_for_what_follows_from_what_was_answered():
    short = {"intake": (Found(("short",)),), "available_ratio": (Found(number=1.2),)}
    short |= {"asleep_early": (Found(("yes",)),)}
    assert "taken_share" in every_key(short)
    assert "taken_share" not in every_key({**short, "left_after_ml": (Found(number=20),)})
    by = {key: one.asked_by for key, one in CONTENT.known.items()}
    for finds in ({}, SORE, short):
        assert all(by.get(key, key) for key in every_key(finds))


def test_what_is_asked_for_in_place_of_what_follows_from_it_is_an_observation_or_a_kind_of_entry():
    slugs = {name.replace(" ", "-") for name in KINDS}
    for key, one in CONTENT.known.items():
        assert (
            not one.asked_by or one.asked_by in CONTENT.vocabularies["observations"].keys() | slugs
        ), key
        assert (one.asked_by == "sign") <= bool(one.signs), key


def test_what_was_found_absent_makes_nothing_near():
    """A mother whose wound is as it should be, and who has no fever, is not asked how ill she feels first."""
    absent = {"wound_red": (Found(("no",)),), "foul_loss": (Found(("no",)),)}
    first = asked({**SORE, **absent})[0]
    assert "fever_elsewhere" not in first.problems
    fever = {**SORE, **absent, "parent_temperature_c": (Found(number=38.6),)}
    assert "fever_elsewhere" in {problem for one in asked(fever)[:2] for problem in one.problems}
