"""What the family's page says for hours away: times of the clock, and what is left for whoever feeds the infant."""

from __future__ import annotations

import re
from typing import Any

import msgspec
import pytest

from paper_source import folder_of_record, records, visited
from planned import KEY
from spec.papers_of import text_in
from suffice.clinical.entry import ParentDay, Plan
from suffice.clinical.entry.clock import Act
from suffice.documents.plan_page import plan_page

AT_WORK = ParentDay(away="8:30-17:00", expresses_away=True)
KEEPS = Plan(
    move="first", feeds_count=8, at_breast="every feed", express_for="keep", sessions_count=2
)
LEAVES = "For 08:30 to 17:00 leave 255 mL to 340 mL of your milk, in small portions."
ASKS = "Ask us how much milk to leave for 08:30 to 17:00."


def read(
    plan: Plan,
    day: ParentDay = AT_WORK,
    *,
    age_d: float = 60,
    is_needed: bool = True,
    **policy: Any,
) -> list[str]:
    """The lines of the page that are about milk expressed and left."""
    record = records()[KEY]
    source = folder_of_record(
        visited(record, (day, None), (plan, record.infants[-1].id)), **policy
    ).source
    *others, infant = source.assessment.infants
    aged = msgspec.structs.replace(infant, age_h=age_d * 24, age_days=int(age_d))
    if not is_needed:
        aged = msgspec.structs.replace(aged, figures={}, estimate=None)
    assessment = msgspec.structs.replace(source.assessment, infants=(*others, aged))
    page = plan_page(msgspec.structs.replace(source, assessment=assessment), infant.infant_id)
    lines = text_in(page).replace("\N{NO-BREAK SPACE}", " ").split("\n")
    return [one for one in lines if "away" in one or "leave" in one or "Helper" in one]


def test_with_a_clock_the_times_of_it_are_said() -> None:
    """The page said '2 times' and not when, and nothing of what is left at home."""
    clock = tuple(Act(starts_minutes=60 * hour, minutes=15, what="express") for hour in (6, 11, 14))
    plan = msgspec.structs.replace(KEEPS, sessions_count=3, clock=clock)
    assert read(plan) == ["While you are away express at 11:00 and 14:00.", LEAVES]
    at_home = msgspec.structs.replace(plan, clock=clock[:1])
    assert read(at_home) == [LEAVES], "what the clock has at home is not asked for away"


def test_without_a_clock_so_many_hours_apart() -> None:
    assert read(KEEPS) == ["While you are away express every 3 hours.", LEAVES]


def test_a_night_away_passes_midnight() -> None:
    clock = (Act(starts_minutes=60, minutes=15, what="express"),)
    night = ParentDay(away="22:00-06:00", expresses_away=True)
    assert read(msgspec.structs.replace(KEEPS, clock=clock), night) == [
        "While you are away express at 01:00.",
        "For 22:00 to 06:00 leave 240 mL to 320 mL of your milk, in small portions.",
    ]


def test_before_a_month_no_amount_is_said() -> None:
    assert read(KEEPS, age_d=10) == ["While you are away express every 3 hours.", ASKS]


@pytest.mark.parametrize(
    ("fields", "day", "said"),
    [
        ({}, ParentDay(away="8:30-17:00", expresses_away=False), [LEAVES]),
        ({"sessions_count": None}, AT_WORK, [LEAVES]),
        ({}, ParentDay(away="9-10"), []),
        ({}, ParentDay(sleep_h=5), []),
        ({"at_breast": "not now"}, AT_WORK, []),
        ({"supplement_ml": 45, "supplement_ml_per_day": 225}, AT_WORK, []),
        ({"express_for": "wean", "at_breast": "some feeds"}, AT_WORK, []),
    ],
)  # fmt: skip
def test_what_is_not_so_is_not_said(
    fields: dict[str, Any], day: ParentDay, said: list[str]
) -> None:
    lines = read(msgspec.structs.replace(KEEPS, **fields), day)
    assert [one for one in lines if one.startswith(("While you", "For ", "Ask us how"))] == said


def test_a_bottle_in_place_of_the_breast_has_its_amount() -> None:
    """The only number a helper could read was the 30 mL that go after the breast."""
    clock = (Act(starts_minutes=60, minutes=20, what="bottle", who="helper"),)
    plan = msgspec.structs.replace(
        KEEPS,
        supplement_ml=30.0,
        supplement_ml_per_day=240.0,
        supplement_feeds_count=8,
        clock=clock,
    )
    (says,) = read(plan, ParentDay(helpers="0-6"))
    found = re.fullmatch(r"Helper: bottle or cup, (\d+) mL", says)
    assert found
    assert int(found[1]) > 30
    assert read(plan, ParentDay(helpers="0-6"), is_needed=False) == [
        "Helper: bottle or cup, ask us how much"
    ]
    assert read(msgspec.structs.replace(plan, at_breast="not now"), ParentDay(helpers="0-6")) == [
        "Helper: bottle or cup"
    ]
    assert read(msgspec.structs.replace(plan, clock=()), ParentDay()) == []


def test_in_the_first_days_that_bottle_is_no_more_than_the_protocol_has() -> None:
    """On the second day need over feeds came to 25 mL, and the protocol has 5 to 15 (`plan.amount_high_ml`)."""
    clock = (Act(starts_minutes=60, minutes=20, what="bottle", who="helper"),)
    plan = msgspec.structs.replace(KEEPS, clock=clock)
    (says,) = read(plan, ParentDay(helpers="0-6"), age_d=1.5)
    assert says == "Helper: bottle or cup, 10 mL"
