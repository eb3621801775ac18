"""The shape of what an author writes in the content store.

Each class mirrors one kind of TOML table; unknown fields are refused, so a misspelt one is found
at load. :mod:`suffice.knowledge.store` turns these into what the rest of the program uses.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from suffice.clinical.working import SourceBasis

Reading = Literal["table", "abstract", "excerpt", "secondary source, verify"]
"""How much of a published source was seen; no paper was read whole."""

Between = Literal["step", "linear"]
"""What holds between two points of a series: the earlier value, or the straight line."""


class Unit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One unit: its name in words, its UCUM code and the endings that names of its numbers carry.

    Attributes:
        says: The unit in words.
        ucum: Its code in the Unified Code for Units of Measure.
        endings: How the name of a number in this unit may end, without the underscore.
    """

    says: str
    ucum: str
    endings: tuple[str, ...]


class Source(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A paper, guideline, leaflet or teaching text that a value is taken from.

    Attributes:
        authors: Authors or issuing body; empty where the source has none that was seen.
        title: Title, or what it is where no title was seen.
        kind: What sort of source it is.
        year: Year of publication; None where it was not seen.
        published_in: Journal, volume and page, or the publisher.
        doi: Digital object identifier without any address.
        note: Known faults of the citation itself ('year from memory').
    """

    authors: str
    title: str
    kind: Literal["paper", "guideline", "report", "leaflet", "teaching", "this project"]
    year: int | None = None
    published_in: str = ""
    doi: str = ""
    note: str = ""

    @property
    def short(self) -> str:
        """The citation as one short line."""
        who = self.authors or self.title
        head = " ".join(part for part in (who, str(self.year or "")) if part)
        where = self.published_in or (self.title if self.authors else "")
        return ", ".join(part for part in (head, where) if part)


class Citation(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where a value stands in a source, and what the source says there in figures."""

    source: str
    says: str
    locator: str = ""


class Former(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A value that was in force earlier, until when, and why it was changed."""

    value: float
    until: date
    why: str


class Topic(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The head of a topic's file; its dates hold for entries that name none of their own."""

    title: str
    says: str
    effective_from: date
    review_by: date


class Provenance(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What every entry says about where it comes from.

    Attributes:
        unit: A unit of units.toml.
        basis: How far the value can be trusted.
        applies_to: Whom and what it applies to.
        effective_from: First day on which it is in force.
        review_by: Day by which someone must look at it again.
        read: For 'published': how much of the source was seen.
        citations: Sources; the first is the one shown beside the value.
        not_for: Where it must not be used.
        note: Reason, caution, or how the number was taken from the source.
        formula: For 'derived': a name in knowledge/derivation.py.
        uses: For 'derived': keys of its arguments, in order; ``choice:`` and the name of a
            disagreement stands for the one in force.
        judged_by: For 'judgement': who answers for it.
        judged_on: For 'judgement': when.
        symbol: The letter under which an equation knows the value.
        history: Earlier values.
    """

    unit: str
    basis: SourceBasis
    applies_to: str
    effective_from: date
    review_by: date
    read: Reading | None = None
    citations: tuple[Citation, ...] = ()
    not_for: str = ""
    note: str = ""
    formula: str = ""
    uses: tuple[str, ...] = ()
    judged_by: str = ""
    judged_on: date | None = None
    symbol: str = ""
    history: tuple[Former, ...] = ()


class NumberEntry(Provenance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One number; `low` and `high` are the range that was found, or that a clinic may choose."""

    value: float
    low: float | None = None
    high: float | None = None


class SeriesEntry(Provenance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A number along an axis (hours, days, months).

    Attributes:
        axis: Name of the axis with its unit: ``age_h``, ``age_d`` (0 to below 1 is the first
            24 h) or ``age_month``.
        between: What holds between two points.
        points: ``[at, value]`` or ``[at, value, low, high]``, ascending, at whole numbers.
        until: End of the validity: first position that is no longer covered.
    """

    axis: str
    between: Between
    until: float
    points: tuple[tuple[float, ...], ...]


class WordsEntry(Provenance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Words along an axis, such as the stool colours of a day: ``[at, ["black", "green"]]``."""

    axis: str
    until: float
    points: tuple[tuple[float, tuple[str, ...]], ...]


AnyEntry = NumberEntry | SeriesEntry | WordsEntry


class Answer(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One answer to a question on which sources do not agree.

    Attributes:
        key: The entry that gives it.
        name: What a clinic that chooses reads: plain words, without the value, which the entry has.
        changes: One sentence on what choosing it does.
    """

    key: str
    name: str
    changes: str


class Disagreement(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Sources that do not agree, and which of them is in force.

    Attributes:
        question: What they answer differently.
        changes: What the choice decides in this program; that it decides nothing, where so.
        answers: The answers; the consultant sees them all.
        chosen: The key of the one in force, and the only one a family may read.
        decision: Why it was chosen.
        decided_on: When.
        decides: Whether a choice changes an answer: only then a clinic is offered it.
    """

    question: str
    changes: str
    answers: tuple[Answer, ...]
    chosen: str
    decision: str
    decided_on: date
    decides: bool = True

    @property
    def candidates(self) -> tuple[str, ...]:
        """The keys of the answers."""
        return tuple(answer.key for answer in self.answers)


class Rule(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One row of a decision table: when a measure stands so to a limit, this follows.

    Attributes:
        name: Short name, unique in its table.
        tier: 'red' outranks 'overdue', which outranks 'age'.
        measure: The figure that is asked, with its unit in its name.
        compare: How it must stand to the limit.
        limit: Content key of the limit, or ``choice:`` and the name of a disagreement; empty
            where the rule only sorts.
        from_age: Content key (or choice) of the age from which the rule is asked; empty for birth.
        until_age: The same for the age until which it is asked; empty for always.
        unless: Name of a rule above it; where that one is true this one is not said, because it
            would say the same less urgently.
        reason: One sentence for the consultant with the fields {value}, {limit} and {age}.
        to_whom: Who is to know.
        why: Why the rule stands where it does.
    """

    name: str
    tier: Literal["red", "overdue", "age"]
    measure: str
    compare: Literal[">=", ">", "<", "<=", "sort"]
    reason: str
    why: str
    limit: str = ""
    from_age: str = ""
    until_age: str = ""
    unless: str = ""
    to_whom: str = ""


class Manifest(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The set as a whole: its version (by calendar) and the day on which it was put together."""

    version: str
    dated: date
    note: str = ""
