"""The shape of what an author writes in the content store.

Each class mirrors one kind of TOML table; unknown fields are refused, so a misspelt one is found
at load. :mod:`suffice.knowledge.store` turns these into what the rest of the program uses.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final, Literal

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
        least: The least that a clinic's own value in this unit may be; None where nothing says so.
        most: The most.
    """

    says: str
    ucum: str
    endings: tuple[str, ...]
    least: float | None = None
    most: float | None = None


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
    """One number; `low` and `high` are the range that was found, or that a clinic may choose.

    Attributes:
        value: The number.
        low: Lowest of the range.
        high: Highest of it.
        least: The least that a clinic may set, whatever it confirms; None where the rule of
            :mod:`suffice.knowledge.own_value` gives it.
        most: The most.
    """

    value: float
    low: float | None = None
    high: float | None = None
    least: float | None = None
    most: float | None = None


class SeriesEntry(Provenance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A number along an axis (hours, days, months).

    Attributes:
        axis: Name of the axis with its unit: ``age_h``, ``age_d`` (0 to below 1 is the first
            24 h) or ``age_month``.
        between: What holds between two points.
        points: ``[at, value]`` or ``[at, value, low, high]``, ascending, at whole numbers.
        until: End of the validity: first position that is no longer covered.
        least: The least that a clinic may set at any point, whatever it confirms; None where the rule
            of :mod:`suffice.knowledge.own_value` gives it.
        most: The most.
    """

    axis: str
    between: Between
    until: float
    points: tuple[tuple[float, ...], ...]
    least: float | None = None
    most: float | None = None


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


class Condition(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """When a row of a rule table holds: one thing asked, or several joined.

    Exactly one of `measure`, `sign`, `find`, `flag`, `undecided`, `all`, `any` and `not` is given.
    Ages and gestation narrow whatever is asked; of several joined they narrow all of them. Rows of
    flags are written as tables, rows of problems as lines (:mod:`suffice.knowledge.asked`).

    Attributes:
        measure: Name of a number that a review computes, with its unit in the name; it is compared
            with `limit`.
        compare: How it must stand to the limit.
        limit: Content key of the limit, of a series read at the age of the measure; ``choice:`` and
            the name of a disagreement for the one in force, and where that says nothing about the
            age for another; ``chosen:`` and the name for the one in force alone.
        interval: 'whole' asks of a measure with an interval that all of it lies beyond the limit,
            and cannot tell where only a part does; 'value' asks of the value alone.
        sign: Name of something that is present, absent or not known.
        find: Key of what was found at a contact or is known from elsewhere; it has one of `answers`,
            or its number is compared with `limit`. Rows of problems ask it.
        answers: The answers to a find of which it must have one.
        flag: Code of a row above that must hold.
        undecided: Code of a row above that cannot be told, because an interval lies on both sides.
        traits: Name of a trait (``mode``, ``sex``) to the values of which one must be true.
        from_age: Content key (or choice) of the age from which it is asked; empty for birth.
        until_age: The same for the age until which it is asked; empty for always.
        from_gestation: Content key of the gestation at birth from which it is asked.
        until_gestation: The same for the gestation below which it is asked.
        all_of: ``all``: every one of these.
        any_of: ``any``: at least one of these.
        not_of: ``not``: this one must not hold.
    """

    measure: str = ""
    compare: Literal[">=", ">", "<", "<="] | None = None
    limit: str = ""
    interval: Literal["whole", "value"] = "whole"
    sign: str = ""
    find: str = ""
    answers: tuple[str, ...] = ()
    flag: str = ""
    undecided: str = ""
    traits: dict[str, tuple[str, ...]] = {}
    from_age: str = ""
    until_age: str = ""
    from_gestation: str = ""
    until_gestation: str = ""
    all_of: tuple[Condition, ...] = msgspec.field(default=(), name="all")
    any_of: tuple[Condition, ...] = msgspec.field(default=(), name="any")
    not_of: Condition | None = msgspec.field(default=None, name="not")

    @property
    def parts(self) -> tuple[Condition, ...]:
        """What is joined; empty where one thing is asked."""
        return (*self.all_of, *self.any_of, *((self.not_of,) if self.not_of else ()))

    @property
    def narrows(self) -> bool:
        """Whether it is asked of some infants only, or at some ages."""
        return bool(
            self.from_age
            or self.until_age
            or self.from_gestation
            or self.until_gestation
            or self.traits
        )

    def each(self) -> Iterator[Condition]:
        """This condition and all below it, as written."""
        yield self
        for part in self.parts:
            yield from part.each()

    def single(self) -> Iterator[Condition]:
        """Every single thing that is asked, from left to right."""
        return (one for one in self.each() if not one.parts)


class FactNames(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The measures and signs that can be asked of one infant or of the parent, each in words.

    Attributes:
        measures: Name of a measure to its words.
        signs: Name of a sign to its words.
        short: Name of either to what it is called among several in one sentence; `{value}` is filled.
    """

    measures: dict[str, str] = {}
    signs: dict[str, str] = {}
    short: dict[str, str] = {}


class Askable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that a condition can ask, by name."""

    infant: FactNames = FactNames()
    parent: FactNames = FactNames()
    traits: dict[str, str] = {}


class Clears(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What ends a flag.

    Attributes:
        by: 'measure' a later measure of the same thing; 'entry' an entry that supplies or corrects
            what is missing; 'answer' what a physician found; 'time' the clock alone.
        says: The same in words.
        after: Content key of how long it stands, where the clock ends it; empty where that follows
            from the ages of the row.
    """

    by: tuple[Literal["measure", "entry", "answer", "time"], ...]
    says: str
    after: str = ""


Level = Literal["emergency", "physician", "consultant", "look", "note"]
"""How urgent a flag is: an emergency now; a physician, the same day where the row says nothing
else; the consultant, within a day; to be looked at or weighed again; something to know."""

Colour = Literal["red", "amber", "note"]
"""How a level is shown: red goes before everything else, amber is something to look at."""

LEVELS: Final[tuple[Level, ...]] = ("emergency", "physician", "consultant", "look", "note")
"""The most urgent first."""

COLOUR_OF: Final[dict[Level, Colour]] = {
    "emergency": "red",
    "physician": "red",
    "consultant": "amber",
    "look": "amber",
    "note": "note",
}


FlagTopic = Literal[
    "sign", "combined", "temperature", "weight", "gain", "growth", "output", "milk", "feeding", "illness",
    "problem", "overdue", "not known", "engine",
]  # fmt: skip


Judged = Literal["short", "ill", "not known", "nothing"]
"""What a flag says where milk is judged: it may be short; the infant may be ill, whatever it drinks; too
little is known; or nothing of the three."""
JUDGED_BY_TOPIC: Final[dict[str, Judged]] = {
    **dict.fromkeys(("weight", "gain"), "short"),
    **dict.fromkeys(("sign", "temperature", "illness"), "ill"),
    **dict.fromkeys(("overdue", "not known"), "not known"),
}
"""The same of the topics whose rows need not say it."""


class Flag(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One row of the table of flags: when this holds, someone must know.

    The place of a row in its file is its place among the flags of one level.

    Attributes:
        code: Its stable name, unique.
        about: Whom it is about.
        topic: What it is about; rows of the topic 'engine' are asked once the engine has
            answered, rows of the topic 'overdue' say that something is past due.
        level: How urgent it is.
        name: What is found, in a few words, as it is named beside another flag.
        within_h: Hours from when it was found until it counts as late that nobody has acted, where
            they are not those of the level; by then a 'look' is to be taken.
        judged: What it says where milk is judged, where that is not what its topic says; each row about
            an infant whose topic says nothing must say it.
        shown: The colour, where it is not that of the level.
        when: When it holds.
        if_silent: Whether it is said only of a sign of which no other row that holds speaks.
        unless: Codes of other rows; where one of them holds this one is not said, because it would
            say the same less urgently.
        sentence: One sentence for the consultant, with gaps that the facts fill.
        asks: What is asked after the sentence, as long as nobody has said that a physician knows of it.
        since: A second sentence where the fact it rests on is more than a day old.
        to_whom: Who must know.
        how_soon: How soon; empty where nothing is agreed beyond the level.
        clears: What ends it.
        doubt: 'ask first' keeps the flag where a weight it rests on looks wrong, and says so; 'none'
            where it rests on no weight.
        basis: How far the row can be trusted.
        citations: Where that stands; the sources of the limits stand with the limits.
        why: Why the row is there, and how far 'to whom, and how soon' is the source's.
    """

    code: str
    about: Literal["infant", "parent"]
    topic: FlagTopic
    level: Level
    when: Condition
    sentence: str
    to_whom: str
    clears: Clears
    basis: SourceBasis
    why: str
    name: str = ""
    within_h: float | None = None
    judged: Judged | None = None
    shown: Colour | None = None
    if_silent: bool = False
    unless: tuple[str, ...] = ()
    asks: str = ""
    since: str = ""
    how_soon: str = ""
    doubt: Literal["ask first", "none"] = "none"
    citations: tuple[Citation, ...] = ()

    @property
    def judged_as(self) -> Judged:
        """What it says where milk is judged."""
        return self.judged or JUDGED_BY_TOPIC.get(self.topic, "nothing")

    @property
    def colour(self) -> Colour:
        """The colour in which it is shown."""
        return self.shown or COLOUR_OF[self.level]


class Term(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One word of a vocabulary: what can be entered of an infant or a parent.

    Its key stands on the record, so a key is never given to something else; one that goes is shown
    on the record as it stands.

    Attributes:
        about: Whom it can be said of.
        group: What it belongs to, as a heading of a list.
        name: What it is called, as in a sentence.
        look: How to look, listen or ask for it, in one line.
        ends: 'answer' where only a physician's answer ends it, however well all looks later; 'entry'
            where an entry that it is absent does too.
        get_help: Whom to phone or where to go, where the sign by itself is an emergency; else empty.
        until_help: What to do until help comes; empty where nothing is taught.
        basis: How far it is known that it matters.
        sources: Where that stands.
    """

    about: Literal["infant", "parent"]
    group: str
    name: str
    look: str
    basis: SourceBasis
    sources: tuple[str, ...] = ()
    ends: Literal["answer", "entry"] = "entry"
    get_help: str = ""
    until_help: str = ""


class Manifest(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The set as a whole: its version (by calendar) and the day on which it was put together."""

    version: str
    dated: date
    note: str = ""
