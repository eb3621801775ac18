"""A teaching sheet that is not whole is refused, and each fault is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from content_folder import write
from suffice.errors import ContentError
from suffice.knowledge.sheet import Fact, Sheet, SheetPart, faults_of_sheet, fights
from suffice.knowledge.store import load, load_folder

CONTENT = load()
RIGHT = CONTENT.sheets["engorgement"]


def faults(one: Sheet, key: str = "engorgement") -> list[str]:
    """What is found of a sheet in the place of another."""
    return [
        str(found)
        for found in faults_of_sheet(
            key,
            {**CONTENT.sheets, key: one},
            CONTENT.guide.problems,
            CONTENT.entries,
            CONTENT.sources,
        )
    ]


def changed(**fields: object) -> Sheet:
    return msgspec.structs.replace(RIGHT, **fields)


def with_fact(fact: Fact) -> Sheet:
    """The sheet with another first fact under its first heading."""
    head, *rest = RIGHT.parts
    return changed(parts=(SheetPart(title=head.title, facts=(fact, *head.facts[1:])), *rest))


def fact(says: str) -> Fact:
    return Fact(says=says, basis="common practice")


def test_a_sheet_that_is_whole_has_no_fault() -> None:
    assert faults(RIGHT) == []


@pytest.mark.parametrize(
    ("broken", "says"),
    [
        (changed(goes_with=("no_such",)), "there is no problem 'no_such'"),
        (changed(not_with=("no_such",)), "there is no problem 'no_such'"),
        (changed(not_with=("engorgement",)), "it goes with engorgement and does not"),
        (changed(not_beside=("no_such",)), "there is no other sheet 'no_such'"),
        (changed(not_beside=("engorgement",)), "there is no other sheet 'engorgement'"),
        (changed(place=1), "it has the place of 'danger'"),
        (changed(parts=RIGHT.parts[:1]), "it has 2 to 4 headings with at most 5 facts each"),
        (changed(parts=RIGHT.parts[:1]), "it has 5 facts, not 8 to 14"),
        (changed(numbers=RIGHT.numbers | {"more": "plan.gap_day_h"}), "it never says its number"),
        (changed(numbers=RIGHT.numbers | {"cold": "no.such_h"}), "'no.such_h' is no number"),
        (
            changed(numbers=RIGHT.numbers | {"cold": "plan.amount_low_ml"}),
            "'plan.amount_low_ml' is",
        ),
        (changed(numbers={}), "it names no number for 'cold'"),
        (with_fact(fact("Feed 8 times.")), "it writes a number instead of naming it"),
        (with_fact(fact("Rest for Two hours.")), "it writes a number instead of naming it"),
        (changed(title="Ease them in 3 days"), "it writes a number instead of naming it"),
        (changed(note="From day 5 on."), "it writes a number instead of naming it"),
        (with_fact(fact("Feed *often.")), "a star in it has no other"),
        (
            with_fact(Fact(says="Feed.", basis="published")),
            "what is published names its source, and nothing else does",
        ),
        (
            with_fact(Fact(says="Feed.", basis="common practice", sources=("abm36",))),
            "what is published names its source, and nothing else does",
        ),
        (
            with_fact(Fact(says="Feed.", basis="published", sources=("nobody",))),
            "the source 'nobody' is not entered",
        ),
    ],
)
def test_each_fault_of_a_sheet_is_named(broken: Sheet, says: str) -> None:
    assert any(found.startswith(says) for found in faults(broken)), faults(broken)


def test_a_heading_with_more_than_five_facts_is_too_long_to_read() -> None:
    head, *rest = RIGHT.parts
    long = SheetPart(title=head.title, facts=(*head.facts, fact("Rest.")))
    assert faults(changed(parts=(long, *rest))) == [
        "it has 2 to 4 headings with at most 5 facts each"
    ]


def test_a_page_of_a_class_with_more_than_three_facts_is_too_full() -> None:
    head, *rest = RIGHT.parts
    shown = tuple(msgspec.structs.replace(one, in_class=True) for one in head.facts)
    full = SheetPart(title=head.title, facts=shown)
    assert len(shown) == 5
    assert faults(changed(parts=(full, *rest))) == [
        "a page of a class shows at most 3 facts, not 5"
    ]


@pytest.mark.parametrize(
    ("line", "code"),
    [("colour = 1", "CONTENT-002"), ("", "CONTENT-024")],
    ids=["a field that no sheet has", "a sheet without facts"],
)
def test_a_file_that_is_no_sheet_is_refused_with_its_place(
    tmp_path: Path, line: str, code: str
) -> None:
    says = 'first = { says = "Rest.", basis = "common practice" }\n'
    text = f'place = 1\ntitle = "Rest"\nparts = []\nread_on = 2026-11-25\n{says}{line}\n'
    text += 'call = { says = "Call us.", basis = "common practice" }\n'
    with pytest.raises(ContentError) as caught:
        load_folder(write(tmp_path, ("sheets/rest.toml", "", text)))
    assert {one.code for one in caught.value.problems} == {code}
    assert all("rest" in str(one.where) for one in caught.value.problems)


@pytest.mark.parametrize(("one", "other"), [("engorgement", "making_more"), ("latch", "waking")])
def test_two_sheets_fight_whichever_of_them_says_so(one: str, other: str) -> None:
    said = one == "engorgement"
    assert fights(one, other, CONTENT.sheets) is said
    assert fights(other, one, CONTENT.sheets) is said


def test_an_earlier_content_without_sheets_is_given_those_of_the_program() -> None:
    assert replace(CONTENT, sheets={}).completed_from(CONTENT).sheets == CONTENT.sheets


def test_what_to_try_first_and_when_to_call_are_facts_too() -> None:
    found = list(RIGHT.facts())
    assert (found[0], found[-1]) == (RIGHT.first, RIGHT.call)
    assert len(found) == 2 + sum(len(part.facts) for part in RIGHT.parts)


def test_a_gallery_has_a_drawing_for_each_of_its_facts() -> None:
    drawn, plain = msgspec.structs.replace(fact("One."), drawing="latch"), fact("Two.")
    parts = [SheetPart(title="t", facts=facts) for facts in ((drawn, drawn), (drawn, plain), ())]
    assert [one.is_gallery for one in parts] == [True, False, False]
