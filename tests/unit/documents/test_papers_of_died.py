"""No paper has an infant fed, weighed or woken that has died; those of the other infant and the parent stay."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from paper_source import NOW, folder_of_record, fonts_home, records
from pdf_reader import see
from suffice.clinical.entry import Basis, Death, Entry, Infant, Record
from suffice.documents.folder import Folder, Offer
from suffice.documents.page import pdf_of

TWO = next(one for one in records().values() if len(one.infants) > 1)
ONE = next(one for one in records().values() if len(one.infants) == 1)


def with_death(record: Record, infant: Infant) -> Record:
    death = Entry(
        id=infant.id,
        fact=Death(),
        basis=Basis.REPORTED,
        true_at=NOW - timedelta(hours=1),
        entered_at=NOW - timedelta(minutes=50),
        entered_by="consultant",
        infant_id=infant.id,
    )
    return msgspec.structs.replace(record, entries=(*record.entries, death))


def text_of(folder: Folder, offer: Offer) -> str:
    text = see(pdf_of(folder.paper(offer), fonts_home()), language="en").text
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_none_is_offered_of_a_twin_that_has_died_and_all_of_the_other():
    gone, other = TWO.infants
    before = list(folder_of_record(TWO).offers())
    after = list(folder_of_record(with_death(TWO, gone)).offers())
    assert [one for one in before if one.whose == gone.id]
    assert not [one for one in after if one.whose == gone.id]
    kinds = {one.kind for one in before if one.whose == other.id}
    assert kinds <= {one.kind for one in after if one.whose == other.id}


def test_of_an_only_infant_no_paper_is_left_that_has_anybody_fed():
    folder = folder_of_record(with_death(ONE, ONE.infants[0]))
    offers = list(folder.offers())
    assert {one.kind for one in offers} == {"letter", "discharge"}
    assert {one.whose for one in offers} == {None}
    letter = next(one for one in offers if one.kind == "letter")
    assert "The infant has died." in text_of(folder, letter)


@pytest.mark.parametrize("record", [ONE, TWO], ids=["one", "twins"])
def test_the_summary_says_it_and_nothing_else_of_that_infant(record):
    folder = folder_of_record(with_death(record, record.infants[0]))
    offer = next(one for one in folder.offers() if one.kind == "discharge")
    text = text_of(folder, offer)
    assert "Has died, Sat 28 Nov." in text
    help_of = text.split("When to come back")[1]
    assert ("Your baby" in help_of) == (record is TWO)
    assert "You bleed a lot" in help_of
    for asks in ("eigh", "feeds"):
        assert record is TWO or asks not in text.split("Has died")[-1]


@pytest.mark.parametrize("record", [ONE, TWO], ids=["one", "twins"])
def test_the_sheet_after_a_death_names_no_sign_of_an_infant(record):
    """A parent whose baby has died is not asked whether it is limp or wets its diapers."""
    folder = folder_of_record(with_death(record, record.infants[0]))
    text = text_of(folder, Offer(kind="sheet", whose=None, sheet="after_death"))
    said = text.split("First of all")[-1]
    for sign in ("our baby", "diaper", "feeds", "skin", "wake"):
        assert sign not in said
    assert "You think of hurting yourself. Crisis line" in said
    assert "You have a fever of 38.0 °C or more." in said
