"""A whole family as a JSON file: written, read back, and every fault in it named at once.

The form is described in docs/reference/family-json.md and, for machines, in family.schema.json
beside this file, which is generated from the types below. Writing and reading back loses nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

import msgspec

from suffice.clinical.entry import Entry, Infant, Record
from suffice.clinical.structure import opening_problems, record_problems
from suffice.errors import InputError, Problem
from suffice.exchange.family.json_form import faults, parse, shown
from suffice.message import message

FORMAT: Literal["suffice family"] = "suffice family"
VERSION: Literal[2] = 2
"""What is written; 2 since bilirubin and signs are kinds of fact."""
READ: tuple[Literal[1], Literal[2]] = (1, 2)
"""What is read: a file of version 1 holds fewer kinds and reads as it did."""

Checker = Callable[[Record], Iterable[tuple[UUID, Problem]]]
"""What care finds implausible in a record: each problem with the id of the entry it is about."""


class FamilyHead(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The family itself, and when and by whom it was put on the record."""

    id: UUID
    opened_at: datetime
    opened_by: str

    def __post_init__(self) -> None:
        if self.opened_at.tzinfo is None:
            raise ValueError("an instant needs its offset from UTC")


class FamilyFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The JSON form of a family."""

    format: Literal["suffice family"] = FORMAT
    version: Literal[1, 2] = VERSION
    family: FamilyHead
    infants: tuple[Infant, ...]
    entries: tuple[Entry, ...]

    @classmethod
    def from_record(cls, record: Record, *, opened_at: datetime, opened_by: str) -> FamilyFile:
        """The file of a record."""
        head = FamilyHead(id=record.family_id, opened_at=opened_at, opened_by=opened_by)
        return cls(family=head, infants=record.infants, entries=record.entries)

    @property
    def record(self) -> Record:
        """The record that the file holds."""
        return Record(family_id=self.family.id, infants=self.infants, entries=self.entries)


class Decoded(msgspec.Struct, frozen=True, kw_only=True):
    """A family file fit to be imported, and the doubts to be confirmed first."""

    file: FamilyFile
    doubts: tuple[Problem, ...] = ()


_encoder = msgspec.json.Encoder()


def encode(file: FamilyFile) -> bytes:
    """The file as UTF-8 text, one entry to a line, so that two versions can be compared."""

    def lines(items: Iterable[Infant | Entry]) -> bytes:
        return b"".join(b",\n  " + _encoder.encode(item) for item in items)[1:]

    return (
        b'{\n "format": %b,\n "version": %d,\n "family": %b,\n "infants": [%b\n ],\n'
        b' "entries": [%b\n ]\n}\n'
        % (
            _encoder.encode(file.format),
            file.version,
            _encoder.encode(file.family),
            lines(file.infants),
            lines(file.entries),
        )
    )


def nothing_implausible(record: Record) -> Iterable[tuple[UUID, Problem]]:
    """A checker that finds every record plausible."""
    del record
    return ()


def decode(content: bytes, check: Checker = nothing_implausible) -> Decoded:
    """Read a family file.

    Args:
        content: The bytes of the file.
        check: Asked last, of a record that fits together, whether its values are plausible.

    Raises:
        InputError: JSON-001 to JSON-004, FAMILY-001 to FAMILY-003, RECORD-003 to RECORD-007,
            RECORD-011 and what `check` found that is more than a doubt; all problems of a stage at once, each with
            its place, such as ``entries[3].true_at``.
    """
    document = parse(content)
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise InputError(_not_a_family_file(document))
    version = document.get("version")
    if version not in READ or isinstance(version, bool):
        raise InputError(_unknown_version(version))
    try:
        file = msgspec.convert(document, FamilyFile)
    except (msgspec.ValidationError, OverflowError, ValueError) as error:
        found = faults(document, FamilyFile, "")
        raise InputError(*(found or [_unconvertible()])) from error
    if problems := _identities(file):
        raise InputError(*problems)
    return Decoded(file=file, doubts=_judge(file, check))


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a family file, generated from the types."""
    _, parts = msgspec.json.schema_components((FamilyFile,), ref_template="#/$defs/{name}")
    body = parts.pop("FamilyFile")
    body["required"] = ["format", "version", *body["required"]]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **body,
        "$defs": dict(sorted(parts.items())),
    }


def _judge(file: FamilyFile, check: Checker) -> tuple[Problem, ...]:
    """The doubts about a file whose every value could be read; raises what is worse."""
    number = {entry.id: index for index, entry in enumerate(file.entries)}

    def placed(found: Iterable[tuple[UUID, Problem]]) -> list[Problem]:
        return [problem.at(_place(number[key], str(problem.where))) for key, problem in found]

    if problems := placed(record_problems(file.record)):
        raise InputError(*problems)
    found = placed(check(file.record))
    if problems := [problem for problem in found if not problem.doubtful]:
        raise InputError(*problems)
    return tuple(found)


def _place(index: int, where: str) -> str:
    """Where a field of an entry, or of its fact, stands in the file."""
    if not where:
        return f"entries[{index}]"
    holder = "" if where in Entry.__struct_fields__ else "fact."
    return f"entries[{index}].{holder}{where}"


def _identities(file: FamilyFile) -> list[Problem]:
    """Ids that stand twice, and what is wrong with the opening of the family."""
    problems = []
    infant_ids = [infant.id for infant in file.infants]
    entry_ids = [entry.id for entry in file.entries]
    for key, ids in (("infants", infant_ids), ("entries", entry_ids)):
        times = Counter(ids)
        problems += [
            _key_given_twice(one, f"{key}[{index}].id")
            for index, one in enumerate(ids)
            if times[one] > 1
        ]
    opening = opening_problems(
        file.infants, opened_at=file.family.opened_at, opened_by=file.family.opened_by
    )
    return [*problems, *opening]


def _not_a_family_file(document: object) -> Problem:
    named = document.get("format") if isinstance(document, dict) else None
    return Problem(
        code="FAMILY-001",
        what=message("The file is not a family file."),
        why=message('Its "format" is {found}, not "{format}".', found=shown(named), format=FORMAT),
        fix=message("Choose a file that was exported here, or import a table as CSV."),
        where="format",
    )


def _unknown_version(version: object) -> Problem:
    return Problem(
        code="FAMILY-002",
        what=message("The file has version {version} of the family form.", version=shown(version)),
        why=message("This program reads versions 1 to {version}.", version=VERSION),
        fix=message("Use a newer version of the program. Nothing was imported."),
        where="version",
    )


def _key_given_twice(key: UUID, place: str) -> Problem:
    return Problem(
        code="FAMILY-003",
        what=message("The id {key} appears more than once.", key=str(key)),
        why=message("Each infant and each entry has an id of its own."),
        fix=message("Leave one of them out, or give it a new id."),
        where=place,
    )


def _unconvertible() -> Problem:
    return Problem(
        code="JSON-004",
        what=message("A value of the file cannot be read."),
        why=message("It does not have the form that the page on family files gives."),
        fix=message("Correct the value."),
    )
