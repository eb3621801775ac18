"""The state of a problem from the truths of its rows."""

from __future__ import annotations

import pytest

from suffice.assess.problems.found import views_of
from suffice.assess.problems.state import (
    State,
    Truths,
    all_sides,
    any_side,
    sides_asked,
    state_from,
    truths_of,
    truths_with,
    waits_for_intake,
)
from suffice.assess.problems.table import table_of
from suffice.assess.rules.table import Found
from suffice.assess.rules.truth import Truth
from suffice.knowledge.store import load

CONTENT = load()
READY = {one.key: one for one in table_of(CONTENT).problems}
T, F, U = Truth.TRUE, Truth.FALSE, Truth.CANNOT_TELL
LATCH = READY["pain_latch"]


@pytest.mark.parametrize(
    ("strong", "weak", "against", "excludes", "state"),
    [
        (T, T, F, T, State.EXCLUDED),
        (T, F, F, F, State.STRONG),
        (T, F, T, F, State.SUPPORTED),
        (U, T, F, U, State.SUPPORTED),
        (U, T, T, F, State.OPEN),
        (U, F, F, F, State.OPEN),
        (F, U, F, U, State.OPEN),
        (U, U, T, F, State.AGAINST),
        (F, F, F, F, State.AGAINST),
        (F, F, U, U, State.AGAINST),
    ],
)
def test_a_state_follows_from_the_rows(strong, weak, against, excludes, state):
    truths = Truths((strong,), (weak,), (against,), (excludes,))
    assert state_from(LATCH, truths, is_intake_known=True) is state


def test_a_name_that_calms_waits_until_intake_is_known_but_for_an_early_row():
    cluster = READY["cluster_feeding"]
    late = Truths((T, F), (F,), (F,), (F,))
    early = Truths((F, T), (F,), (F,), (F,))
    assert state_from(cluster, late, is_intake_known=False) is State.OPEN
    assert waits_for_intake(cluster, late, is_intake_known=False)
    assert state_from(cluster, late, is_intake_known=True) is State.STRONG
    assert state_from(cluster, early, is_intake_known=False) is State.STRONG
    assert not waits_for_intake(LATCH, late, is_intake_known=False)


def test_one_side_supports_and_both_are_needed_against():
    finds = {"gape": (Found(("short",), None, "left"), Found(("clear",), None, "right"))}
    sides = ("left", "right")
    known = {"pain_start": (Found(number=6),)}
    views = views_of(finds | known)
    gape = next(row for row in LATCH.weak if "gape" in row.keys)
    assert any_side(gape, views, sides) is Truth.TRUE
    assert all_sides(gape, views, sides) is not Truth.TRUE
    assert all_sides(gape, views, ("left",)) is Truth.TRUE


def test_one_more_answer_comes_to_the_same_as_asking_all_again():
    views = views_of({"gape": (Found(("short",), None, "left"),)})
    found = Found(("creased",))
    for ready in READY.values():
        for sides in sides_asked(ready, {"gape"}):
            truths = truths_of(ready, views, sides)
            more = views_of({"gape": (Found(("short",), None, "left"),), "nipple_after": (found,)})
            assert truths_with(ready, truths, "nipple_after", found, views, sides) == truths_of(
                ready, more, sides
            )


def test_one_breast_without_pain_excludes_nothing_while_the_other_is_not_known():
    tie, sides = READY["suspected_tongue_tie"], ("left", "right")
    pain = (Found((), 0, "left"),)
    known = {"pain_end": pain, "intake": (Found(("enough",)),)}
    harm = Found(("none",))
    views = views_of(known)
    tried = truths_with(tie, truths_of(tie, views, sides), "nipple_harm", harm, views, sides)
    again = truths_of(tie, views_of({**known, "nipple_harm": (harm,)}), sides)
    assert tried == again
    assert Truth.TRUE not in tried.excludes
