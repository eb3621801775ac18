"""The chains of rows that were stored before there were any; what they held until then is not known."""

from __future__ import annotations

from collections.abc import Iterator

from suffice.record import chain
from suffice.record.chain import canonical_id
from suffice.record.stored_rows import one_view, stored_rows

FORMS = ("family", "infant", "entry", "policy", "arrival")
"""What was stored by then, in the order in which a chain names it."""
CHAIN_OF = {"policy": chain.POLICY, "arrival": chain.ARRIVALS}
LINK_ROWS = 500
"""Rows that one link names at most."""

_Chain = tuple[str, int | None]


def start() -> None:
    """Bind every row that is on the record, within the caller's transaction.

    Rows of an import that has not arrived are left out: they will be deleted.
    """
    chains: dict[_Chain, list[chain.Named]] = {}
    for key, name in _named():
        chains.setdefault(key, []).append(name)
    for (bound_to, arrival), names in chains.items():
        for first in range(0, len(names), LINK_ROWS):
            chain.bind(bound_to, _marked(names[first : first + LINK_ROWS]), arrival=arrival)


def bind_placements() -> None:
    """Bind every placement of a family that is on the record, within the caller's transaction.

    Those of an import are bound to their family: the chain of an import that has arrived is closed.
    """
    chains: dict[str, list[chain.Named]] = {}
    with one_view() as read:
        families = {
            canonical_id(key) for (key,) in read("SELECT CAST(id AS text) FROM record_family")
        }
        arrived = {number for (number,) in read("SELECT number FROM record_arrival")}
        for row in stored_rows("placement", read):
            if row.family in families and (row.arrival is None or row.arrival in arrived):
                chains.setdefault(str(row.family), []).append(["placement", row.key, row.digest])
    for family, names in chains.items():
        chain.bind(family, names)


def _named() -> Iterator[tuple[_Chain, chain.Named]]:
    with one_view() as read:
        arrived = {number for (number,) in read("SELECT number FROM record_arrival")}
        for form in FORMS:
            for row in stored_rows(form, read):
                name = [form, row.key, row.digest]
                if row.arrival is None:
                    yield (CHAIN_OF.get(form) or str(row.family), None), name
                elif row.arrival in arrived:
                    yield (chain.of_import(row.arrival), row.arrival), [*name, str(row.family)]


def _marked(names: list[chain.Named]) -> list[chain.Named]:
    """Those of an import with their family before them, where it is another."""
    marked: list[chain.Named] = []
    family = None
    for form, key, digest, *of in names:
        if of and of[0] != family:
            family = of[0]
            marked.append([family])
        marked.append([form, key, digest])
    return marked
