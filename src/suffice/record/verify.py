"""Checks the chains against what is stored: what was changed, removed, reordered or added elsewhere.

Reads everything once, within one view of the database, while others go on writing. What it finds is
named by form and key, as a link names it; whoever may write to the database can hide from it only what
no seal has seen yet, or by making every chain and the file of seals anew.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from enum import StrEnum
from itertools import groupby

import msgspec
from django.db import DatabaseError, connection

from suffice.record import append_only, chain, reasons, seal, sqlite_file
from suffice.record.chain import Named
from suffice.record.clock import BACK
from suffice.record.row_text import instant
from suffice.record.stored_rows import Read, one_view, stored_rows

OF_FAMILY = frozenset(name for name, form in chain.FORMS.items() if form.family)
"""Forms of rows that go with their family where it is erased."""
LINKS = "SELECT chain, number, CAST(made_at AS text), rows, hash, arrival FROM record_link"
PAGES_NAMED = 20
"""Damaged pages that are named; there may be as many as the file has."""


class Wrong(StrEnum):
    """What can be wrong; `key` of a finding names the row, link, trigger or page."""

    CHANGED = "changed"
    REMOVED = "removed"
    ADDED = "added"
    LINK = "link"
    CUT = "cut"
    SEAL = "seal"
    TRIGGER = "trigger"
    PAGE = "page"


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """Something wrong.

    Attributes:
        form: The form of the row, as :data:`suffice.record.chain.FORMS` names it; empty for another.
        key: What names the row; the place in a chain, the trigger, what the engine says of a page.
        family: The family that it is about, in hexadecimal digits; None where that is not known.
        digest: Of what is there now, or of what is missing: by it one finding is told from a later one
            about the same row. Empty where there is none.
    """

    wrong: Wrong
    form: str = ""
    key: str = ""
    family: str | None = None
    digest: str = ""


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """What was read, and what is wrong with it.

    Attributes:
        back: When the clock went back, as (before, after) of two links that follow one another.
    """

    link_count: int
    row_count: int
    found: tuple[Found, ...]
    back: tuple[tuple[datetime, datetime], ...] = ()


class Link(msgspec.Struct, frozen=True, array_like=True):
    """A link as it is stored."""

    chain: str
    number: int
    made_at: str
    rows: str
    hash: str
    arrival: int | None

    @property
    def place(self) -> str:
        """Where it is."""
        return f"{self.chain}#{self.number}"

    def right(self, before: str, rows: Sequence[Named]) -> str:
        """The hash that it should have after the link with the hash `before`."""
        return chain.link_hash(self.chain, self.number, self.made_at, before, rows)


_names = msgspec.json.Decoder(list[list[str]])


def rows_of(link: Link) -> list[list[str]] | None:
    """The rows that a link names; None where it cannot be read, or names what is no form of ours."""
    try:
        rows = _names.decode(link.rows)
    except msgspec.DecodeError:
        return None
    of_rows = all(len(row) == 1 or (len(row) == 3 and row[0] in chain.FORMS) for row in rows)
    return rows if of_rows else None


def _silent(_done: int) -> None:
    """Progress that nobody watches."""


def verify(progress: Callable[[int], None] = _silent) -> Checked:
    """Check everything; triggers, pages, links, heads, seals, rows.

    Args:
        progress: Told how many links and rows were read so far.

    Raises:
        DatabaseError: When the database cannot be read at all.
    """
    found = [*wrong_triggers(), *wrong_pages(whole=True)]
    if any(one.wrong is Wrong.PAGE for one in found):
        # What is on a damaged page may be read as anything.
        return Checked(link_count=0, row_count=0, found=tuple(found))
    with one_view() as read:
        chains = _Chains(read)
        found += chains.follow()
        found += _rows(read, chains, progress)
        back = tuple(_clock_back(read))
    return Checked(
        link_count=chains.link_count, row_count=chains.row_count, found=tuple(found), back=back
    )


def _clock_back(read: Read) -> Iterator[tuple[datetime, datetime]]:
    """When the clock went back, as what was stored before and after it says."""
    before: datetime | None = None
    for (text,) in read("SELECT CAST(made_at AS text) FROM record_link ORDER BY seq"):
        at = instant(text)
        if before is not None and at < before - BACK:
            yield before, at
        before = at


def wrong_triggers() -> list[Found]:
    """Triggers that are missing or are not ours."""
    names = append_only.missing(connection)
    return [Found(wrong=Wrong.TRIGGER, key=name) for name in names]


def wrong_pages(*, whole: bool) -> list[Found]:
    """What SQLite says of its pages; `whole` compares the indexes too. PostgreSQL has no such check."""
    if connection.vendor != "sqlite":
        return []
    check = "integrity_check" if whole else "quick_check"
    try:
        with connection.cursor() as cursor:
            found = [
                str(line) for (line,) in cursor.execute(f"PRAGMA {check}({PAGES_NAMED})").fetchall()
            ]
    except DatabaseError as error:
        if reasons.why(error) != reasons.DAMAGED:
            raise
        found = ["a page cannot be read"]
    if found == ["ok"]:
        return []
    if sqlite_file.is_encrypted():
        found = _unreadable() or found
    return [Found(wrong=Wrong.PAGE, key=line) for line in found]


def _unreadable() -> list[str]:
    """The pages of an encrypted record that cannot be read: each that was changed by as much as a bit.

    A connection that has met one takes every later page for damaged, and writes nothing any more.
    """
    with connection.cursor() as cursor:
        lines = cursor.execute("PRAGMA cipher_integrity_check").fetchall()
    if not connection.in_atomic_block:
        connection.close()
    return [str(line) for (line,) in lines[:PAGES_NAMED]]


class _Chains:
    """The chains as the links tell them, and which rows they name."""

    def __init__(self, read: Read) -> None:
        self._read = read
        self.arrived = {number for (number,) in read("SELECT number FROM record_arrival")}
        self.heads = {
            name: (number, hashed)
            for name, number, hashed in read("SELECT chain, number, hash FROM record_chainhead")
        }
        self.sealed = {
            (name, number): hashed
            for (heads,) in read("SELECT heads FROM record_seal ORDER BY number")
            for name, number, hashed in seal.heads_of(heads)
        }
        self.erased = {
            chain.canonical_id(family): (number, hashed)
            for family, number, hashed in read(
                "SELECT CAST(family_id AS text), chain_number, chain_hash FROM record_erasure"
            )
        }
        self.named: dict[str, dict[str, tuple[str, str | None]]] = {one: {} for one in chain.FORMS}
        self.seal_hashes: set[str] = set()
        self.link_count = self.row_count = 0

    def follow(self) -> Iterator[Found]:
        """Go along every chain; what is wrong with links, heads and seals."""
        links = (Link(*row) for row in self._read(f"{LINKS} ORDER BY chain, number"))
        for name, of_chain in groupby(links, key=lambda link: link.chain):
            yield from self._along(name, of_chain)
        for name, head in self.heads.items():
            if head[0] and self._counts(name, None) and self.erased.get(name) != head:
                yield Found(wrong=Wrong.CUT, key=f"{name}#1", family=family_of_chain(name))
        for (name, number), hashed in self.sealed.items():
            # The links of an erased family went with it; its erasure says where they ended.
            ended = self.erased.get(name)
            if ended and (number < ended[0] or (number, hashed) == ended):
                continue
            place, family = f"{name}#{number}", family_of_chain(name)
            yield Found(wrong=Wrong.SEAL, key=place, family=family, digest=hashed)
        for line in seal.written_down():
            if line.hash not in self.seal_hashes:
                yield Found(wrong=Wrong.SEAL, form="seal", key=str(line.number), digest=line.hash)

    def _counts(self, name: str, arrival: int | None) -> bool:
        """Whether a chain is on the record: that of an import only once it has arrived."""
        prefix = chain.of_import(0)[:-1]
        number = name.removeprefix(prefix)
        if number != name and number.isdecimal():
            return int(number) in self.arrived
        return arrival is None or arrival in self.arrived

    def _along(self, name: str, links: Iterable[Link]) -> Iterator[Found]:
        before, number = "", 0
        for link in links:
            if not self._counts(name, link.arrival):
                continue
            self.link_count += 1
            rows = rows_of(link)
            if link.number != number + 1 or rows is None or link.hash != link.right(before, rows):
                family = family_of_chain(name)
                yield Found(wrong=Wrong.LINK, key=link.place, family=family, digest=link.hash)
            before, number = link.hash, link.number
            self._name(name, rows or ())
            if self.sealed.get((name, number)) == link.hash:
                del self.sealed[name, number]
            if name == chain.SEALS:
                self.seal_hashes.add(link.hash)
        if number and self.heads.pop(name, None) != (number, before):
            place, family = f"{name}#{number + 1}", family_of_chain(name)
            yield Found(wrong=Wrong.CUT, key=place, family=family, digest=before)

    def _name(self, name: str, rows: Sequence[Sequence[str]]) -> None:
        family = family_of_chain(name)
        for row in rows:
            if len(row) == 1:
                family = row[0]
            else:
                form, key, digest = row
                self.named[form][key] = (digest, family)


def family_of_chain(name: str) -> str | None:
    """The family whose chain it is; None for another chain."""
    return name if is_id(name) else None


def is_id(key: str) -> bool:
    """Whether a key is an id, as a link has it."""
    return ID.fullmatch(key) is not None


ID = re.compile("[0-9a-f]{32}")


def _rows(read: Read, chains: _Chains, progress: Callable[[int], None]) -> Iterator[Found]:
    """What is stored against what the links name."""
    for form, named in chains.named.items():
        for row in stored_rows(form, read):
            if row.arrival is not None and row.arrival not in chains.arrived:
                continue
            if form in OF_FAMILY and row.family in chains.erased:
                yield Found(wrong=Wrong.ADDED, form=form, key=row.key, family=row.family)
                continue
            chains.row_count += 1
            if chains.row_count % 1000 == 0:
                progress(chains.row_count)
            digest, family = named.pop(row.key, (None, None))
            if digest is None:
                wrong, of = Wrong.ADDED, row.family
            elif digest != row.digest:
                # The family that it was entered for, should it have been moved to another.
                wrong, of = Wrong.CHANGED, family or row.family
            else:
                continue
            yield Found(wrong=wrong, form=form, key=row.key, family=of, digest=row.digest)
        for key, (digest, family) in named.items():
            if family in chains.erased:
                continue
            yield Found(wrong=Wrong.REMOVED, form=form, key=key, family=family, digest=digest)
