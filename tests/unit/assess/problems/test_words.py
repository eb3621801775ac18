"""The trace of a problem, and the answer to 'supply or transfer?', in words."""

from __future__ import annotations

import msgspec
import pytest

from suffice.assess.problems.named import name_problems
from suffice.assess.problems.supply import Split
from suffice.assess.problems.words import (
    LEANS,
    SPLITS,
    name_of,
    settled_words,
    split_words,
    trace_of,
)
from suffice.assess.rules.table import Found
from suffice.knowledge.asked import read_asked
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of

CONTENT = load()


def said(messages):
    return [text_of(one, Policy()) for one in messages]


def weighed(key, finds):
    return next(one for one in name_problems(finds, CONTENT).problems if one.key == key)


def test_the_trace_says_what_supports_it_what_is_against_it_and_what_is_not_known():
    finds = {
        "nipple_after": (Found(("creased",), None, "left"),),
        "pain_when": (Found(("pump",), None, "left"),),
    }
    lines = said(trace_of(weighed("pain_latch", finds), CONTENT))
    assert lines[0] == (
        "Supported by: nipple as it leaves the mouth, left: creased or wedge-shaped."
    )
    assert lines[1] == "Against it: when it hurts most, left: only with the pump."
    assert lines[2].startswith("Not known: pain after a deeper latch")


def test_reasons_are_parted_by_semicolons_and_a_gestation_is_said_in_weeks_and_days():
    finds = {"gestation_wk": (Found(number=261 / 7),), "intake": (Found(("short",)),)}
    lines = said(trace_of(weighed("late_preterm_feeding", finds), CONTENT))
    assert lines[0] == "Supported by: weeks of pregnancy at birth: 37+2 weeks; intake: short."


@pytest.mark.parametrize(("age_h", "says"), [(60, "60 h"), (216, "9 days")])
def test_an_age_is_said_as_it_is_everywhere(age_h, says):
    finds = {"age_h": (Found(number=age_h),), "hard_to_wake": (Found(("yes",)),)}
    lines = said(trace_of(weighed("sleepy_newborn", finds), CONTENT))
    assert f"age: {says}" in lines[0]


def test_reasons_of_two_sides_stand_apart():
    finds = {
        "nipple_after": (Found(("creased",), None, "left"), Found(("round",), None, "right")),
        "pain_relatch": (Found(("gone",), None, "right"),),
        "pain_end": (Found(number=6, side="left"), Found(number=5, side="right")),
    }
    lines = said(trace_of(weighed("pain_latch", finds), CONTENT))
    assert lines[0] == "Supported, left: nipple as it leaves the mouth: creased or wedge-shaped."
    assert lines[1] == "Supported, right: pain after a deeper latch: gone."


def test_a_name_that_calms_says_what_it_waits_for():
    finds = {"bunched": (Found(("part",)),), "crying_when": (Found(("evening", "all_day")),)}
    lines = said(trace_of(weighed("cluster_feeding", finds), CONTENT))
    assert "evening and all day" in lines[0]
    assert lines[-1] == "Not named until it is known whether intake is short."


def test_numbers_are_said_with_their_unit_and_yes_and_no_as_such():
    finds = {"blood_loss_ml": (Found(number=1600),), "pale_dizzy": (Found(("yes",)),),
             "intake": (Found(("short",)),)}  # fmt: skip
    line = said(trace_of(weighed("supply_blood_loss", finds), CONTENT))[0]
    assert "blood lost at and after the birth: 1600" in line.replace("\N{NO-BREAK SPACE}", " ")
    assert "pale, dizzy or breathless on stairs: yes" in line
    assert name_of("intake", CONTENT).template == "intake"


@pytest.mark.parametrize("answer", sorted(SPLITS))
def test_every_answer_has_its_words_and_what_is_safe_until_certain(answer):
    lines = said(split_words(Split(answer=answer, would_tell=("transfer_ml",)), CONTENT))
    assert lines[0] == text_of(SPLITS[answer], Policy())
    assert ("feed enough" in lines[-1]) is (answer != "not asked")
    certain = said(split_words(Split(answer=answer, is_certain=True), CONTENT))
    assert certain == lines[:1]


def test_what_is_against_it_on_two_sides_stands_apart_too():
    finds = {
        "nipple_after": (Found(("creased",), None, "left"), Found(("creased",), None, "right")),
        "pain_when": (Found(("pump",), None, "left"), Found(("pump",), None, "right")),
    }
    lines = said(trace_of(weighed("pain_latch", finds), CONTENT))
    assert [line.partition(":")[0] for line in lines[:4]] == [
        "Supported, left",
        "Supported, right",
        "Against it, left",
        "Against it, right",
    ]


def test_where_everything_is_known_nothing_is_said_to_lack():
    finds = {"nipple_after": (Found(("creased",), None, "left"),)}
    known = msgspec.structs.replace(weighed("pain_latch", finds), not_known=())
    assert not any(line.startswith("Not known") for line in said(trace_of(known, CONTENT)))


@pytest.mark.parametrize("leans", sorted(LEANS))
def test_what_it_leans_to_stands_before_what_would_tell(leans):
    split = Split(answer="cannot tell", leans=leans, would_tell=("transfer_ml",))
    lines = said(split_words(split, CONTENT))
    assert lines[1] == text_of(LEANS[leans], Policy())
    assert lines[2].startswith("What would show it: ")


@pytest.mark.parametrize(
    ("key", "said_so"),
    [
        (
            "suspected_dehydration",
            (
                "Resolved when: course of the weight: rising and wets against the norm of the day: at the"
                " norm; and the physician's answer."
            ),
        ),
        (
            "pain_latch",
            (
                "Resolved when: pain in the last minutes of the feed: at most 1 and nipple as it leaves the"
                " mouth: round, only longer; at two feeds running."
            ),
        ),
        (
            "engorgement",
            "Resolved when: fullness by hand: soft, a little fuller or firm, not sore.",
        ),
    ],
)
def test_what_settles_a_problem_is_said_whole(key, said_so):
    (line,) = said([settled_words(CONTENT.guide.problems[key].settled, CONTENT)])
    assert line == said_so


@pytest.mark.parametrize("key", CONTENT.guide.problems)
def test_what_settles_each_problem_names_all_that_must_be_so(key):
    settled = CONTENT.guide.problems[key].settled
    (line,) = said([settled_words(settled, CONTENT)])
    for one in read_asked(settled.when).single():
        assert text_of(name_of(one.find, CONTENT), Policy()) in line
    assert line.endswith(f"{settled.says}.")
    assert "{" not in line
