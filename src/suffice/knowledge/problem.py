"""Problems of feeding as content: what supports each, what rules it out, what is done, who must know.

The files of ``content/problems/`` hold problems by part; ``instructions.toml`` says each instruction
once, and ``rules.toml`` what a family is given where two of them pull a thing in two ways;
``contradictions.toml`` names the answers that cannot both be so.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal

import msgspec

from suffice.clinical.working import SourceBasis
from suffice.knowledge.schema import Level, Term

FOLDER: Final = "problems"
"""The folder of the content."""
INSTRUCTIONS: Final = f"{FOLDER}/instructions"
RULES: Final = f"{FOLDER}/rules"
CONTRADICTIONS: Final = f"{FOLDER}/contradictions"
BOTH: Final = "both"
"""Wins where two ways go together, as the words of the rule say."""
NOT: Final = "not "
"""Stands before the way of an instruction that warns of it."""


class Sourced(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a row rests on."""

    basis: SourceBasis
    sources: tuple[str, ...] = ()


class Statement(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing that speaks for a problem, against it, or rules it out.

    Attributes:
        when: What is asked (:mod:`suffice.knowledge.asked`).
        unless: What takes the row away once it is known to be so: not known, it takes nothing away.
        early: Whether it may reassure before intake is known: it says itself how weight is.
    """

    when: str
    unless: str = ""
    early: bool = False


class HandOver(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """To whom a problem is handed over, how soon, and when; `says` is what is handed over with it.

    `is_offer` says that the family decides, and that no clinician must know: it has no place on the list.
    """

    level: Level
    within_h: float
    to_whom: str
    when: str
    says: str = ""
    is_offer: bool = False


class LookAgain(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """When to look again, whether the infant is weighed then, and what else is to be said of it."""

    within_h: float
    says: str = ""
    is_weighed: bool = False


class Settled(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What settles a problem, and for how long it must have been so, in words."""

    when: str
    says: str = ""


class Dispute(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where sources disagree: what it is about, both sides, and the choice for the family."""

    about: str
    one: str
    other: str
    choice: str


class Code(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A code of ICD-10-CM and the days after birth from and before which it can be given."""

    code: str
    from_d: float | None = None
    until_d: float | None = None

    def is_for(self, age_d: float | None) -> bool:
        """Whether it can be given at an age; one with limits never at an age that is not known."""
        if age_d is None:
            return self.from_d is None and self.until_d is None
        return (self.from_d or 0) <= age_d and (self.until_d is None or age_d < self.until_d)


class Problem(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A problem of feeding, and all that is known about naming and answering it.

    Attributes:
        about: Whose problem, and so whose code, it is.
        name: What it is called.
        level: How urgent it is where nothing makes it more so.
        by_side: Whether each breast has it or not.
        cause_of: The problem that it can be a cause of.
        reassures: Whether naming it calms: then intake must be known first.
        leads: Whether it stands before all others of its level, as what forbids what they ask for.
        strong: What supports it strongly; `weak`: what supports it; `against`: what speaks against
            it; `excludes`: what rules it out, whatever else was found.
        ask: What to ask first.
        flags: Codes of the table of flags that may stand with it.
        tells: What else describes it, in a letter and at the next look.
        do: Keys of what is done and taught; `avoid`: of what is not.
        part: Name of its file; `group`: the heading of its part.
    """

    about: Literal["infant", "parent"]
    name: str
    level: Level
    strong: tuple[Statement, ...] = ()
    weak: tuple[Statement, ...] = ()
    against: tuple[Statement, ...] = ()
    excludes: tuple[Statement, ...]
    ask: tuple[str, ...]
    do: tuple[str, ...]
    avoid: tuple[str, ...]
    look_again: LookAgain
    settled: Settled
    by_side: bool = False
    cause_of: str = ""
    reassures: bool = False
    leads: bool = False
    flags: tuple[str, ...] = ()
    tells: tuple[str, ...] = ()
    hand_over: tuple[HandOver, ...] = ()
    disputes: tuple[Dispute, ...] = ()
    codes: tuple[Code, ...] = ()
    part: str = ""
    group: str = ""

    @property
    def statements(self) -> tuple[Statement, ...]:
        """All that decides whether it is named."""
        return (*self.strong, *self.weak, *self.against, *self.excludes)

    def conditions(self) -> Iterator[str]:
        """Every condition of it, as written."""
        yield from (one.when for one in self.statements)
        yield from (one.unless for one in self.statements if one.unless)
        yield from (one.when for one in self.hand_over)
        yield self.settled.when

    def rows(self) -> Iterator[Sourced]:
        """Everything of it that rests on something."""
        yield from self.statements
        yield from self.hand_over
        yield from self.disputes
        yield self.look_again
        yield self.settled


class Instruction(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is done, or is warned of.

    Attributes:
        do: What to do; empty where it is only warned of.
        avoid: The warning; empty where there is none.
        family: What to do as a family reads it on its plan; empty where a line of the plan says it, or nothing does.
        after_feed: Whether it comes when the feed is over, the extra milk too.
        acts_on: What it acts on, to the way in which it pulls it.
    """

    do: str = ""
    avoid: str = ""
    family: str = ""
    after_feed: bool = False
    acts_on: dict[str, str] = {}


class Rule(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which of two ways wins where a family would get both, and what it is given to read.

    `wins` is one of the ways; 'both' where the words say how the two go together.
    """

    topic: str
    ways: tuple[str, str]
    wins: str
    says: str


class Contradiction(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Answers that cannot both be so.

    Attributes:
        when: What is so (:mod:`suffice.knowledge.asked`).
        found: Keys of which none can then have been found: a number above 0, or an answer but none.
        also: What cannot be so then.
        both_sides: Whether `when` must be so left and right, as where the other thing has no sides.
    """

    when: str
    found: tuple[str, ...] = ()
    also: str = ""
    both_sides: bool = False

    def conditions(self) -> Iterator[str]:
        """Every condition of it, as written."""
        yield self.when
        if self.also:
            yield self.also


class Guide(msgspec.Struct, frozen=True, kw_only=True):
    """All problems by key, in their order, with their instructions, rules and contradictions."""

    problems: dict[str, Problem] = {}
    instructions: dict[str, Instruction] = {}
    rules: tuple[Rule, ...] = ()
    contradictions: tuple[Contradiction, ...] = ()


def words_of(guide: Guide) -> dict[str, Term]:
    """The problems as words that can be entered: what somebody decided of each."""
    return {
        key: Term(
            about=one.about,
            group=one.group,
            name=one.name,
            look="",
            basis="judgement",
        )
        for key, one in guide.problems.items()
    }
