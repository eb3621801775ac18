"""A plan as it stands on the record; form, columns and round trips are tested for every kind."""

from __future__ import annotations

from datetime import timedelta

import pytest

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Infant, Record
from suffice.clinical.entry.field import Measured, fields_of
from suffice.clinical.entry.plan import Plan
from suffice.clinical.plausibility import check_entry
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.errors import InputError
from suffice.exchange.family.family_json import FamilyFile, decode, encode
from suffice.knowledge.store import load
from suffice.language.facts import parts_of

INFANT = Infant(id=an_id("infant"), position=1)
LIMITS = PlausibilityLimits.from_content(load().flat, load().series)
PLAN = Plan(
    move="first",
    goal="only the breast again",
    feeds_count=8,
    gap_day_h=3.0,
    gap_night_h=4.0,
    at_breast="every feed",
    supplement_ml_per_day=240.0,
    supplement_feeds_count=8,
    supplement_ml=30.0,
    milk="own, formula",
    method="cup",
    express_for="build",
    sessions_count=8,
    weigh_at=BORN_AT + timedelta(days=7),
    proposed_ml_per_day=280.0,
)


def test_its_line_says_what_was_agreed_on_and_what_had_been_proposed() -> None:
    said = [str(part) for part in parts_of(PLAN)]
    assert said[:4] == [
        "first plan",
        "goal: only the breast again",
        "at least 8 feeds in 24 h",
        "longest gap 3 h by day",
    ]
    assert "supplement 240 mL in 24 h" in said
    assert "30 mL at each" in said
    assert said[-1] == "proposed 280 mL in 24 h"


def test_none_and_not_decided_are_two_things() -> None:
    none, undecided = Plan(move="settle", supplement_ml_per_day=0.0), Plan(move="settle")
    assert "supplement 0 mL in 24 h" in [str(part) for part in parts_of(none)]
    assert len(parts_of(undecided)) == 1


@pytest.mark.parametrize(
    ("fact", "where", "doubtful"),
    [
        (Plan(move="up", supplement_ml_per_day=1200.0), "supplement_ml_per_day", True),
        (Plan(move="up", supplement_ml_per_day=1501.0), "supplement_ml_per_day", False),
        (Plan(move="up", supplement_ml=300.0), "supplement_ml", True),
        (Plan(move="up", sessions_count=30), "sessions_count", False),
        (Plan(move="up", gap_night_h=9.0), "gap_night_h", True),
    ],
)
def test_an_amount_that_no_family_could_carry_out_is_asked_about(
    fact: Plan, where: str, doubtful: bool
) -> None:
    entry = an_entry("plan", fact, infant=INFANT, at_h=100)
    found = check_entry(entry, (), LIMITS)
    assert [(one.where, one.doubtful) for one in found] == [(where, doubtful)]


def test_one_that_can_be_carried_out_is_not() -> None:
    assert check_entry(an_entry("plan", PLAN, infant=INFANT, at_h=100), (), LIMITS) == ()


def a_file(*facts: Plan) -> FamilyFile:
    entries = tuple(
        an_entry(f"p{place}", fact, infant=INFANT, at_h=100 * (place + 1))
        for place, fact in enumerate(facts)
    )
    record = Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)
    return FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant")


def test_a_family_file_holds_every_version() -> None:
    file = a_file(PLAN, Plan(move="down", supplement_ml_per_day=210.0))
    assert decode(encode(file)).file == file


def test_a_file_with_a_word_that_no_plan_has_is_refused() -> None:
    with pytest.raises(InputError, match="sideways"):
        decode(encode(a_file(PLAN)).replace(b'"first"', b'"sideways"'))


@pytest.mark.parametrize("name", ["breast_minutes", "session_minutes"])
def test_minutes_between_the_two_limits_are_asked_about_and_beyond_them_refused(name: str) -> None:
    declared = fields_of(Plan)[name].limits  # type: ignore[attr-defined]
    doubtful, refused = (LIMITS.constant(key).value for key in declared.high)  # type: ignore[union-attr]
    for minutes, codes in ((doubtful, []), (refused, ["VALUE-002"]), (refused + 1, ["VALUE-001"])):
        plan = Plan(move="first", **{name: minutes})
        found = check_entry(an_entry("p", plan, infant=INFANT, at_h=1), (), LIMITS)
        assert [one.code for one in found] == codes


@pytest.mark.parametrize("name", ["breast_minutes", "session_minutes"])
def test_minutes_are_doubted_before_they_are_refused(name: str) -> None:
    field = fields_of(Plan)[name]
    assert isinstance(field, Measured)
    assert field.limits is not None
    doubted, refused = (load().constant(f"plausibility.{key}").value for key in field.limits.high)
    assert doubted < refused
