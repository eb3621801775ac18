"""The plan's line on the breast names what decided it."""

from __future__ import annotations

import msgspec
import pytest

from plan_case import LATE_PRETERM, SLOW, WEIGHED, WELL, a_weight, an_infants, asked, proposed
from suffice.clinical.entry import Feed, Observation, Plan
from suffice.plan.breast import breast_line
from suffice.plan.known import known_of
from suffice.plan.parameters import plan_parameters
from suffice.plan.propose import Proposal, propose

FORMULA = tuple(
    an_infants("f", Feed(milk="formula", volume_ml=95), 14.05 + n / 8) for n in range(8)
)


def notes(proposal: Proposal) -> str:
    """What the working of the line says."""
    (working,) = proposal.line("breast").workings
    return " ".join(str(one) for one in working.notes)


def test_the_line_is_that_of_the_proposal() -> None:
    found = asked(*SLOW, *WEIGHED, day=15.1)
    parameters = plan_parameters(found.content)
    made = propose(found)
    line = breast_line(found, made.plan, known_of(found, parameters), parameters)
    assert line == made.line("breast")
    assert line.part == "breast"


def test_a_feed_that_was_seen_decides() -> None:
    made = proposed(*SLOW, *WEIGHED, day=15.1)
    assert "on record in the last" in notes(made)
    (working,) = made.line("breast").workings
    assert [one.key for one in working.constants] == ["plan.stopped_at_breast_h"]
    assert "Sides: no named problem leaves one out." in notes(made)


def test_without_any_feed_on_record_nothing_speaks_against_it() -> None:
    assert "nothing on record is against it" in notes(proposed(*WELL, day=22))


def test_measured_milk_alone_is_no_feed_at_the_breast() -> None:
    made = proposed(*SLOW, *FORMULA, day=15.1)
    assert made.plan.at_breast == "not now"
    assert "Only measured milk is on record" in notes(made)


def test_the_plan_before_decides_where_only_measured_milk_is_on_record() -> None:
    before = an_infants("plan", Plan(move="first", at_breast="every feed", position="cradle"), 14)
    made = proposed(*SLOW, before, *FORMULA, day=15.1)
    assert made.plan.at_breast == "every feed"
    assert "as in the plan before" in notes(made)
    assert "Position: as in the plan before." in notes(made)


def test_before_thirty_four_weeks_the_unit_decides() -> None:
    birth = msgspec.structs.replace(
        LATE_PRETERM, fact=msgspec.structs.replace(LATE_PRETERM.fact, gestation_days=224)
    )
    made = proposed(birth, a_weight(2500, 3), day=4)
    (working,) = made.line("breast").workings
    assert "Fewer than 34 weeks since conception" in notes(made)
    assert "age.late_preterm_from_days" in [one.key for one in working.constants]


def test_minutes_at_the_breast_name_their_source() -> None:
    made = proposed(LATE_PRETERM, a_weight(2500, 3), day=4)
    assert made.plan.breast_minutes is not None
    (working,) = made.line("breast").workings
    assert "plan.late_preterm_breast_minutes" in [one.key for one in working.constants]


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        ((), "which is not on record"),
        (
            (an_infants("b", Observation(what="blisters", answer="grouped", side="left"), 21.5),),
            "blisters were seen on the one",
        ),
    ],
)
def test_a_side_that_is_left_out_says_why(seen: tuple[object, ...], says: str) -> None:
    entries = tuple(msgspec.structs.replace(one, infant_id=None) for one in seen)  # type: ignore[type-var]
    found = asked(*WELL, *entries, day=22, problems=("breast_herpes",), engine=False)
    assert says in notes(propose(found))
