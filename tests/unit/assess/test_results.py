"""What an assessment says of itself: order of families, the date to weigh again, engine facts."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from spoken import in_sentences
from suffice.assess.results import EngineFacts, Finding, Rank, Tier, Urgency, WeighAgain
from suffice.inference.evidence import Evidence
from suffice.message import message

PLAIN = Urgency(
    is_taken=True,
    due_h=1.0,
    rule_place=2,
    excess_fraction=0.1,
    flag_count=1,
    overdue_h=3.0,
    age_h=50.0,
)


def changed(**parts: float) -> Urgency:
    return msgspec.structs.replace(PLAIN, **parts)


@pytest.mark.parametrize(
    "more_urgent",
    [
        {"is_taken": False},
        {"due_h": 0.0},
        {"rule_place": 1},
        {"excess_fraction": 0.2},
        {"flag_count": 2},
        {"short_probability": 0.4},
        {"overdue_h": 4.0},
        {"age_h": 49.0},
    ],
)
def test_each_part_of_urgency_alone_puts_a_family_before_another(more_urgent) -> None:
    assert changed(**more_urgent).order < PLAIN.order


def test_an_earlier_part_outweighs_all_that_follow() -> None:
    parts = ("rule_place", "excess_fraction", "flag_count", "short_probability", "overdue_h")
    worst = {"excess_fraction": 9, "flag_count": 9, "short_probability": 1, "overdue_h": 999}
    for place, part in enumerate(parts):
        ahead = changed(**{part: 1 if part == "rule_place" else getattr(PLAIN, part) + 0.5})
        behind = changed(**{k: v for k, v in worst.items() if parts.index(k) > place}, age_h=0.0)
        assert ahead.order < behind.order, part


def test_where_nothing_is_said_every_part_of_the_order_is_zero() -> None:
    assert Urgency().order == (0.0,) * len(PLAIN.order)


def test_a_finding_without_a_limit_lies_beyond_none() -> None:
    found = Finding(code="seen", level="look", colour="amber", topic="weight", messages=())
    assert found.excess_fraction == 0.0


def test_what_makes_a_family_more_urgent_counts_downwards_in_the_order() -> None:
    assert changed(short_probability=0.25).order == (1, 1, 2, -0.1, -1, -0.25, -3, 50)


def test_no_part_of_the_order_is_a_negative_zero() -> None:
    assert "-0.0" not in repr(Urgency().order)


def test_the_group_goes_before_everything_else() -> None:
    groups = list(Tier)
    ranks = [Rank(tier=tier, urgency=changed(overdue_h=float(tier)), reason=()) for tier in groups]
    assert sorted(ranks, key=lambda rank: rank.sort_key) == ranks
    assert ranks[0].order == ranks[0].urgency.order


@pytest.mark.parametrize(
    ("reason", "says"),
    [(message("Two weights cannot tell."), "Weigh. Two weights cannot tell."), ("", "Weigh.")],
)
def test_the_reason_follows_the_advice_where_there_is_one(reason, says) -> None:
    advised = WeighAgain(
        by="rule", on=date(2026, 3, 4), advice=(message("Weigh."),), reason=reason, briefly=""
    )
    assert in_sentences(advised.messages) == says


def test_the_engine_facts_are_those_of_its_evidence() -> None:
    nothing = EngineFacts.from_evidence(Evidence(now_d=3.0))
    assert nothing == EngineFacts(
        mode=None, fluids_ml=None, milk_given_count=0, is_day_weighed=False
    )
