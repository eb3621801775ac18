"""The families that a table names, of those that whoever imports it may write to."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from suffice.care.caseload.choosing import folded
from suffice.care.caseload.listing import caseload
from suffice.care.clinic.access import Access
from suffice.care.clinic.clinic import clinic
from suffice.care.clinic.roles import Act
from suffice.exchange.table.families import Families
from suffice.language.text import text_of


def families_called(access: Access | None, *, now: datetime) -> Families:
    """A function that finds families by their name as the list has it, or by their id.

    Case and spaces do not matter; a part of a name is not the name. An accent may be left out: then
    the name means every family that is called so with one or without. One that is written means
    those that have it, where there are any. Whether a family is not there or is another team's is not
    told apart.

    Args:
        access: What whoever imports may do; None for whoever runs the program.
        now: The instant.
    """

    def find(texts: Sequence[str]) -> Mapping[str, tuple[UUID, ...]]:
        teams = None if access is None else access.teams_for(Act.WRITE)
        policy = clinic().policy
        there: dict[str, list[tuple[str, UUID]]] = {}
        for row in caseload(now=now, with_discharged=True, team_ids=teams).rows:
            for name in (text_of(row.name, policy), str(row.family_id)):
                there.setdefault(_plain(name), []).append((name, row.family_id))
        return {text: _meant(text, there.get(_plain(text), [])) for text in texts}

    return find


def _plain(name: str) -> str:
    return " ".join(folded(name).split())


def _meant(text: str, there: Sequence[tuple[str, UUID]]) -> tuple[UUID, ...]:
    """Of the families whose name is the same without accents those that have each one that is written."""
    written = _letters(text)
    exact = [
        family_id
        for name, family_id in there
        if all(
            own in ("", mark) for (_, own), (_, mark) in zip(written, _letters(name), strict=False)
        )
    ]
    return tuple(exact or [family_id for _, family_id in there])


def _letters(name: str) -> list[tuple[str, str]]:
    """The letters of a name, each with its accents."""
    letters: list[tuple[str, str]] = []
    for one in unicodedata.normalize("NFKD", " ".join(name.casefold().split())):
        if unicodedata.combining(one) and letters:
            letters[-1] = (letters[-1][0], letters[-1][1] + one)
        else:
            letters.append((one, ""))
    return letters
