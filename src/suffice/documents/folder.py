"""The papers of a family: which there are, and each of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal
from uuid import UUID

import msgspec

from suffice.assess.problems import NamedProblems
from suffice.clinical.entry import (
    Amendment,
    Entry,
    ProblemStatus,
    Record,
    SignedNote,
    standing,
)
from suffice.documents.day_sheet import day_sheet, has_days
from suffice.documents.discharge import discharge
from suffice.documents.frame import Source, plan_of
from suffice.documents.home_log import home_log
from suffice.documents.kept import kept_paper
from suffice.documents.letter import is_asked_for, letter
from suffice.documents.note import NotedContact, note
from suffice.documents.page import Paper
from suffice.documents.plan_page import plan_page
from suffice.documents.signed_note import Later, amended, changed_of
from suffice.documents.sources import Scope, with_sources
from suffice.documents.teaching_sheet import sheets_for, teaching_sheet

PaperKind = Literal[
    "letter", "plan", "days", "note", "signed", "amended", "discharge", "log", "sheet"
]
CITED: Final = frozenset({"letter", "note", "discharge"})
"""Papers for clinicians, which can be asked for with their sources."""
STILL_OPEN: Final = frozenset({"open", "better"})
"""What was decided of a problem that is not over."""


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """One paper that can be made.

    Attributes:
        kind: Which paper.
        whose: Whom it is about; None for the parent or the family.
        is_asked_for: Whether something flagged asks for it.
        sheet: Of a teaching sheet its key.
        is_wanted: Of a teaching sheet whether it goes with an open problem.
        entry_id: Of a signed note its entry.
    """

    kind: PaperKind
    whose: UUID | None
    is_asked_for: bool = False
    sheet: str = ""
    is_wanted: bool = False
    entry_id: UUID | None = None


class Signed(msgspec.Struct, frozen=True, kw_only=True):
    """A note that was signed, with what came after it."""

    entry: Entry
    fact: SignedNote
    later: Later


class Folder(msgspec.Struct, frozen=True, kw_only=True):
    """What the papers of one family are made from; `is_cited`: those for clinicians with their sources."""

    record: Record
    source: Source
    problems: dict[UUID, NamedProblems]
    contact: NotedContact | None = None
    is_cited: bool = False

    def offers(self) -> Iterator[Offer]:
        """The papers of this family, a letter that something asks for first; none about an infant that has died."""
        people: list[UUID | None] = [one.infant_id for one in self.source.living]
        letters = [
            Offer(kind="letter", whose=whose, is_asked_for=is_asked_for(self.source, whose))
            for whose in (*people, None)
        ]
        yield from (one for one in letters if one.is_asked_for)
        for whose in people:
            if plan_of(self.source, whose) is not None:
                yield Offer(kind="plan", whose=whose)
            if has_days(self.source, whose):
                yield Offer(kind="days", whose=whose)
            yield Offer(kind="log", whose=whose)
        if self.contact is not None and not self._is_signed(self.contact):
            yield Offer(kind="note", whose=None)
        for one in reversed(self.signed()):
            if one.later:
                yield Offer(kind="amended", whose=None, entry_id=one.entry.id)
            yield Offer(kind="signed", whose=None, entry_id=one.entry.id)
        if self.source.assessment.discharged:
            yield Offer(kind="discharge", whose=None)
        yield from (one for one in letters if not one.is_asked_for)
        if not self.source.assessment.discharged:
            yield Offer(kind="discharge", whose=None)
        yield from self._sheets()

    def signed(self) -> tuple[Signed, ...]:
        """The notes that were signed, the earliest first, each with what was added since."""
        entries = self.record.entries
        return tuple(
            Signed(
                entry=one,
                fact=one.fact,
                later=Later(
                    amendments=tuple(
                        each
                        for each in standing(entries)
                        if isinstance(each.fact, Amendment) and each.fact.note_id == one.id
                    ),
                    changed=changed_of(one.fact.rests_on, entries),
                ),
            )
            for one in standing(entries)
            if isinstance(one.fact, SignedNote)
        )

    def _is_signed(self, contact: NotedContact) -> bool:
        return any(one.fact.contact_id == contact.id for one in self.signed())

    def _sheets(self) -> Iterator[Offer]:
        """The teaching sheets, those that go with an open problem first."""
        given = sheets_for(self.source, self.open_problems())
        for key in (*given.first, *given.others):
            yield Offer(kind="sheet", whose=None, sheet=key, is_wanted=key in given.first)

    def open_problems(self) -> frozenset[str]:
        """Keys of what is named of anybody and of what was decided to be open; never what is over."""
        found: set[str] = set()
        for infant_id, one in self.problems.items():
            decided = {
                entry.fact.problem: entry.fact.status
                for entry in self.source.entries
                if isinstance(entry.fact, ProblemStatus) and entry.infant_id in {infant_id, None}
            }
            found |= {key for key, status in decided.items() if status in STILL_OPEN}
            found |= {each.key for each in one.named if decided.get(each.key, "open") in STILL_OPEN}
        return frozenset(found)

    def paper(self, offer: Offer) -> Paper:
        """One of them."""
        made = self._paper(offer)
        return self.cited(made, offer) if offer.kind in CITED else made

    def cited(self, paper: Paper, offer: Offer) -> Paper:
        """A paper for clinicians with its sources behind it, where they are asked for."""
        if not self.is_cited:
            return paper
        infants = (one.infant_id for one in self.source.assessment.infants)
        people = {offer.whose} if offer.kind == "letter" else {None, *infants}
        scope = Scope(frozenset(people), has_steps=offer.kind == "note")
        return with_sources(paper, self.source, self.problems, scope)

    def _paper(self, offer: Offer) -> Paper:
        if offer.kind == "sheet":
            return teaching_sheet(self.source, offer.sheet)
        if offer.kind == "plan" and offer.whose is not None:
            return plan_page(self.source, offer.whose)
        if offer.kind == "days" and offer.whose is not None:
            return day_sheet(self.source, offer.whose)
        if offer.kind == "log" and offer.whose is not None:
            return home_log(self.source, offer.whose)
        if offer.kind == "discharge":
            return discharge(self.source)
        if offer.kind == "note" and self.contact is not None:
            return note(self.source, self.contact, self.problems).paper
        if offer.entry_id is not None:
            return self._signed_paper(offer)
        return letter(self.source, offer.whose, self._problems(offer.whose))

    def _signed_paper(self, offer: Offer) -> Paper:
        """A note as it was signed, or the same with what was added since."""
        one = next(each for each in self.signed() if each.entry.id == offer.entry_id)
        digest = "" if one.fact.origin is None else one.fact.origin.digest
        kept = kept_paper(one.fact.words, digest)
        if offer.kind == "signed":
            return kept
        policy = msgspec.structs.replace(self.source.policy, language=kept.language)
        return amended(msgspec.structs.replace(self.source, policy=policy), kept, one.later)

    def _problems(self, whose: UUID | None) -> NamedProblems | None:
        """The problems of an infant with its parent; those of the parent stand with any infant."""
        if whose is not None:
            return self.problems.get(whose)
        return next(iter(self.problems.values()), None)
