"""An infant laid out for one review, from the words of a vignette."""

from __future__ import annotations

from datetime import datetime

from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.case import Case, case_of
from suffice.assess.parameters import parameters_of
from suffice.assess.review.result import Reviewed
from suffice.clinical.entry import about
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()
PARAMETERS = parameters_of(CONTENT)
POLICY = Policy(zone="UTC")


def instant(age: str) -> datetime:
    return BORN_AT + age_of(age)


def a_case(infant: str, seen: str, asked_at: str, *, is_before_birth: bool = False) -> Case:
    record = record_of(infant, seen)
    as_of = instant(asked_at)
    (who,) = record.infants
    entries = about(record.entries_at(as_of, None), who.id)
    return case_of(
        who,
        "Ada",
        entries,
        as_of=as_of,
        content=CONTENT,
        policy=POLICY,
        is_before_birth=is_before_birth,
    )


def present(review: Reviewed) -> set[str]:
    """The names of the signs that are there."""
    return {
        name for name, found in review.signs.items() for one in found if one.present.value == "true"
    }


def absent(review: Reviewed) -> set[str]:
    """The names of the signs that are known not to be there."""
    return {
        name
        for name, found in review.signs.items()
        for one in found
        if one.present.value == "false"
    }


def values(review: Reviewed) -> dict[str, list[float]]:
    """Name of a measure to its values."""
    return {name: [round(one.value, 2) for one in found] for name, found in review.measures.items()}
