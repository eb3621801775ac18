"""What was given is listed with its origin, and compared with what would be made now."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import msgspec
import pytest

from paper_source import NOW, fonts_home, records
from suffice.care.clinic.clinic import clinic
from suffice.care.family.recording import open_family
from suffice.care.papers.giving import give, given_papers, is_the_same
from suffice.care.papers.making import Asked, folder_of
from suffice.documents.folder import Offer
from suffice.record import repository

pytestmark = pytest.mark.django_db
RECORD = records()["twin-trouble"]
ASKED = Asked(as_of=NOW, language="en", size="A4", author="Mara Lindgren")


def test_what_was_given_is_listed_latest_first_and_once() -> None:
    open_family(RECORD, now=NOW, actor="consultant", confirmed=True)
    folder = folder_of(RECORD.family_id, ASKED, clinic())
    sheets = [one for one in folder.offers() if one.kind == "sheet"][:2]
    keys = [uuid4(), uuid4()]
    for minutes, (key, sheet) in enumerate(zip(keys, sheets, strict=True), start=1):
        for _press in range(2):
            at = NOW + timedelta(minutes=minutes)
            give(folder, sheet, fonts_home(), key=key, now=at, actor="consultant")
    found = given_papers(repository.read(RECORD.family_id))
    assert [one.entry.id for one in found] == keys[::-1]
    origin = found[0].fact.origin
    assert origin is not None
    assert origin.sheet == sheets[1].sheet
    assert is_the_same(folder, sheets[1], origin)
    assert not is_the_same(folder, sheets[0], origin)
    assert not is_the_same(folder, sheets[1], msgspec.structs.replace(origin, digest=""))


def test_a_letter_keeps_whom_it_is_about() -> None:
    open_family(RECORD, now=NOW, actor="consultant", confirmed=True)
    folder = folder_of(RECORD.family_id, ASKED, clinic())
    whose = RECORD.infants[0].id
    give(
        folder,
        Offer(kind="letter", whose=whose),
        fonts_home(),
        key=uuid4(),
        now=NOW,
        actor="consultant",
    )
    assert [one.entry.infant_id for one in given_papers(repository.read(RECORD.family_id))] == [
        whose
    ]
