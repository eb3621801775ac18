"""The hand-over of a shift: every family once, by urgency, with its reason, last weight, next due."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from paper_source import CLINIC, NOW, SIZES, fonts_home
from pdf_reader import Seen, see
from suffice.assess.results import Tier
from suffice.documents.page import pdf_of
from suffice.documents.shift_page import Shift, ShiftFamily, ShiftInfant, shift_page
from suffice.knowledge.policy import Policy
from suffice.message import message

NB = "\N{NO-BREAK SPACE}"
LONG = "Marguerite-Constance Okoro-Santos de la Fuente y Castellanos"
INFANT = ShiftInfant(name="Ava", age_h=30, weight_g=2255, weight_at=NOW - timedelta(hours=5))
OTHER = ShiftInfant(name="Ben", age_h=None, weight_g=None, weight_at=None)
FAMILIES = (
    ShiftFamily(
        name=LONG,
        tier=Tier.NOW,
        reason=(message("fever: hospital now."),),
        waiting=("Handed over to Dr Ferreira; answer by 11:00.",),
        setting="ward",
        infants=(INFANT, OTHER),
        due_at=NOW - timedelta(hours=1),
    ),
    ShiftFamily(name="مريم", tier=None, reason=(message("Not assessed yet."),), infants=(INFANT,)),
    ShiftFamily(
        name="", tier=Tier.SETTLED, reason=("Doing well.",), as_of=NOW - timedelta(hours=9)
    ),
)


def shift(**changed) -> Shift:
    given = {
        "now": NOW,
        "families": FAMILIES,
        "which": message("All families"),
        "policy": Policy(zone="Europe/London", clinic_name=CLINIC),
        "size": "A4",
        "author": "Mara Lindgren",
        "content_version": "2026.11.9",
        "engine_version": "",
    }
    return Shift(**given | changed)


def read(made: Shift) -> Seen:
    seen = see(pdf_of(shift_page(made), fonts_home()), language=made.policy.language)
    assert seen.faults == ()
    return seen


def test_of_an_infant_that_has_died_it_says_that_and_no_weight() -> None:
    gone = msgspec.structs.replace(OTHER, has_died=True)
    family = msgspec.structs.replace(FAMILIES[0], infants=(INFANT, gone))
    text = read(shift(families=(family,))).text
    assert "Ben has died" in text
    assert "Ben: not weighed" not in text
    assert "Ava: 2255" in text


@pytest.mark.parametrize("size", SIZES)
def test_every_family_stands_once_under_its_group(size) -> None:
    seen = read(shift(size=size))
    assert seen.of("H1") == ["Hand-over of the shift"]
    assert seen.of("H2") == ["Now (1)", "Not assessed (1)", "Settled (1)"]
    rows = [row for row in seen.of("TR") if not row.startswith("FamilyReason")]
    assert len(rows) == len(FAMILIES)
    assert "All families: 3" in seen.text
    assert "Handed over by Mara Lindgren." in seen.text


def test_a_row_has_reason_answer_weight_and_what_is_overdue() -> None:
    row = next(one for one in read(shift()).of("TR") if one.startswith(LONG))
    assert f"Ava 30{NB}h" in row
    assert "Ben age not known" in row
    assert "Fever: hospital now. Handed over to Dr Ferreira; answer by 11:00." in row
    assert f"Ava: 2255{NB}g, Sat 28{NB}Nov, 05:00." in row
    assert "Ben: not weighed." in row
    assert f"Overdue: Sat 28{NB}Nov, 09:00" in row


def test_what_was_computed_earlier_says_so() -> None:
    rows = read(shift()).of("TR")
    assert f"As of Sat 28{NB}Nov, 01:00." in next(one for one in rows if "Family without" in one)
    assert sum("As of" in one for one in rows) == 1


def test_an_empty_list_says_so() -> None:
    assert "Nobody is on this list." in read(shift(families=())).text


def test_a_long_list_repeats_its_heads_and_loses_nobody() -> None:
    many = tuple(
        msgspec.structs.replace(FAMILIES[0], name=f"Family {number:03}") for number in range(120)
    )
    seen = read(shift(families=many))
    assert seen.pages > 3
    assert all(f"Family {number:03}" in seen.text for number in range(120))


def test_in_spanish_it_has_the_same_structure() -> None:
    policy = Policy(zone="Europe/Madrid", clinic_name=CLINIC, language="es")
    assert len(read(shift(policy=policy)).of("TR")) == len(read(shift()).of("TR"))
