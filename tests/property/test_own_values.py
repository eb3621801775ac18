"""Whatever a clinic may set, everything can still be worked out; and beyond that nothing may be set.

Each value in turn at its least and its most, for the families of the demo and some that are drawn: the
assessment, the engine where the value is its own, the plan and its day.
"""

from __future__ import annotations

import math
from datetime import timedelta
from functools import cache
from itertools import islice
from random import Random
from zoneinfo import ZoneInfo

import pytest
from tools.same_answers import cases

from day_cases import UNIT, a_case
from plan_families import BORN_AT, Drawn, drawn_family
from suffice.assess.assessment import assess
from suffice.errors import InputError
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content, load
from suffice.plan.known import Asked
from suffice.plan.propose import propose
from suffice.plan.schedule import MOST_S, scheduled
from suffice.plan.schedule_changes import changes
from suffice.plan.schedule_parameters import ScheduleParameters, schedule_parameters
from sweeps import each

CONTENT = load()
KEYS = sorted(CONTENT.flat)
DEMO = tuple(islice(cases(), 0, 29, 3))
OF_THE_ENGINE = (
    "population.",
    "forecast.",
    "growth.",
    "energy.",
    "milk.",
    "intake.",
    "weight_noise.",
)
OF_THE_DAY = frozenset(ScheduleParameters.content_keys().values())
FEW = a_case(feeds_count=6, sessions_count=0, removal_gap_minutes=None, milk_feeds_count=0)


@cache
def families() -> tuple[Drawn, ...]:
    """Drawn families: with a twin, with and without sessions, supplements and an earlier plan."""
    return tuple(map(drawn_family, range(3)))


def work_out(content: Content, key: str) -> None:
    """Everything that a value may go into."""
    for place, (_name, record, as_of) in enumerate(DEMO):
        with_engine = key.startswith(OF_THE_ENGINE) and place % 5 == 0
        assess(record, as_of, content, Policy(), engine=with_engine)
    for family in families():
        as_of = BORN_AT + timedelta(days=family.day)
        assessed = assess(family.record, as_of, content, Policy(), engine=False)
        for infant in assessed.infants:
            asked = Asked(
                infant=infant,
                of_parent=assessed.findings,
                entries=family.record.entries_at(as_of),
                as_of=as_of,
                content=content,
                zone=ZoneInfo("UTC"),
                problems=frozenset(family.problems),
            )
            propose(asked)
    if key in OF_THE_DAY:
        parameters = schedule_parameters(content)
        for case in (UNIT, FEW):
            day = scheduled(case, parameters, lambda: MOST_S)
        changes(day, parameters, lambda: MOST_S)


@pytest.mark.parametrize("key", KEYS[:: each(50)])
def test_whatever_a_clinic_may_set_everything_is_worked_out(key: str) -> None:
    for value in dict.fromkeys(CONTENT.limits(key)):
        work_out(CONTENT.with_overrides({key: value}, force=True), key)


@pytest.mark.parametrize("key", ["schedule.step_minutes", "schedule.start_minutes"])
def test_what_broke_a_plan_once_is_worked_out_at_its_limits(key: str) -> None:
    for value in CONTENT.limits(key):
        work_out(CONTENT.with_overrides({key: value}, force=True), key)


@pytest.mark.parametrize("seed", range(each(20) and 80 // each(20)))
def test_many_of_them_at_once_are_worked_out(seed: int) -> None:
    draw = Random(seed)
    own = {
        key: draw.choice(CONTENT.limits(key))
        if draw.random() < 0.5
        else draw.uniform(*CONTENT.limits(key))
        for key in draw.sample(KEYS, 60)
    }
    content = CONTENT.with_overrides(own, force=True)
    for key in ("schedule.step_minutes", "population.of_all"):
        work_out(content, key)


def test_beyond_its_limits_no_value_is_taken_whoever_confirms_it() -> None:
    for key in KEYS:
        least, most = CONTENT.limits(key)
        ours = CONTENT.constant(key)
        assert least <= ours.value <= most, key
        assert ours.low is None or least <= ours.low, key
        assert ours.high is None or ours.high <= most, key
        beyond = (math.nextafter(least, -math.inf), math.nextafter(most, math.inf))
        for value in (*beyond, 1e300, -1e300, math.nan, math.inf):
            with pytest.raises(InputError, match="CONTENT-025"):
                CONTENT.with_overrides({key: value}, force=True)


def test_what_is_above_zero_stays_above_zero() -> None:
    for key, ours in CONTENT.flat.items():
        lowest = ours.value if ours.low is None else ours.low
        entry = CONTENT.entries[key if key in CONTENT.entries else key.rpartition(".")[0]]
        if lowest > 0 and key == entry_key(key) and entry.least is None:  # type: ignore[union-attr]
            assert CONTENT.limits(key).least > 0


def entry_key(key: str) -> str:
    """The entry of a key: itself, or the series of a point."""
    return key if key in CONTENT.entries else key.rpartition(".")[0]
