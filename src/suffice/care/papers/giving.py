"""Put on the record that a paper was given to the family, and list what they were given."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Final
from uuid import UUID

import msgspec

from suffice.care.family.asking import record_of
from suffice.care.family.recording import record_entry
from suffice.clinical.entry import Basis, Entry, Origin, PaperGiven, Record, standing
from suffice.documents.folder import Folder, Offer, PaperKind
from suffice.documents.kept import digest_of, origin_of
from suffice.documents.page import pdf_of

KEPT_AS: Final[dict[PaperKind, str]] = {"signed": "note", "amended": "note"}
"""Papers that are kept under another name."""


class GivenPaper(msgspec.Struct, frozen=True, kw_only=True):
    """A paper that was given: its entry and what was given."""

    entry: Entry
    fact: PaperGiven


def give(folder: Folder, offer: Offer, home: Path, *, key: UUID, now: datetime, actor: str) -> None:
    """Put on the record that a paper was given.

    Args:
        folder: What it was made from.
        offer: Which paper.
        home: A folder of our own, in which the fonts are kept.
        key: Client-made id; a second press gives nothing more.
        now: The instant.
        actor: Who gave it.

    Raises:
        StorageError: PAPER-001, PAPER-002, RECORD-009.
    """
    family_id = folder.record.family_id
    if any(one.id == key for one in record_of(family_id).entries):
        return
    paper = folder.paper(offer)
    kind = KEPT_AS.get(offer.kind, offer.kind)
    fact = PaperGiven(
        paper=kind,  # type: ignore[arg-type]  # a kind that can be given
        title=paper.title,
        language=paper.language,  # type: ignore[arg-type]  # one of those that papers have
        origin=origin_of(folder.source, paper, pdf_of(paper, home), offer.sheet),
    )
    entry = Entry(
        id=key,
        fact=fact,
        basis=Basis.OBSERVED,
        true_at=now,
        entered_at=now,
        entered_by=actor,
        infant_id=offer.whose,
    )
    record_entry(family_id, entry, now=now)


def given_papers(record: Record) -> tuple[GivenPaper, ...]:
    """What a family was given, the latest first."""
    return tuple(
        GivenPaper(entry=one, fact=one.fact)
        for one in reversed(standing(record.entries))
        if isinstance(one.fact, PaperGiven)
    )


def is_the_same(folder: Folder, offer: Offer, origin: Origin) -> bool:
    """Whether a paper that is made again has the words of the one that was given."""
    return digest_of(folder.paper(offer)) == origin.digest
