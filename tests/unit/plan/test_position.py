"""A position is proposed where a pathway asks for one or one was agreed on; else none."""

from __future__ import annotations

import msgspec
import pytest

from people import an_entry
from plan_case import WELL, an_infants, asked
from suffice.clinical.entry import Observation, Plan
from suffice.plan.position import position_of, sides_of, stopped_sides
from suffice.plan.propose import propose

SAYS = "Any other that does not hurt is as good."


def test_nothing_points_to_one_and_none_is_proposed() -> None:
    one = asked(*WELL, day=22)
    assert position_of(one) is None
    assert propose(one).plan.position is None


@pytest.mark.parametrize("problem", ["fast_flow", "excess_supply"])
def test_a_pathway_that_leans_back_proposes_it(problem: str) -> None:
    one = msgspec.structs.replace(asked(*WELL, day=22), problems=frozenset({problem}))
    assert position_of(one) == "laid back"
    line = next(each for each in propose(one).lines if each.part == "breast")
    assert any(SAYS in str(each) for each in line.says)


def test_the_one_that_was_agreed_on_stays() -> None:
    before = an_infants("p", Plan(move="first", position="cradle", at_breast="every feed"), 21.5)
    one = msgspec.structs.replace(
        asked(*WELL, before, day=22), problems=frozenset({"fast_flow", "no problem that is known"})
    )
    assert position_of(one) == "cradle"


@pytest.mark.parametrize("before", ["laid back", "upright", None])
def test_none_is_proposed_while_a_swallow_is_unsafe(before: str | None) -> None:
    """The pathway says how, and 'any other is as good' would not be true."""
    entries = [*WELL]
    if before is not None:
        plan = Plan(move="first", position=before, at_breast="every feed")  # type: ignore[arg-type]
        entries.append(an_infants("p", plan, 21.5))
    problems = frozenset({"fast_flow", "unsafe_swallow"})
    one = msgspec.structs.replace(asked(*entries, day=22), problems=problems)
    assert position_of(one) is None
    assert not any(SAYS in str(said) for line in propose(one).lines for said in line.says)


@pytest.mark.parametrize(
    ("seen", "sides", "session_sides"),
    [
        ((), None, None),
        ((("left", "grouped"),), "right only", "left"),
        ((("right", "band"), ("left", "none")), "left only", "right"),
        ((("left", "grouped"), ("left", "none"), ("right", "grouped")), "left only", "right"),
    ],
)
def test_it_is_not_fed_from_a_side_with_blisters(
    seen: tuple[tuple[str, str], ...], sides: str | None, session_sides: str | None
) -> None:
    """Where nobody wrote down which side it is no side is said, and it is asked."""
    looks = [
        an_entry(
            f"b{n}", Observation(what="blisters", answer=answer, side=side), infant=None, at_h=n
        )  # type: ignore[arg-type]
        for n, (side, answer) in enumerate(seen)
    ]
    one = msgspec.structs.replace(
        asked(*WELL, *looks, day=22), problems=frozenset({"breast_herpes"})
    )
    found = propose(one)
    assert (found.plan.sides, found.plan.session_sides) == (sides, session_sides)
    assert found.plan.express_for == "keep"
    assert any("Which side" in str(each) for each in found.line("breast").warnings) is not bool(
        seen
    )


def test_with_blisters_of_both_sides_it_is_not_at_the_breast() -> None:
    look = Observation(what="blisters", answer="grouped", side="both")
    other = an_entry("r", Observation(what="redness", answer="none", side="left"), infant=None)
    one = msgspec.structs.replace(
        asked(*WELL, an_entry("b", look, infant=None), other, day=22),
        problems=frozenset({"breast_herpes"}),
    )
    stopped = stopped_sides(one)
    assert stopped == {"left", "right"}
    assert sides_of(stopped) is None
    assert propose(one).plan.at_breast == "not now"
