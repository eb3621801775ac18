"""A word of a vocabulary says whose it can be; a form, a table and a line take it from the content."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest

import csv_case
from people import an_id
from suffice.clinical.entry import Basis, Entry
from suffice.clinical.entry.body import Sign
from suffice.clinical.plausibility import check_entry
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.terms import grouped, key_of, whose
from suffice.web.entry.forms import FORMS, EntryForm
from suffice.web.shown.fact import describe
from suffice.web.shown.wording import Wording

AVA, BEN = (an_id("a"), "Ava"), (an_id("b"), "Ben")
SENT = {"when": "2026-03-01T10:00", "basis": "observed", "entry_id": str(an_id("entry"))}


def sign_form(*infants: tuple[UUID, str], corrects: Sign | None = None, **typed: str) -> EntryForm:
    asked: dict[str, Any] = {"policy": Policy(), "content": load(), "infants": infants}
    return FORMS["sign"](SENT | typed, corrects=corrects, **asked)


def test_of_one_infant_nothing_else_is_asked() -> None:
    form = sign_form(AVA, sign="jaundice", present="yes")
    assert (form.is_valid(), form.infant_id) == (True, AVA[0])
    assert "infant" not in form.fields


def test_of_twins_it_is_asked_which_and_never_supposed() -> None:
    open_form = sign_form(AVA, BEN, sign="jaundice", present="yes")
    assert set(open_form.errors) == {"infant"}
    form = sign_form(AVA, BEN, sign="jaundice", present="yes", infant=str(BEN[0]))
    assert (form.is_valid(), form.infant_id) == (True, BEN[0])


def test_what_is_of_the_parent_is_nobody_elses() -> None:
    form = sign_form(AVA, BEN, sign="chills", present="no")
    assert (form.is_valid(), form.infant_id) == (True, None)
    wrong = sign_form(AVA, BEN, sign="chills", present="no", infant=str(AVA[0]))
    assert set(wrong.errors) == {"infant"}


def test_a_correction_stays_with_whom_it_was_about() -> None:
    former = Sign(sign="jaundice", present=True)
    changed = sign_form(AVA, corrects=former, sign="chills", present="yes")
    assert set(changed.errors) == {"sign"}
    of_parent = sign_form(
        corrects=Sign(sign="chills", present=True), sign="jaundice", present="yes"
    )
    assert set(of_parent.errors) == {"sign"}


def test_a_key_that_the_content_no_longer_holds_is_kept_and_shown_as_it_stands() -> None:
    old = Sign(sign="old_key", present=True)
    assert "old_key" in describe(old, Wording(policy=Policy()))
    form = sign_form(AVA, corrects=old, sign="old_key", present="no")
    assert form.is_valid(), form.errors
    assert form.fact() == Sign(sign="old_key", present=False)
    assert whose(old) is None
    assert set(sign_form(AVA, sign="old_key", present="no").errors) == {"sign"}


def test_groups_come_infant_first_and_the_largest_first() -> None:
    sizes: dict[str, list[int]] = {"infant": [], "parent": []}
    order = []
    for _group, terms in grouped("signs"):
        order.append(terms[0][1].about)
        sizes[terms[0][1].about].append(len(terms))
    assert order == sorted(order)
    assert all(found == sorted(found, reverse=True) for found in sizes.values())
    assert sum(map(sum, sizes.values())) == len(load().vocabularies["signs"])


@pytest.mark.parametrize("text", ["chills", "Shaking chills", "escalofríos con temblor"])
def test_a_table_may_name_it_by_key_or_in_either_language(text: str) -> None:
    assert key_of("signs", text) == "chills"
    (record,) = csv_case.read(csv_case.table("sign,present", f"{text},yes")).records
    assert [e.infant_id for e in record.entries if isinstance(e.fact, Sign)] == [None]


def test_a_table_refuses_what_is_no_sign_and_what_is_left_open() -> None:
    assert csv_case.refused(csv_case.table("sign,present", "hiccups,yes")) == [
        ("CSV-024", "row 2, sign")
    ]
    assert csv_case.refused(csv_case.table("sign,present", "chills,")) == [("CSV-048", "row 2")]


def test_since_when_lies_before_the_entry_that_tells_of_it() -> None:
    (record,) = csv_case.read(
        csv_case.table("sign,present,since", "jaundice,yes,2026-03-02 11:00")
    ).records
    (found,) = [e for e in record.entries if isinstance(e.fact, Sign)]
    limits = PlausibilityLimits.from_content(load().flat, load().series)
    entry = Entry(
        id=found.id, fact=found.fact, basis=Basis.OBSERVED, true_at=found.true_at,
        entered_at=found.true_at, entered_by="consultant", infant_id=found.infant_id,
    )  # fmt: skip
    assert [one.code for one in check_entry(entry, (), limits)] == ["TIME-004"]
