"""What the rows of a table tell, put together into one record for each family."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

import msgspec

from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Birth,
    Entry,
    Identity,
    Infant,
    Note,
    Record,
    Weight,
)
from suffice.clinical.entry.field import fields_of
from suffice.clinical.structure import record_problems
from suffice.errors import Problem
from suffice.exchange.family.family_json import Checker
from suffice.exchange.table.columns import meaning
from suffice.exchange.table.options import CsvOptions
from suffice.exchange.table.rows import RowFacts, at_age
from suffice.language.catalogue import translated
from suffice.language.terms import whose
from suffice.message import Instant, Number, Param, Words, message

NAMESPACE = UUID("0b6d8a4e-5f0e-4b7a-9d53-7c1f6f3f2a51")
"""Of all ids that are made from the content of a table."""

DECLARED_BIRTH = message(
    "Imported from a table that gives ages, not dates. The time of the birth was declared for it;"
    " all dates are counted from there and are not real."
)
"""The note beside a birth that the file does not tell."""

Known = Callable[[Sequence[UUID]], Mapping[UUID, Record]]
"""The records of those of some families that are on the record already."""

Numbered = tuple[int, Problem]
"""A problem with the number of its row."""


class Assembled(msgspec.Struct, frozen=True, kw_only=True):
    """The records, with the entries of the file that are not on the record yet."""

    records: tuple[Record, ...]
    problems: tuple[Numbered, ...]
    doubts: tuple[Problem, ...]
    repeated_count: int


class _Draft(msgspec.Struct, kw_only=True):
    """A family in the making."""

    family_id: UUID
    infants: tuple[Infant, ...]
    known: Record
    texts: dict[UUID, str]
    rows: list[tuple[Infant, RowFacts]]
    is_cohort: bool


class _Attempt(msgspec.Struct, kw_only=True):
    """One assembling of a draft's rows: entries with the rows that they come from."""

    entries: dict[UUID, Entry] = {}
    row_of: dict[UUID, int] = {}
    whole_infant: set[UUID] = set()
    """Entries that are about an infant as a whole, such as its birth."""
    problems: list[tuple[UUID | None, Numbered]] = []
    """Each with the infant that must be left out whole, if any."""


