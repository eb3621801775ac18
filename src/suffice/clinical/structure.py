"""Whether entries fit together: who a fact is about, and what may replace what.

Plausibility (is 3250 g possible?) is another question, asked in clinical.plausibility. The record
refuses entries that fail here, and so does the reader of family files.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from uuid import UUID

import msgspec

from suffice.clinical.entry import Entry, Infant, Record, Withdrawal, kind_of
from suffice.errors import Problem
from suffice.message import Message, Words, message

EARLIEST = datetime(1900, 1, 1, tzinfo=UTC)
LATEST = datetime(2200, 1, 1, tzinfo=UTC)
LARGEST = 2**53
"""Beyond it, a reader of JSON may take a whole number for its neighbour."""


def subject_problem(entry: Entry, infant_ids: Iterable[UUID]) -> Problem | None:
    """What is wrong with whom the entry is about, if anything."""
    name = entry.fact.declared.name
    if entry.infant_id is not None and entry.infant_id not in set(infant_ids):
        return Problem(
            code="RECORD-006",
            what=message(
                "The {kind} entry {id} is about infant {infant_id}.",
                kind=name,
                id=str(entry.id),
                infant_id=str(entry.infant_id),
            ),
            why=message("That infant does not belong to this family."),
            fix=message("Name an infant of the family, or open the family with that infant first."),
            where="infant_id",
        )
    whose = entry.fact.declared.about
    if whose == "either" or (whose == "infant") == (entry.infant_id is not None):
        return None
    if entry.infant_id is None:
        return Problem(
            code="RECORD-006",
            what=message("The {kind} entry {id} names no infant.", kind=name, id=str(entry.id)),
            why=message("This kind of fact, {kind}, is about one infant.", kind=name),
            fix=message("Say which infant it is about."),
            where="infant_id",
        )
    return Problem(
        code="RECORD-006",
        what=message("The {kind} entry {id} names an infant.", kind=name, id=str(entry.id)),
        why=message("This kind of fact, {kind}, is about the parent or the family.", kind=name),
        fix=message("Leave the infant out."),
        where="infant_id",
    )


def replacement_problem(
    new: Entry, old: Entry | None, withdrawn: Entry | None = None
) -> Problem | None:
    """What is wrong with `new` replacing `old`, if anything.

    Args:
        new: The entry that may name one that it replaces.
        old: The entry so named; None when there is none in this family.
        withdrawn: Where `old` is itself a withdrawal, the entry that it withdrew.
    """
    kind, name = kind_of(new.fact), new.fact.declared.name
    if new.replaces is None:
        if not isinstance(new.fact, Withdrawal):
            return None
        return Problem(
            code="RECORD-003",
            what=message("The withdrawal {id} names no entry.", id=str(new.id)),
            why=message("A withdrawal says which entry was made in error."),
            fix=message("Put the id of that entry in 'replaces'."),
            where="replaces",
        )
    if old is None:
        return Problem(
            code="RECORD-003",
            what=message(
                "The {kind} entry {id} replaces {replaces}.",
                kind=name,
                id=str(new.id),
                replaces=str(new.replaces),
            ),
            why=message("This family has no such entry."),
            fix=message("Name an entry of the same family, or leave 'replaces' out."),
            where="replaces",
        )
    if old.fact.declared.is_final:
        return _final(old)
    expected = kind_of(withdrawn.fact) if withdrawn is not None else kind_of(old.fact)
    withdraws = isinstance(new.fact, Withdrawal) and not isinstance(old.fact, Withdrawal)
    if new.infant_id != old.infant_id or (kind != expected and not withdraws):
        return Problem(
            code="RECORD-005",
            what=message(
                "The {kind} entry {id} replaces a {old_kind} entry ({old_id}).",
                kind=name,
                id=str(new.id),
                old_kind=old.fact.declared.name,
                old_id=str(old.id),
            ),
            why=message(
                "A correction keeps the kind and the infant of the entry that it replaces."
            ),
            fix=message("Withdraw the old entry, saying why, and add the new one on its own."),
            where="replaces",
        )
    return None


def _final(old: Entry) -> Problem:
    return Problem(
        code="RECORD-013",
        what=message(
            "The {kind} entry {id} was signed.", kind=old.fact.declared.name, id=str(old.id)
        ),
        why=message("What was signed is never corrected or withdrawn."),
        fix=message("Add an amendment to the note that says what is otherwise."),
        where="replaces",
    )


def storable_problem(entry: Entry) -> Problem | None:
    """Whether some value cannot be kept and read back as it is: infinite, NUL, far off in time."""
    whose = message("the {kind} entry {id}", kind=entry.fact.declared.name, id=str(entry.id))
    for name in ("true_at", "entered_at"):
        if not EARLIEST <= getattr(entry, name) <= LATEST:
            return _unstorable(whose, name, f"{getattr(entry, name).isoformat()}", _INSTANTS)
    values: dict[str, object] = {"entered_by": entry.entered_by, "device": entry.device}
    values.update(msgspec.structs.asdict(entry.fact))
    for name, value in values.items():
        if isinstance(value, float) and not math.isfinite(value):
            return _unstorable(whose, name, str(value), _NUMBERS)
        if isinstance(value, str) and ("\x00" in value or not _encodable(value)):
            return _unstorable(whose, name, repr(value[:40]), _TEXTS)
        if isinstance(value, int) and abs(value) > LARGEST:
            return _unstorable(
                whose, name, message("a whole number of more than 15 digits"), _NUMBERS
            )
        if isinstance(value, datetime) and (
            value.tzinfo is None or not EARLIEST <= value <= LATEST
        ):
            return _unstorable(whose, name, value.isoformat(), _INSTANTS)
    return None


def _encodable(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


_INSTANTS = message("Times must be between 1900 and 2200 and give their offset from UTC.")
_NUMBERS = message("Numbers are finite and have at most 15 digits.")
_TEXTS = message("Text has no NUL character and no half of a two-part character.")


def _unstorable(whose: Message, name: str, value: Words, why: Message) -> Problem:
    return Problem(
        code="RECORD-007",
        what=message("{name} of {whose} is {value}.", name=name, whose=whose, value=value),
        why=why,
        fix=message("Correct the value and enter it again."),
        where=name,
    )


def opening_problems(
    infants: Sequence[Infant], *, opened_at: datetime, opened_by: str
) -> list[Problem]:
    """What is wrong with the infants of a family, and with when and by whom it was opened."""
    problems = []
    positions = sorted(infant.position for infant in infants)
    distinct = len({infant.id for infant in infants}) == len(infants)
    if not positions or positions != list(range(1, len(positions) + 1)) or not distinct:
        problems.append(
            Problem(
                code="RECORD-011",
                what=message(
                    "The infants of the family have the positions {positions}.",
                    positions=str(positions),
                ),
                why=message(
                    "A family has an infant at least, each its own id; the first-born is 1."
                ),
                fix=message("Number the infants 1, 2, 3 in the order of their birth."),
                where="infants",
            )
        )
    if opened_at.tzinfo is None or not EARLIEST <= opened_at <= LATEST:
        problems.append(
            _unstorable(message("the family"), "opened_at", opened_at.isoformat(), _INSTANTS)
        )
    if "\x00" in opened_by or not _encodable(opened_by):
        problems.append(
            _unstorable(message("the family"), "opened_by", repr(opened_by[:40]), _TEXTS)
        )
    return problems


def record_problems(record: Record) -> tuple[tuple[UUID, Problem], ...]:
    """All that does not fit together in a whole record, each with the id of its entry."""
    by_id = {entry.id: entry for entry in record.entries}
    found: list[tuple[UUID, Problem]] = []
    taken: dict[UUID, UUID] = {}
    infant_ids = {infant.id for infant in record.infants}
    for entry in record.entries:
        old, withdrawn = replaced(entry, by_id)
        problems = [
            subject_problem(entry, infant_ids),
            replacement_problem(entry, old, withdrawn),
            storable_problem(entry),
        ]
        if entry.replaces is not None:
            if entry.replaces in taken:
                problems.append(second_replacement(entry, taken[entry.replaces]))
            taken.setdefault(entry.replaces, entry.id)
        found += [(entry.id, problem) for problem in problems if problem is not None]
    found += [(entry_id, _circle(by_id[entry_id])) for entry_id in _circular(by_id)]
    return tuple(found)


def replaced(entry: Entry, by_id: Mapping[UUID, Entry]) -> tuple[Entry | None, Entry | None]:
    """The entry that this one replaces and, where that is a withdrawal, what it withdrew."""
    old = by_id.get(entry.replaces) if entry.replaces is not None else None
    if old is None or not isinstance(old.fact, Withdrawal) or old.replaces is None:
        return old, None
    return old, by_id.get(old.replaces)


def second_replacement(entry: Entry, newest: UUID) -> Problem:
    """The problem of an entry that replaces one which `newest` has replaced already."""
    return Problem(
        code="RECORD-004",
        what=message(
            "The {kind} entry {id} replaces {replaces}.",
            kind=entry.fact.declared.name,
            id=str(entry.id),
            replaces=str(entry.replaces),
        ),
        why=message("That entry was replaced already, by {newest}.", newest=str(newest)),
        fix=message("Look at the newer entry, and replace that one if it is wrong too."),
        where="replaces",
    )


def oldest_first(entries: Iterable[Entry]) -> list[Entry]:
    """The entries in the order given, except that each comes after the one it replaces.

    Entries in a circle of replacements, which no record holds, are left out.
    """
    waiting = {entry.id: entry for entry in entries}
    ordered: list[Entry] = []
    done: set[UUID] = set()
    for first in waiting.values():
        chain: dict[UUID, Entry] = {}
        entry: Entry | None = first
        while entry is not None and entry.id not in done and entry.id not in chain:
            chain[entry.id] = entry
            entry = waiting.get(entry.replaces) if entry.replaces is not None else None
        if entry is None or entry.id in done:
            ordered += reversed(chain.values())
            done.update(chain)
    return ordered


def _circular(by_id: Mapping[UUID, Entry]) -> list[UUID]:
    fine = {entry.id for entry in oldest_first(by_id.values())}
    return [entry_id for entry_id in by_id if entry_id not in fine]


def _circle(entry: Entry) -> Problem:
    return Problem(
        code="RECORD-003",
        what=message(
            "The {kind} entry {id} replaces {replaces}.",
            kind=entry.fact.declared.name,
            id=str(entry.id),
            replaces=str(entry.replaces),
        ),
        why=message("Followed on, that leads back to the same entry."),
        fix=message("A correction names an entry that was made before it."),
        where="replaces",
    )
