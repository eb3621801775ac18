"""From a record and its assessment to named problems, as a page asks for them."""

from __future__ import annotations

from types import SimpleNamespace
from uuid import UUID, uuid5

import msgspec
import pytest

from spec.test_problems import finds_of
from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.problems import name_problems, of_family
from suffice.assess.problems.state import State
from suffice.clinical.entry import Basis, Entry, Observation, Record
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()
NOBODY = SimpleNamespace(asked_by="")


def with_observations(record: Record, at: str, *observations: tuple[str, str, bool]) -> Record:
    infant = record.infants[0].id
    entries = tuple(
        Entry(
            id=uuid5(UUID(int=9), what),
            fact=Observation(what=what, answer=answer),
            basis=Basis.OBSERVED,
            true_at=BORN_AT + age_of(at),
            entered_at=BORN_AT + age_of(at),
            entered_by="test",
            infant_id=infant if of_infant else None,
        )
        for what, answer, of_infant in observations
    )
    return msgspec.structs.replace(record, entries=(*record.entries, *entries))


def problems(record: Record, at: str):
    assessment = assess(record, BORN_AT + age_of(at), CONTENT, Policy(), engine=False)
    found = of_family.problems_of(record, assessment, CONTENT)
    return {one.key: one for one in found[record.infants[0].id].problems}


def test_a_late_preterm_infant_is_named_by_weeks_alone_and_flags_count():
    found = problems(record_of("girl, 35+0, 2500 g, vaginal", "3 d: 2300 g"), "3 d")
    assert found["late_preterm_feeding"].state is State.STRONG
    assert found["twins_feeding"].state is not State.STRONG


def test_a_loss_past_its_limit_and_few_wets_are_named_with_their_flags():
    record = record_of("girl, 39+0, 3400 g, vaginal", "96 h: 3000 g; 96 h: 1 wets in 24 h")
    found = problems(record, "96 h")
    loss = found["excess_weight_loss"]
    assert loss.state is State.STRONG
    assert "loss-at-limit" in loss.open_flags
    assert loss.level in {"physician", "emergency"}
    assert found["suspected_dehydration"].state is State.STRONG


def test_parent_and_infant_observations_meet_in_one_problem():
    record = with_observations(
        record_of("girl, 39+0, 3400 g, vaginal", "10 d: 3500 g"),
        "10 d",
        ("gape", "short", True),
        ("nipple_after", "creased", False),
    )
    assert problems(record, "10 d")["shallow_latch"].state is State.STRONG


def test_a_sign_of_the_parent_is_known():
    record = record_of(
        "girl, 39+0, 3400 g, vaginal", "5 d: parent 38.6 °C; 5 d: parent sign breast_red"
    )
    found = problems(record, "5.1 d")
    assert found["mastitis_inflammatory"].state is State.SUPPORTED
    assert found["mastitis_inflammatory"].level == "physician"


def test_nothing_known_names_nothing_that_calms():
    record = record_of("nobody knows", "3 d: feed")
    assert not [
        one for one in problems(record, "3 d").values() if one.is_named and one.problem.reassures
    ]


SLOW = record_of("girl, 39+2, 3200 g, vaginal", "10 d: 3120 g; 20 d: 3160 g; 20 d: 7 feeds in 24 h")


UNDER = record_of(
    "girl, 39+2, 3200 g, vaginal", "10 d: 2880 g; 20 d: 3080 g; 20 d: 7 feeds in 24 h"
)


def asked(at: str) -> set[str]:
    """Whatever is proposed to be asked, and only a weight would answer."""
    assessment = assess(UNDER, BORN_AT + age_of(at), CONTENT, Policy(), engine=False)
    found = of_family.problems_of(UNDER, assessment, CONTENT)[UNDER.infants[0].id]
    return {one.key for one in found.ask if CONTENT.known.get(one.key, NOBODY).asked_by == "weight"}


def test_a_weight_is_not_asked_for_again_on_the_day_it_was_taken():
    """Two weights less than a day apart make no gain; from then on it is asked for."""
    assert asked("480 h") == asked("503 h") == set()
    assert "gain_band" in asked("504 h")


def test_a_physician_within_days_is_said_to_be_so():
    """Under the 3rd centile of gain: within 3 days by its hand-over, and no flag is as urgent."""
    slow = problems(SLOW, "20 d")["slow_gain"]
    assert slow.open_flags == ("gain-surely-slow",)
    assert (slow.level, slow.within_h) == ("physician", 72)


def test_what_a_flag_makes_urgent_is_not_put_off():
    finds = finds_of("gain_band low; age_h 700; intake short; gain_g_per_day 12")
    by_flag = name_problems(finds, CONTENT, flags={"gain-surely-slow": "physician"})
    for found, within_h in ((name_problems(finds, CONTENT), 72), (by_flag, None)):
        slow = next(one for one in found.problems if one.key == "slow_gain")
        assert (slow.level, slow.within_h) == ("physician", within_h)


TWINS = "girl, 37+2, 2700 g, vaginal / boy, 37+2, 2600 g, vaginal"


@pytest.mark.parametrize(
    ("infants", "seen", "is_named"),
    [
        ("girl, 39+3, 3300 g, vaginal", "72 h: 3100 g", False),
        ("girl, 39+3, 3300 g, vaginal", "72 h: 3100 g; 80 h: death", True),
        (TWINS, "72 h: 2570 g; second 40 h: death", False),
    ],
    ids=["living", "died", "one of twins died"],
)
def test_a_death_names_what_can_be_done_with_the_milk_whatever_is_wished(infants, seen, is_named):
    """Nobody has said what the parent wants: what can be is said, and who else helps."""
    found = problems(record_of(infants, seen), "90 h")["milk_after_death"]
    assert found.is_named is is_named
    assert {"say_what_can_be", "dry_up_slowly", "give_to_bank"} <= set(found.problem.do)
    assert "goal" not in found.problem.ask
    assert [to.level for to in found.hand_over] == (["consultant"] if is_named else [])


def test_of_twins_one_of_whom_died_the_milk_is_for_the_other():
    """Nobody tells the parent of a living infant how to let the milk dry up; support is offered all the same."""
    found = problems(record_of(TWINS, "72 h: 2570 g; second 40 h: death"), "90 h")
    loss = found["loss_of_one_infant"]
    assert loss.is_named
    assert "milk_for_the_living" in loss.problem.do
    assert [to.level for to in loss.hand_over] == ["consultant"]
    acts = {act for one in found.values() if one.is_named for act in one.problem.do}
    assert not acts & {"dry_up_slowly", "say_what_can_be"}