class Assembler:
    """Puts rows together; see :meth:`assemble`."""

    def __init__(
        self, options: CsvOptions, family: Record | None, check: Checker, known: Known
    ) -> None:
        self._options = options
        self._family = family
        self._check = check
        self._known = known

    def assemble(
        self, groups: Mapping[str, list[RowFacts]], progress: Callable[[int, int], None]
    ) -> Assembled:
        """One record for a cohort's infant each, or one for the family.

        Args:
            groups: The rows by the text of their infant column.
            progress: Called with (rows done, rows) after each family.
        """
        records: list[Record] = []
        problems: list[Numbered] = []
        doubts: list[Problem] = []
        repeated = 0
        drafts = self._drafts(groups, problems)
        done, total = 0, sum(len(draft.rows) for draft in drafts)
        for draft in drafts:
            progress(done, total)
            done += len(draft.rows)
            attempt, found = self._settled(draft)
            doubtful = [one for one in found if one[1].doubtful]
            accepted = self._options.accept_doubtful
            problems += [one for one in found if not (accepted and one[1].doubtful)]
            doubts += [problem for _, problem in doubtful if accepted]
            there = {entry.id for entry in draft.known.entries}
            new = tuple(entry for key, entry in attempt.entries.items() if key not in there)
            repeated += len(attempt.entries) - len(new)
            if new:
                records.append(
                    Record(family_id=draft.family_id, infants=draft.infants, entries=new)
                )
        progress(total, total)
        return Assembled(
            records=tuple(records),
            problems=tuple(problems),
            doubts=tuple(doubts),
            repeated_count=repeated,
        )

    def _drafts(
        self, groups: Mapping[str, list[RowFacts]], problems: list[Numbered]
    ) -> list[_Draft]:
        for rows in groups.values():
            problems += [(row.number, one) for row in rows for one in row.problems]
        sound = {text: [row for row in rows if not row.problems] for text, rows in groups.items()}
        if self._family is not None:
            return [self._family_draft(self._family, sound, problems)]
        ids = {text: uuid5(NAMESPACE, f"{self._options.source}|{text}") for text in sound}
        known = self._known(list(ids.values()))
        return [
            self._cohort_draft(ids[text], text, rows, known.get(ids[text]))
            for text, rows in sound.items()
            if rows
        ]

    def _cohort_draft(
        self, family_id: UUID, text: str, rows: list[RowFacts], known: Record | None
    ) -> _Draft:
        if known is None:
            infant = Infant(id=uuid5(family_id, "infant"), position=1)
            known = Record(family_id=family_id, infants=(infant,))
        infant = known.infants[0]
        return _Draft(
            family_id=family_id,
            infants=known.infants,
            known=known,
            texts={infant.id: text},
            rows=[(infant, row) for row in rows],
            is_cohort=True,
        )

    def _family_draft(
        self, family: Record, sound: Mapping[str, list[RowFacts]], problems: list[Numbered]
    ) -> _Draft:
        by_text = {str(infant.position): infant for infant in family.infants}
        by_id = {infant.id: infant for infant in family.infants}
        by_text.update(
            {text: by_id[key] for text, key in self._options.infants.items() if key in by_id}
        )
        if len(family.infants) == 1:
            by_text.setdefault("", family.infants[0])
        rows: list[tuple[Infant, RowFacts]] = []
        for text, rows_of_infant in sound.items():
            if text in by_text:
                rows += [(by_text[text], row) for row in rows_of_infant]
            else:
                problems += [
                    (row.number, _unknown_infant(text, row.number)) for row in rows_of_infant
                ]
        texts = {infant.id: text for text, infant in by_text.items()}
        return _Draft(
            family_id=family.family_id,
            infants=family.infants,
            known=family,
            texts=texts,
            rows=sorted(rows, key=lambda row: row[1].number),
            is_cohort=False,
        )

    def _settled(self, draft: _Draft) -> tuple[_Attempt, list[Numbered]]:
        """The entries that can be imported, and every problem on the way.

        Where bad rows are left out, what is left is judged again until nothing bad is in it: a
        weight may be doubtful only beside another one.
        """
        problems: dict[Numbered, None] = {}
        while True:
            attempt = self._attempt(draft)
            self._judge(draft, attempt)
            problems.update(dict.fromkeys(numbered for _, numbered in attempt.problems))
            bad = [
                (infant_id, number)
                for infant_id, (number, problem) in attempt.problems
                if self._options.leaves_out(problem)
            ]
            if not bad:
                return attempt, list(problems)
            out = {infant_id for infant_id, _ in bad if infant_id is not None}
            numbers = {number for infant_id, number in bad if infant_id is None}
            draft.rows = [
                (infant, row)
                for infant, row in draft.rows
                if infant.id not in out and row.number not in numbers
            ]

    def _attempt(self, draft: _Draft) -> _Attempt:
        attempt = _Attempt(entries={}, row_of={}, whole_infant=set(), problems=[])
        by_infant: dict[UUID, list[RowFacts]] = {}
        for infant, row in draft.rows:
            by_infant.setdefault(infant.id, []).append(row)
        for infant_id, rows in by_infant.items():
            born_at = self._birth(draft, infant_id, rows, attempt)
            if draft.is_cohort and self._options.source:
                self._name(draft, infant_id, rows, born_at, attempt)
            times: dict[str, int] = {}
            for row in rows:
                self._row(infant_id, row, born_at, times, attempt)
        return attempt

    def _row(
        self,
        infant_id: UUID,
        row: RowFacts,
        born_at: datetime | None,
        times: dict[str, int],
        attempt: _Attempt,
    ) -> None:
        true_at = row.true_at
        if true_at is None and row.age_h is not None and born_at is not None:
            true_at = at_age(born_at, row.age_h)
        for fact, basis in row.facts:
            if true_at is None:
                attempt.problems.append((None, (row.number, _no_birth(row.number))))
                return
            content = f"{true_at.isoformat()}|{basis}|{row.device}|{_encode(fact)}"
            times[content] = times.get(content, 0) + 1
            if times[content] > 1:
                attempt.problems.append((None, (row.number, _repeated(row.number))))
            key = uuid5(infant_id, f"{content}|{times[content]}")
            of = None if whose(fact) == "parent" else infant_id
            self._enter(attempt, key, row.number, fact, basis, true_at, of, row.device)

    def _enter(
        self,
        attempt: _Attempt,
        key: UUID,
        number: int,
        fact: AnyFact,
        basis: Basis,
        true_at: datetime,
        infant_id: UUID | None,
        device: str | None = None,
    ) -> None:
        attempt.row_of[key] = number
        attempt.entries[key] = Entry(
            id=key,
            fact=fact,
            basis=basis,
            true_at=true_at,
            entered_at=self._options.entered_at,
            entered_by=self._options.entered_by,
            infant_id=infant_id,
            device=device,
        )

    def _birth(
        self, draft: _Draft, infant_id: UUID, rows: list[RowFacts], attempt: _Attempt
    ) -> datetime | None:
        """The instant of birth; a birth entry is made where the file tells of one."""
        stated: dict[str, tuple[Any, int]] = {}
        for row in rows:
            for name, value in {"born_at": row.born_at, **row.birth}.items():
                if value is None:
                    continue
                first, number = stated.setdefault(name, (value, row.number))
                if first != value:
                    problem = self._differs(
                        name, value, first, message("row {number}", number=number), row.number
                    )
                    attempt.problems.append((infant_id, (row.number, problem)))
        key, note_key = uuid5(infant_id, "birth"), uuid5(infant_id, "declared birth")
        recorded = _recorded_birth(draft.known, infant_id)
        if recorded is not None:
            ours = [entry for entry in draft.known.entries if entry.id in {key, note_key}]
            for entry in ours:
                attempt.entries[entry.id] = entry
                attempt.row_of[entry.id] = rows[0].number
            if not ours:
                self._compare(recorded, stated, infant_id, attempt)
            return recorded.true_at
        declared = self._options.born_at
        born_at = stated["born_at"][0] if "born_at" in stated else declared
        if born_at is None:
            return None
        facts = {name: value for name, (value, _) in stated.items() if name != "born_at"}
        if self._options.first_is_birth_weight and "birth_weight_g" not in facts:
            facts.update(_weight_at_birth(rows, born_at))
        fact = Birth(zone=self._options.zone, **facts)
        number = rows[0].number
        self._enter(attempt, key, number, fact, Basis.REPORTED, born_at, infant_id)
        attempt.whole_infant.add(key)
        if "born_at" not in stated:
            note = Note(text=translated(DECLARED_BIRTH.template, self._options.language))
            self._enter(attempt, note_key, number, note, Basis.REPORTED, born_at, infant_id)
        return born_at

    def _compare(
        self,
        recorded: Entry,
        stated: Mapping[str, tuple[Any, int]],
        infant_id: UUID,
        attempt: _Attempt,
    ) -> None:
        """A problem for each birth fact of the file that is another one on the record."""
        on_record = {**msgspec.structs.asdict(recorded.fact), "born_at": recorded.true_at}
        for name, (value, number) in stated.items():
            if on_record[name] is not None and on_record[name] != value:
                problem = self._differs(name, value, on_record[name], message("the record"), number)
                attempt.problems.append((infant_id, (number, problem)))

    def _differs(
        self, name: str, value: object, other: object, whose: Words, number: int
    ) -> Problem:
        """The problem of a birth fact that is given in two ways."""

        def shown(one: object) -> Param:
            if not isinstance(one, datetime):
                return Number(one) if isinstance(one, float) else str(one)
            return Instant(one, year=True)

        return Problem(
            code="CSV-047",
            what=message(
                "The row says, of {field}: {value}.", field=_named(Birth, name), value=shown(value)
            ),
            why=message(
                "In {whose} it is {value}, and an infant is born once.",
                value=shown(other),
                whose=whose,
            ),
            fix=message(
                "Correct the one that is wrong; correct the record by an entry of its own."
            ),
            where=message("row {number}", number=number),
        )

    def _name(
        self,
        draft: _Draft,
        infant_id: UUID,
        rows: list[RowFacts],
        born_at: datetime | None,
        attempt: _Attempt,
    ) -> None:
        """Calls the family by its source and number until somebody gives it a name."""
        instants = [row.true_at for row in rows if row.true_at is not None]
        since = born_at or min(instants, default=None)
        if since is not None:
            name = f"{self._options.source} {draft.texts[infant_id]}".strip()
            key = uuid5(infant_id, "name")
            fact = Identity(name=name)
            self._enter(attempt, key, rows[0].number, fact, Basis.REPORTED, since, None)

    def _judge(self, draft: _Draft, attempt: _Attempt) -> None:
        """Adds what does not fit together, and what the checker finds of what does."""
        there = {entry.id for entry in draft.known.entries}
        new = tuple(entry for key, entry in attempt.entries.items() if key not in there)
        if not new:
            return
        record = msgspec.structs.replace(draft.known, entries=(*draft.known.entries, *new))
        for key, problem in record_problems(record) or tuple(self._check(record)):
            entry = attempt.entries.get(key)
            if entry is None or key in there:
                continue
            number = attempt.row_of[key]
            where = message("row {number}", number=number)
            if problem.where:
                field = _named(type(entry.fact), str(problem.where))
                where = message("row {number}, {field}", number=number, field=field)
            whole = entry.infant_id if key in attempt.whole_infant else None
            if whole is not None:
                where = message(
                    "{place} of infant '{infant}' and all its rows",
                    place=where,
                    infant=draft.texts.get(whole, ""),
                )
            attempt.problems.append((whole, (number, problem.at(where))))


