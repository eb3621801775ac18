"""What a family and its infants are called."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Final
from uuid import UUID

import msgspec

from suffice.clinical.entry import (
    Birth,
    Entry,
    Identity,
    Record,
    Withdrawal,
    about,
    count_until,
    kind_of,
    standing,
)
from suffice.message import Listed, Words, message

NAMING: Final = tuple(kind_of(one) for one in (Identity, Birth, Withdrawal))
"""Kinds of the entries from which :func:`called` is told."""


class CalledInfant(msgspec.Struct, frozen=True, kw_only=True):
    """An infant by its name, and when it was born; None where that is not known."""

    infant_id: UUID
    position: int
    name: Words
    born_at: datetime | None


class Called(msgspec.Struct, frozen=True, kw_only=True):
    """What a family is called on the list, and each of its infants, in order of position."""

    family: Words
    infants: tuple[CalledInfant, ...]


def called(record: Record, as_of: datetime) -> Called:
    """What a family is called.

    Args:
        record: The record, or what it has of the kinds in NAMING.
        as_of: The instant.
    """
    every = standing(record.entries)
    until = count_until(every, as_of)
    names = names_among(every[:until], every[until:])
    infants = tuple(
        CalledInfant(
            infant_id=one.id,
            position=one.position,
            name=infant_name(about(names, one.id), one.position),
            born_at=_born_at(about(every[:until], one.id)),
        )
        for one in sorted(record.infants, key=lambda one: one.position)
    )
    return Called(family=family_name(names, [one.name for one in infants]), infants=infants)


def names_among(entries: Iterable[Entry], later: Sequence[Entry]) -> tuple[Entry, ...]:
    """The names that hold, the last of each last; what nobody was called yet is called by the first to come.

    A name is no finding: who asks as of a time before the family was opened knows whom she asks
    about.

    Args:
        entries: The entries that stand and are true by the instant of the question, in order.
        later: Those that are true only after it.
    """
    to_come = (one for one in reversed(later) if type(one.fact) is Identity)
    return (*to_come, *(one for one in entries if type(one.fact) is Identity))


def infant_name(entries: Iterable[Entry], position: int) -> Words:
    """What an infant is called, by the names that hold of it; by its number where it has none."""
    return _last(entries) or message("Infant {position}", position=position)


def family_name(entries: Sequence[Entry], infants: Sequence[Words]) -> Words:
    """What a family is called on the list: by the parent's name, else by the infants'."""
    own = _last(about(entries, None))
    if own or not infants:
        return own
    if all(isinstance(one, str) for one in infants):
        return ", ".join(str(one) for one in infants)
    return message("{names}", names=Listed(tuple(infants)))


def _born_at(entries: Iterable[Entry]) -> datetime | None:
    births = [entry.true_at for entry in entries if type(entry.fact) is Birth]
    return births[-1] if births else None


def _last(entries: Iterable[Entry]) -> str:
    names = [entry.fact.name for entry in entries if type(entry.fact) is Identity]
    return names[-1] if names else ""
