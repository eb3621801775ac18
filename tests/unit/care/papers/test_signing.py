"""Signing where two people press at once: one signed note, and the other is told whose."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from paper_source import NOW, VISIT, fonts_home, records, visited
from suffice.care.clinic.clinic import clinic
from suffice.care.family.recording import open_family
from suffice.care.papers import signing
from suffice.care.papers.making import Asked, folder_of
from suffice.care.papers.signing import Signing, sign
from suffice.clinical.entry import Record, SignedNote
from suffice.documents.kept import digest_of, kept_paper
from suffice.documents.note import note
from suffice.errors import InputError
from suffice.record import repository

pytestmark = pytest.mark.django_db
RECORD = visited(records()["twin-trouble"])
ASKED = Asked(as_of=NOW, language="en", size="A4", author="Mara Lindgren")


@pytest.fixture
def record() -> Record:
    open_family(RECORD, now=NOW, actor="consultant", confirmed=True)
    return RECORD


def seen() -> str:
    folder = folder_of(RECORD.family_id, ASKED, clinic())
    assert folder.contact is not None
    return digest_of(note(folder.source, folder.contact, folder.problems).paper)


def signed_by(actor: str, seen_digest: str) -> Signing:
    now = NOW + timedelta(minutes=1)
    return Signing(asked=ASKED, seen=seen_digest, now=now, actor=actor)


def test_what_is_kept_is_the_note_with_its_signature(record: Record) -> None:
    key = sign(record.family_id, signed_by("consultant", seen()), clinic(), fonts_home())
    entry = next(one for one in repository.read(record.family_id).entries if one.id == key)
    assert isinstance(entry.fact, SignedNote)
    assert entry.fact.contact_id == VISIT
    assert entry.fact.origin is not None
    kept = kept_paper(entry.fact.words, entry.fact.origin.digest)
    assert "Signed by Mara Lindgren" in msgspec.json.encode(kept).decode()


def test_of_two_who_press_at_once_the_first_has_signed(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    digest = seen()
    before = repository.read(record.family_id)
    sign(record.family_id, signed_by("consultant", digest), clinic(), fonts_home())
    answers = iter([before])  # the second looked before the first had signed
    monkeypatch.setattr(
        signing, "record_of", lambda family_id: next(answers, None) or repository.read(family_id)
    )
    with pytest.raises(InputError, match="SIGN-002"):
        sign(record.family_id, signed_by("colleague", digest), clinic(), fonts_home())
    entries = repository.read(record.family_id).entries
    assert [one.entered_by for one in entries if isinstance(one.fact, SignedNote)] == ["consultant"]


def test_whoever_presses_twice_at_once_has_signed_once(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    pressed = signed_by("consultant", seen())
    before = repository.read(record.family_id)
    key = sign(record.family_id, pressed, clinic(), fonts_home())
    answers = iter([before])
    monkeypatch.setattr(
        signing, "record_of", lambda family_id: next(answers, None) or repository.read(family_id)
    )
    again = msgspec.structs.replace(pressed, now=pressed.now + timedelta(seconds=1))
    assert sign(record.family_id, again, clinic(), fonts_home()) == key
