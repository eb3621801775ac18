"""A family file as it will be imported, and how an import goes or ended."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

import msgspec

from suffice.care import jobs
from suffice.care.family.transfer import FamilyPreview
from suffice.clinical.entry import Birth
from suffice.errors import Problem
from suffice.knowledge.policy import Policy
from suffice.language.kinds import KINDS
from suffice.web.fields.spoken import problem_text
from suffice.web.shown.people import names_of
from suffice.web.shown.wording import as_heading, in_words


class ShownProblem(msgspec.Struct, frozen=True, kw_only=True):
    """A problem as a page lists it."""

    code: str
    words: str
    where: str


def problems_shown(problems: Sequence[Problem]) -> tuple[ShownProblem, ...]:
    """The first problems, in the language of the page."""
    return tuple(
        ShownProblem(code=one.code, words=problem_text(one), where=in_words(one.where))
        for one in problems[: jobs.PROBLEMS_KEPT]
    )


class ImportPage(msgspec.Struct, frozen=True, kw_only=True):
    """What the page shows of an import.

    Attributes:
        seen: The job.
        counts: What it came to, by its names in care/family/transfer.py.
        problems: Why it was refused, or which rows were left out.
        problems_count: How many there are.
        to_family: The family's page, after a family file.
        only_doubts: Whether nothing but doubtful values, all of them shown, stood in its way.
        can_leave_out: Whether it was rows that stood in its way, which can be left out.
    """

    seen: jobs.Seen
    counts: dict[str, int]
    problems: tuple[ShownProblem, ...]
    problems_count: int
    to_family: UUID | None
    only_doubts: bool = False
    can_leave_out: bool = False


def import_page(seen: jobs.Seen) -> ImportPage:
    """The page of an import as it is by now."""
    outcome = seen.outcome
    is_table = "rows" in outcome.counts
    doubtful = [one.doubtful for one in outcome.problems]
    return ImportPage(
        seen=seen,
        counts=outcome.counts,
        problems=problems_shown(outcome.problems),
        problems_count=outcome.problems_count,
        to_family=None if is_table else outcome.family_id,
        only_doubts=all(doubtful) and len(doubtful) == outcome.problems_count > 0,
        can_leave_out=not any(doubtful) and all(one.where for one in outcome.problems),
    )


class InfantLine(msgspec.Struct, frozen=True, kw_only=True):
    """An infant of the file."""

    name: str
    born_at: datetime | None


class KindLine(msgspec.Struct, frozen=True, kw_only=True):
    """The entries of one kind."""

    what: str
    new_count: int
    there_count: int
    first_at: datetime
    last_at: datetime


class FamilyFilePage(msgspec.Struct, frozen=True, kw_only=True):
    """What the page shows before anything is stored."""

    preview: FamilyPreview
    parent: str
    infants: tuple[InfantLine, ...]
    kinds: tuple[KindLine, ...]
    first_at: datetime | None
    last_at: datetime | None


def family_file_page(preview: FamilyPreview, policy: Policy) -> FamilyFilePage:
    """The page of a family file.

    Args:
        preview: What importing it would come to.
        policy: The clinic's policy, for its word for the parent.
    """
    record, kinds = preview.record, preview.kinds
    last_at = max((kind.last_at for kind in kinds), default=None)
    named = names_of(record, last_at, policy) if last_at else {}
    births = {
        entry.infant_id: entry.true_at
        for entry in (record.entries_at(last_at) if last_at else ())
        if isinstance(entry.fact, Birth)
    }
    order = list(KINDS)
    return FamilyFilePage(
        preview=preview,
        parent=named.get(None, ""),
        infants=tuple(
            InfantLine(name=named.get(one.id, f"{one.position}"), born_at=births.get(one.id))
            for one in record.infants
        ),
        kinds=tuple(
            KindLine(
                what=as_heading(KINDS[kind.kind]),
                new_count=kind.new_count,
                there_count=kind.there_count,
                first_at=kind.first_at,
                last_at=kind.last_at,
            )
            for kind in sorted(kinds, key=lambda kind: order.index(kind.kind))
        ),
        first_at=min((kind.first_at for kind in kinds), default=None),
        last_at=last_at,
    )
