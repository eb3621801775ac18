"""The families that a table names, of those that whoever imports it may write to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from suffice.care.caseload.choosing import folded
from suffice.care.caseload.listing import caseload
from suffice.care.clinic.access import Access
from suffice.care.clinic.clinic import clinic
from suffice.care.clinic.roles import Act
from suffice.clinical.entry import Identity, Record
from suffice.exchange.table.families import Called, Families
from suffice.exchange.table.options import by_name
from suffice.language.text import text_of
from suffice.record import repository


def families_called(access: Access | None, *, now: datetime) -> Families:
    """A function that finds families by their name as the list has it, or by their id.

    Case, accents and spaces do not matter; a part of a name is not the name. Whether a family is not
    there or is another team's is not told apart.

    Args:
        access: What whoever imports may do; None for whoever runs the program.
        now: The instant.
    """

    def find(texts: Sequence[str]) -> Mapping[str, tuple[Called, ...]]:
        teams = None if access is None else access.teams_for(Act.WRITE)
        policy = clinic().policy
        ids: dict[str, list[UUID]] = {}
        for row in caseload(now=now, with_discharged=True, team_ids=teams).rows:
            for name in (text_of(row.name, policy), str(row.family_id)):
                ids.setdefault(_plain(name), []).append(row.family_id)
        wanted = {text: ids.get(_plain(text), []) for text in texts}
        records = repository.read_many([one for found in wanted.values() for one in found])
        return {
            text: tuple(
                _called(records[one], now)
                for one in found
                if one in records and _is_called(records[one], text, now)
            )
            for text, found in wanted.items()
        }

    return find


def _plain(name: str) -> str:
    return " ".join(folded(name).split())


def _is_called(record: Record, text: str, now: datetime) -> bool:
    """Whether the record agrees: the list may not know yet that a family was renamed."""
    named = [
        entry.fact.name
        for entry in record.entries_at(now)
        if isinstance(entry.fact, Identity) and entry.infant_id is None
    ]
    own = {_plain(str(record.family_id)), *map(_plain, named[-1:])}
    return not named or _plain(text) in own


def _called(record: Record, now: datetime) -> Called:
    names = {
        entry.infant_id: entry.fact.name
        for entry in record.entries_at(now)
        if isinstance(entry.fact, Identity)
    }
    return Called(record=record, infants=by_name(names.items()))
