"""Telephone: form, line, JSON and round trips are tested for every kind; here stands what is its own."""

from __future__ import annotations

from uuid import uuid4

import pytest

from suffice.clinical.entry.field import fields_of
from suffice.clinical.entry.telephone import Telephone
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.entry.forms import FORMS
from suffice.web.shown.telephone import dialled


def form(number: str):
    sent = {
        "entry_id": str(uuid4()),
        "number": number,
        "when": "2026-11-30 10:00",
        "basis": "reported",
    }
    return FORMS["telephone"](sent, policy=Policy(), content=load())


@pytest.mark.parametrize("number", ["55517", "+34 555 010 177", "(555) 010-177", "5" * 15])
def test_a_number_of_five_to_fifteen_digits_is_kept_as_it_was_written(number):
    assert "number" not in form(number).errors


@pytest.mark.parametrize(
    "number",
    ["5551", "5" * 16, "ask the aunt", "555 0177 or 0178", "javascript:5551234", "5+55123"],
)
def test_what_no_telephone_dials_is_asked_about(number):
    assert "no telephone number" in str(form(number).errors["number"])


def test_only_digits_and_a_plus_in_front_are_dialled():
    assert dialled(" +34 (555) 010-177") == "+34555010177"
    assert dialled("javascript:+5551") == "5551"


def test_it_is_the_familys_and_in_no_table():
    assert Telephone.declared.about == "parent"
    assert {one.column for one in fields_of(Telephone).values()} == {""}
