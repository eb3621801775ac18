"""The families of a shift: the answers that are waited for are said once, and nobody is left out."""

from __future__ import annotations

import pytest

from paper_source import NOW, records
from suffice.assess.results import Tier
from suffice.care.caseload.listing import caseload
from suffice.care.clinic.clinic import clinic
from suffice.care.family.recording import open_family
from suffice.care.papers.shift import shift_of
from suffice.documents.shift_page import Shift

pytestmark = pytest.mark.django_db


def shift(*keys: str) -> Shift:
    for key in keys:
        open_family(records()[key], now=NOW, actor="consultant", confirmed=True)
    return shift_of(
        caseload(now=NOW).rows,
        clinic(),
        now=NOW,
        language="en",
        size="A4",
        author="Mara Lindgren",
        which="All families",
    )


def test_every_family_is_in_it_by_urgency() -> None:
    made = shift("thriving", "twin-trouble")
    assert [one.tier for one in made.families] == [Tier.TODAY, Tier.SETTLED]
    assert [infant.weight_g for infant in made.families[0].infants] == [2850, 2255]


def test_what_was_handed_over_is_said_once_with_what_was_asked() -> None:
    family = shift("handed-over").families[0]
    said = " ".join(str(one) for one in (*family.reason, *family.waiting))
    assert said.count("Dr Ferreira") == 1
    assert said.count("Asked: ") == 1
