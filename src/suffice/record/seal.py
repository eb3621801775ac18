"""A day's seal over the heads of all chains, and its copy outside the database.

Whoever may write to the database could make a chain anew, digests and hashes included. Against that
each seal keeps where the chains ended, the seals make a chain of their own, and its head is
written to a file in the folder of the record too: `seals`, one line a seal, which goes on growing.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path

import msgspec
from django.conf import settings
from django.db.models import F, Q, QuerySet

from suffice.record import chain, models
from suffice.record.repository import one_transaction

FILE = "seals"
OWNERS = 0o600
HEADS = 5000
"""Heads of one seal at most; a day on which more chains grew has several."""


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """A line of the file: the number of a seal, and the hash of its link."""

    number: int
    hash: str


def seal(day: date) -> int:
    """Seal what has grown since the last seal; how many chains did.

    An import that has not arrived yet is sealed once it has.

    Args:
        day: The day that is sealed.

    Raises:
        StorageError: RECORD-009, when the store cannot take it.
    """
    sealed = 0
    while True:
        with one_transaction():
            heads = list(_grown().select_for_update().order_by("chain")[:HEADS])
            if not heads:
                return sealed
            listed = [[head.chain, head.number, head.hash] for head in heads]
            row = models.Seal.objects.create(day=day, heads=chain.compact(listed))
            chain.extend(chain.SEALS, [row])
            for head in heads:
                head.sealed_number = head.number
            models.ChainHead.objects.bulk_update(heads, ["sealed_number"])
            hashed = models.ChainHead.objects.get(chain=chain.SEALS).hash
        _write_down(Line(number=row.number, hash=hashed))
        sealed += len(heads)


def _grown() -> QuerySet[models.ChainHead]:
    numbers = models.Arrival.objects.values_list("number", flat=True)
    on_the_way = Q(chain__startswith=chain.of_import(0)[:-1])
    on_the_way &= ~Q(chain__in=[chain.of_import(number) for number in numbers])
    grown = models.ChainHead.objects.filter(number__gt=F("sealed_number"))
    return grown.exclude(on_the_way | Q(chain=chain.SEALS))


def newest_day() -> date | None:
    """The day of the newest seal; None before there is any."""
    return models.Seal.objects.order_by("-number").values_list("day", flat=True).first()


def path() -> Path:
    """The file outside the database."""
    return Path(settings.HOME) / FILE


def set_aside() -> None:
    """Give the file another name, once another record has been put in the place of the one it was of."""
    with suppress(FileNotFoundError):
        path().rename(path().with_name(f"{FILE}-before-{datetime.now(UTC):%Y%m%dT%H%M%SZ}"))


def _write_down(line: Line) -> None:
    descriptor = os.open(path(), os.O_WRONLY | os.O_CREAT | os.O_APPEND, OWNERS)
    try:
        os.write(descriptor, msgspec.json.encode(line) + b"\n")
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def written_down() -> Iterator[Line]:
    """What the file says; a line that was not finished is left out."""
    with suppress(FileNotFoundError):
        yield from lines_of(path().read_bytes())


def lines_of(content: bytes) -> Iterator[Line]:
    """The lines of such a file."""
    for line in content.splitlines():
        with suppress(msgspec.DecodeError):
            yield msgspec.json.decode(line, type=Line)


def heads_of(text: str) -> list[tuple[str, int, str]]:
    """The heads that a seal keeps."""
    return [(name, number, hashed) for name, number, hashed in json.loads(text)]
