"""Whether entries fit together: each refusal, its code and its place."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import msgspec
import pytest

from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Contact, Infant, Note, Record, Setting, Weight, Wet, Withdrawal
from suffice.clinical.structure import (
    EARLIEST,
    LARGEST,
    LATEST,
    oldest_first,
    opening_problems,
    record_problems,
    replaced,
    replacement_problem,
    second_replacement,
    storable_problem,
    subject_problem,
)

FIRST = Infant(id=an_id("first"), position=1)
SECOND = Infant(id=an_id("second"), position=2)
WEIGHT = an_entry("weight", Weight(weight_g=3200), infant=FIRST, at_h=50)
CONTACT = an_entry("contact", Contact(setting=Setting.HOME), infant=None, at_h=50)


def codes(problem):
    return None if problem is None else (problem.code, problem.where)


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        (WEIGHT, None),
        (CONTACT, None),
        (an_entry("note", Note(text="x"), infant=None), None),
        (an_entry("note", Note(text="x"), infant=FIRST), None),
        (an_entry("lost", Weight(weight_g=3200), infant=None), ("RECORD-006", "infant_id")),
        (an_entry("far", Weight(weight_g=3200), infant=SECOND), ("RECORD-006", "infant_id")),
        (
            an_entry("close", Contact(setting=Setting.HOME), infant=FIRST),
            ("RECORD-006", "infant_id"),
        ),
    ],
)
def test_an_entry_is_about_whom_its_kind_is_about(entry, expected):
    assert codes(subject_problem(entry, [FIRST.id])) == expected


def test_the_three_refusals_of_a_subject_give_different_reasons():
    stranger = subject_problem(an_entry("a", Weight(weight_g=3200), infant=SECOND), [FIRST.id])
    nobody = subject_problem(an_entry("b", Weight(weight_g=3200), infant=None), [FIRST.id])
    infant = subject_problem(an_entry("c", Contact(setting=Setting.HOME), infant=FIRST), [FIRST.id])
    assert len({str(problem.why) for problem in (stranger, nobody, infant)}) == 3


def correcting(old, fact=None, infant=FIRST, name="new"):
    return an_entry(name, fact or Weight(weight_g=3300), infant=infant, replaces=old)


GONE = an_entry("gone", Withdrawal(reason="x"), infant=FIRST, replaces=WEIGHT)


@pytest.mark.parametrize(
    ("new", "old", "withdrawn", "expected"),
    [
        (WEIGHT, None, None, None),
        (an_entry("w", Withdrawal(reason="x"), infant=FIRST), None, None, "RECORD-003"),
        (correcting(WEIGHT), None, None, "RECORD-003"),
        (correcting(WEIGHT), WEIGHT, None, None),
        (GONE, WEIGHT, None, None),
        (correcting(WEIGHT, Wet(count=1)), WEIGHT, None, "RECORD-005"),
        (correcting(WEIGHT, infant=SECOND), WEIGHT, None, "RECORD-005"),
        # A withdrawal may be taken back by an entry of the kind that it withdrew, and no other.
        (correcting(GONE), GONE, WEIGHT, None),
        (correcting(GONE, Wet(count=1)), GONE, WEIGHT, "RECORD-005"),
        (correcting(GONE, Withdrawal(reason="y")), GONE, WEIGHT, "RECORD-005"),
        (correcting(GONE, Withdrawal(reason="y")), GONE, None, None),
    ],
)
def test_a_correction_keeps_the_kind_and_the_infant(new, old, withdrawn, expected):
    problem = replacement_problem(new, old, withdrawn)
    assert codes(problem) == (expected and (expected, "replaces"))


def changed(**fields):
    return msgspec.structs.replace(WEIGHT, **fields)


HOUR = timedelta(hours=1)
BARE = datetime(2026, 3, 1)  # noqa: DTZ001 -- the fault


@pytest.mark.parametrize(
    ("entry", "where"),
    [
        (WEIGHT, None),
        (changed(true_at=EARLIEST), None),
        (changed(true_at=datetime(1900, 1, 1, tzinfo=UTC)), None),
        (changed(true_at=EARLIEST - HOUR), "true_at"),
        (changed(true_at=LATEST), None),
        (changed(true_at=datetime(2200, 1, 1, 1, tzinfo=UTC)), "true_at"),
        (changed(true_at=LATEST + HOUR), "true_at"),
        (changed(entered_at=LATEST + HOUR), "entered_at"),
        (changed(entered_by="a\x00"), "entered_by"),
        (changed(entered_by="\ud800"), "entered_by"),
        (changed(device="a\x00"), "device"),
        (changed(device=None), None),
        (changed(fact=Weight(weight_g=math.inf)), "weight_g"),
        (changed(fact=Weight(weight_g=math.nan)), "weight_g"),
        (changed(fact=Wet(count=LARGEST)), None),
        (changed(fact=Wet(count=LARGEST + 1)), "count"),
        (changed(fact=Wet(count=-LARGEST - 1)), "count"),
        (changed(fact=Contact(setting=Setting.HOME, next_due_at=LATEST)), None),
        (changed(fact=Contact(setting=Setting.HOME, next_due_at=LATEST + HOUR)), "next_due_at"),
        (changed(fact=Contact(setting=Setting.HOME, next_due_at=BARE)), "next_due_at"),
    ],
)
def test_what_cannot_be_kept_as_it_is_is_refused_with_its_field(entry, where):
    problem = storable_problem(entry)
    assert codes(problem) == (where and ("RECORD-007", where))


@pytest.mark.parametrize(
    ("infants", "expected"),
    [
        ([FIRST], []),
        ([SECOND, FIRST], []),
        ([], ["infants"]),
        ([SECOND], ["infants"]),
        ([FIRST, Infant(id=an_id("third"), position=3)], ["infants"]),
        ([FIRST, Infant(id=FIRST.id, position=2)], ["infants"]),
    ],
)
def test_infants_are_numbered_from_one_without_a_gap(infants, expected):
    found = opening_problems(infants, opened_at=BORN_AT, opened_by="consultant")
    assert [problem.where for problem in found] == expected
    assert {problem.code for problem in found} <= {"RECORD-011"}


@pytest.mark.parametrize(
    ("opened_at", "opened_by", "expected"),
    [
        (EARLIEST, "", []),
        (LATEST, "a", []),
        (EARLIEST - HOUR, "a", ["opened_at"]),
        (LATEST + HOUR, "a", ["opened_at"]),
        (BARE, "a", ["opened_at"]),
        (BORN_AT, "a\x00", ["opened_by"]),
        (BORN_AT, "\udc00", ["opened_by"]),
    ],
)
def test_when_and_by_whom_it_was_opened_can_be_kept(opened_at, opened_by, expected):
    found = opening_problems([FIRST], opened_at=opened_at, opened_by=opened_by)
    assert [problem.where for problem in found] == expected


def test_an_instant_with_another_offset_is_compared_as_an_instant():
    there = timezone(timedelta(hours=14))
    assert storable_problem(changed(true_at=EARLIEST.astimezone(there))) is None


def test_a_second_correction_of_one_entry_names_the_first():
    one, other = correcting(WEIGHT, name="one"), correcting(WEIGHT, name="other")
    record = Record(family_id=an_id("family"), infants=(FIRST,), entries=(WEIGHT, one, other))
    ((entry_id, problem),) = record_problems(record)
    assert (entry_id, problem.code) == (other.id, "RECORD-004")
    assert str(one.id) in str(problem.why)
    assert problem == second_replacement(other, one.id)


def test_what_a_withdrawal_withdrew_is_found_again():
    by_id = {WEIGHT.id: WEIGHT, GONE.id: GONE}
    assert replaced(WEIGHT, by_id) == (None, None)
    assert replaced(GONE, by_id) == (WEIGHT, None)
    assert replaced(correcting(GONE), by_id) == (GONE, WEIGHT)
    assert replaced(correcting(GONE), {GONE.id: GONE}) == (GONE, None)
    loose = an_entry("loose", Withdrawal(reason="x"), infant=FIRST)
    assert replaced(correcting(loose), {loose.id: loose}) == (loose, None)


def test_entries_come_after_what_they_replace_and_else_in_their_order():
    second = correcting(WEIGHT, name="second")
    third = correcting(second, name="third")
    assert oldest_first([third, CONTACT, second, WEIGHT]) == [WEIGHT, second, third, CONTACT]
    assert oldest_first([second, CONTACT]) == [second, CONTACT]


def test_a_circle_of_corrections_is_refused_and_left_out_of_the_order():
    a, b = correcting(WEIGHT, name="a"), correcting(WEIGHT, name="b")
    a = msgspec.structs.replace(a, replaces=b.id)
    b = msgspec.structs.replace(b, replaces=a.id)
    behind = correcting(a, name="behind")
    assert oldest_first([a, b, behind, CONTACT]) == [CONTACT]
    record = Record(family_id=an_id("family"), infants=(FIRST,), entries=(a, b, CONTACT))
    found = record_problems(record)
    assert {entry_id for entry_id, problem in found} == {a.id, b.id}
    assert {problem.code for _, problem in found} == {"RECORD-003"}


def test_a_record_that_fits_together_has_no_problems():
    entries = (WEIGHT, GONE, correcting(GONE), CONTACT)
    record = Record(family_id=an_id("family"), infants=(FIRST,), entries=entries)
    assert record_problems(record) == ()
