"""A quick look at the chains: triggers, pages and the newest links, for as long as there is time."""
# ruff: noqa: S608 -- names of chains and keys of rows are looked at before they get into a query

from __future__ import annotations

import re
import time
from collections.abc import Iterator

import msgspec
from django.db import connection

from suffice.record import chain
from suffice.record.stored_rows import Read, one_view, stored_rows
from suffice.record.verify import (
    LINKS,
    Found,
    Link,
    Wrong,
    family_of_chain,
    rows_of,
    wrong_pages,
    wrong_triggers,
)

CHAIN = re.compile(r"[0-9a-z ]{1,60}")
KEY = re.compile(r"[0-9a-f]{1,32}")
STEPS = 10_000
"""Of SQLite's own machine, between two looks at the clock: some milliseconds."""


class Looked(msgspec.Struct, frozen=True, kw_only=True):
    """What a quick look has read, and what is wrong with it.

    Attributes:
        checked: Links that were read, the newest first.
        link_count: Links there are.
        pages: Whether every page was looked at; False where time was up, or the engine cannot say.
    """

    checked: int
    link_count: int
    pages: bool
    found: tuple[Found, ...]


def look(limit_s: float) -> Looked:
    """Look for so many seconds: at pages for up to half of them, at links for the rest."""
    until = time.monotonic() + limit_s
    found = wrong_triggers()
    pages = _pages_within(limit_s / 2)
    found += pages or []
    if pages:
        # What is on a damaged page may be read as anything, or not at all.
        return Looked(checked=0, link_count=0, pages=True, found=tuple(found))
    with one_view() as read:
        (count,) = next(read("SELECT count(*) FROM record_link"))
        links = _Newest(read)
        for link in links.each():
            found += links.wrong(link)
            if time.monotonic() > until:
                break
    return Looked(
        checked=links.checked, link_count=count, pages=pages is not None, found=tuple(found)
    )


def _pages_within(limit_s: float) -> list[Found] | None:
    """What is wrong with pages; None where time was up, or where the engine has no such check."""
    if connection.vendor != "sqlite":
        return None
    connection.ensure_connection()
    until = time.monotonic() + limit_s
    ours = connection.connection
    ours.set_progress_handler(lambda: time.monotonic() > until, STEPS)
    try:
        return wrong_pages(whole=False)
    except Exception as error:
        if "interrupted" in str(error):
            return None
        raise
    finally:
        # Closed, where it met a page that cannot be read.
        if connection.connection is ours:
            ours.set_progress_handler(None, 0)


class _Newest:
    """The links of chains that are on the record, the newest first."""

    def __init__(self, read: Read) -> None:
        self._read = read
        self._arrived = {number for (number,) in read("SELECT number FROM record_arrival")}
        self._erased = {
            chain.canonical_id(family)
            for (family,) in read("SELECT CAST(family_id AS text) FROM record_erasure")
        }
        self._ends: dict[str, tuple[int, str] | None] = {}
        self.checked = 0

    def each(self) -> Iterator[Link]:
        for row in self._read(f"{LINKS} ORDER BY seq DESC"):
            link = Link(*row)
            if link.arrival is None or link.arrival in self._arrived:
                self.checked += 1
                yield link

    def wrong(self, link: Link) -> Iterator[Found]:
        """What is wrong with a link, the end of its chain, and the rows that it names."""
        family, rows, name = family_of_chain(link.chain), rows_of(link), link.chain
        if not CHAIN.fullmatch(name):
            yield Found(wrong=Wrong.LINK, key=link.place)
            return
        if link.chain not in self._ends:
            head = f"SELECT number, hash FROM record_chainhead WHERE chain = '{name}'"
            self._ends[link.chain] = end = next(self._read(head), None)
            if end != (link.number, link.hash):
                yield Found(wrong=Wrong.CUT, key=f"{link.chain}#{link.number + 1}", family=family)
        earlier = (
            f"SELECT hash FROM record_link WHERE chain = '{name}' AND number = {link.number - 1}"
        )
        before = next(self._read(earlier), ("",))[0]
        if rows is None or link.hash != link.right(before, rows):
            yield Found(wrong=Wrong.LINK, key=link.place, family=family)
            return
        by_form: dict[str, dict[str, tuple[str, str | None]]] = {}
        for row in rows:
            if len(row) == 1:
                family = row[0]
            else:
                by_form.setdefault(row[0], {})[row[1]] = (row[2], family)
        for form, named in by_form.items():
            yield from self._rows(form, named)

    def _rows(self, form: str, named: dict[str, tuple[str, str | None]]) -> Iterator[Found]:
        keys = ", ".join(f"'{key}'" for key in named if KEY.fullmatch(key))
        where = f"WHERE {chain.FORMS[form].key} IN ({keys})"
        found = {row.key: row.digest for row in stored_rows(form, self._read, where=where)}
        for key, (digest, family) in named.items():
            if key not in found and family not in self._erased:
                yield Found(wrong=Wrong.REMOVED, form=form, key=key, family=family)
            elif found.get(key, digest) != digest:
                yield Found(wrong=Wrong.CHANGED, form=form, key=key, family=family)