def _encode(fact: AnyFact) -> str:
    return msgspec.json.encode(fact).decode()


def _recorded_birth(known: Record, infant_id: UUID) -> Entry | None:
    replaced = {entry.replaces for entry in known.entries}
    births = [
        entry
        for entry in known.entries
        if isinstance(entry.fact, Birth)
        and entry.infant_id == infant_id
        and entry.id not in replaced
    ]
    return births[-1] if births else None


def _weight_at_birth(rows: Sequence[RowFacts], born_at: datetime) -> dict[str, float]:
    for row in rows:
        if row.age_h == 0 or row.true_at == born_at:
            for fact, _ in row.facts:
                if isinstance(fact, Weight):
                    return {"birth_weight_g": fact.weight_g}
    return {}


def _unknown_infant(text: str, number: int) -> Problem:
    return Problem(
        code="CSV-044",
        what=message("The row is about infant '{text}'.", text=text),
        why=message("The family has none of that name or number, or several of that name."),
        fix=message("Write 1 for the first-born, 2 for the second, or say which infant is meant."),
        where=message("row {number}", number=number),
    )


def _no_birth(number: int) -> Problem:
    return Problem(
        code="CSV-045",
        what=message("The row gives an age, and the infant's birth is not known."),
        why=message("An age becomes a date and time only from the time of birth."),
        fix=message("Fill in the birth date of this infant."),
        where=message("row {number}", number=number),
    )


def _repeated(number: int) -> Problem:
    return Problem(
        code="CSV-046",
        what=message("The row says the same as an earlier one of the same infant and time."),
        why=message("It may be a second feed or diaper, or the same one twice."),
        fix=message("Confirm it, or leave the row out."),
        where=message("row {number}", number=number),
        doubtful=True,
    )


def _named(kind: type[AnyFact], field: str) -> Words:
    """A field of an entry as the columns of a table call it."""
    if field in _NAMES:
        return _NAMES[field]
    declared = fields_of(kind).get(field)
    if declared is None:
        return field
    column = declared.column.partition("|")[0]
    return meaning(column) if column else declared.label


_NAMES = {
    "true_at": message("time"),
    "born_at": message("time of birth"),
    "infant_id": message("infant"),
    "entered_by": message("entered by"),
    "replaces": message("replaces"),
    "device": message("device"),
}
