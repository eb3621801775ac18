"""All that is kept of one family as one file: the record as data, its papers and photographs to look at."""

from __future__ import annotations

import io
import zipfile
from collections import Counter
from pathlib import Path
from typing import Final
from uuid import UUID

from django.conf import settings

from suffice.care.family.asking import record_of
from suffice.care.family.transfer import export_family
from suffice.care.papers.making import Asked, folder_of
from suffice.care.photographs import sealed
from suffice.care.photographs.consent import photographs
from suffice.documents.folder import Offer
from suffice.documents.page import pdf_of
from suffice.errors import StorageError
from suffice.knowledge.policy import Clinic

WITHOUT: Final = frozenset({"sheet", "log"})
"""Papers that hold nothing of a family: teaching sheets, and the empty sheet of a log."""


def whole_export(family_id: UUID, asked: Asked, rules: Clinic) -> bytes:
    """A zip file of a family: its JSON, every paper that can be made of it, its photographs.

    A photograph that was erased, or cannot be opened, is named in `not-there.txt`.

    Args:
        family_id: The family.
        asked: How the papers are wanted.
        rules: The clinic as it is set up.

    Raises:
        InputError: RECORD-001.
        StorageError: RECORD-010, PAPER-001.
    """
    folder = folder_of(family_id, asked, rules)
    written, missing = io.BytesIO(), []
    names: Counter[str] = Counter()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("family.json", export_family(family_id))
        for offer in folder.offers():
            if offer.kind not in WITHOUT:
                name = _name(offer, names)
                packed.writestr(name, pdf_of(folder.paper(offer), Path(settings.HOME)))
        for entry, fact in photographs(record_of(family_id)):
            if fact.picture is None:
                continue
            try:
                content = sealed.kept(family_id, fact.picture.id, fact.picture.digest)
            except StorageError as gone:
                missing.append(f"{entry.id} {gone.problems[0].code}")
            else:
                packed.writestr(f"photographs/{entry.id}.jpg", content)
        if missing:
            packed.writestr("not-there.txt", "\n".join(missing))
    return written.getvalue()


def _name(offer: Offer, names: Counter[str]) -> str:
    """The name of a paper's file: what it is, never whose."""
    names[offer.kind] += 1
    return f"papers/{offer.kind}-{names[offer.kind]}.pdf"
