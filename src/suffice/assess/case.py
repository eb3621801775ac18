"""One infant as of one instant, laid out for the reviews that make up an assessment.

A :class:`Case` holds what the reviews read; a :class:`Review` collects what they find. A figure
that cannot be computed leaves its reason instead, so nothing is silently missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from typing import Final, TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.results import Finding
from suffice.assess.rules.table import Measure, Sign, Verdict
from suffice.assess.rules.truth import truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Birth, Entry, Fact, Illness, Infant
from suffice.clinical.weight.gain import TellApart
from suffice.clinical.weight.weighing import Weighing, weighings
from suffice.clinical.working import Figure, Working
from suffice.errors import InputError, Problem, RefusalError, SufficeError
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import Message, Param, Words, joined, message

AFact = TypeVar("AFact", bound=Fact)

GAIN_LIMIT: Final = "gain.limit_g_per_day"
"""Series of the gain below which someone must look, by age."""
NO_BIRTH: Final = message("The instant of birth is not known: enter the birth facts.")
BEFORE_BIRTH: Final = message("This instant lies before birth.")


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one infant as of an instant.

    Attributes:
        infant: The infant.
        name: What it is called on the list.
        as_of: The instant of the question.
        entries: The current entries about the infant, in order of time; none is before birth.
        content: The content in force, the clinic's own values in it.
        policy: The clinic's policy.
        birth_entry: The entry with the birth facts; None when there is none.
        weighings: All weights by age, the birth weight first; empty without an instant of birth.
        is_before_birth: Whether the birth facts are on the record, but of a later instant.
    """

    infant: Infant
    name: Words
    as_of: datetime
    entries: tuple[Entry, ...]
    content: Content
    policy: Policy
    birth_entry: Entry | None = None
    weighings: tuple[Weighing, ...] = ()
    is_before_birth: bool = False

    @property
    def no_birth(self) -> Message:
        """Why there is no age, where there is none."""
        return BEFORE_BIRTH if self.is_before_birth else NO_BIRTH

    @property
    def birth(self) -> Birth | None:
        """The birth facts."""
        fact = self.birth_entry.fact if self.birth_entry else None
        return fact if isinstance(fact, Birth) else None

    @property
    def born_at(self) -> datetime | None:
        """The instant of birth."""
        return self.birth_entry.true_at if self.birth_entry else None

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which instants are told: the clinic's."""
        return ZoneInfo(self.policy.zone)

    @property
    def age_h(self) -> float | None:
        """Age in hours as of the question."""
        return None if self.born_at is None else elapsed_h(self.born_at, self.as_of)

    def age_at(self, instant: datetime) -> float | None:
        """Age in hours at an instant."""
        return None if self.born_at is None else elapsed_h(self.born_at, instant)

    def at_age(self, hours: float) -> datetime:
        """The instant, in UTC, at which the infant was so old."""
        if self.born_at is None:
            raise ValueError("an infant without an instant of birth has no ages")
        return self.born_at.astimezone(UTC) + timedelta(hours=hours)

    def facts(self, kind: type[AFact]) -> list[tuple[Entry, AFact]]:
        """The entries of one kind with their facts, in order of time."""
        return [(entry, entry.fact) for entry in self.entries if isinstance(entry.fact, kind)]

    def latest(self, kind: type[AFact]) -> tuple[Entry, AFact] | None:
        """The last entry of a kind."""
        found = self.facts(kind)
        return found[-1] if found else None


class Review(msgspec.Struct, kw_only=True):
    """What is computed for one infant; the reviews write into it."""

    infant_id: UUID
    figures: dict[str, Figure] = msgspec.field(default_factory=dict)
    not_computed: dict[str, Words] = msgspec.field(default_factory=dict)
    findings: list[Finding] = msgspec.field(default_factory=list)
    measures: dict[str, list[Measure]] = msgspec.field(default_factory=dict)
    """Name to measures, put before the table of flags."""
    signs: dict[str, list[Sign]] = msgspec.field(default_factory=dict)
    """Name to signs, put before the table of flags."""
    verdicts: dict[str, Verdict] = msgspec.field(default_factory=dict)
    """Code of a flag to the verdict on its row."""
    tells: TellApart | None = None
    """Whether the two weights whose gain is judged tell a slow gain from a brisk one."""

    def figure(self, name: str, compute: Callable[[], Figure]) -> Figure | None:
        """Compute a figure and keep it, or keep the reason why it cannot be computed."""
        try:
            self.figures[name] = compute()
        except (RefusalError, InputError) as refusal:
            self.missing(name, refusal)
        return self.figures.get(name)

    def missing(self, name: str, why: Words | SufficeError) -> None:
        """Say why a figure is not there: a reason, or the refusal to compute it."""
        self.not_computed[name] = refusal_words(why) if isinstance(why, SufficeError) else why

    def sign(  # what a sign is
        self,
        name: str,
        present: bool | None,  # the finding itself
        *says: Words,
        age_h: float | None = None,
        entry_ids: tuple[UUID | None, ...] = (),
        working: Working | None = None,
        **gaps: Param,
    ) -> None:
        """Put a sign before the table of flags.

        Args:
            name: Its name in rules/facts.toml of the content.
            present: Whether it is there; None where that is not known.
            says: What follows the sentence of its row.
            age_h: Age when it was so; None for now.
            entry_ids: The entries it rests on.
            working: How it was found.
            gaps: What it fills of the sentence of its row.
        """
        found = Sign(
            present=truth_of(present),
            age_h=age_h,
            entry_ids=entry_ids,
            gaps=tuple(gaps.items()),
            says=says,
            working=working,
        )
        self.signs.setdefault(name, []).append(found)

    def measure(self, name: str, found: Measure) -> None:
        """Put a measure before the table of flags."""
        self.measures.setdefault(name, []).append(found)

    def rests_on(self, code: str) -> tuple[UUID | None, ...]:
        """The entries that a flag rests on; none where it was not asked."""
        return self.verdicts[code].rests_on if code in self.verdicts else ()


def finding_with(finding: Finding, *more: Words) -> Finding:
    """A finding that is doubted: more follows what it says, its excess is gone."""
    return msgspec.structs.replace(
        finding, messages=(*finding.messages, *more), excess_fraction=0.0
    )


def refusal_words(refusal: SufficeError) -> Words:
    """A refusal for the reader, without its code."""
    return joined(*(problem_words(problem) for problem in refusal.problems))


def problem_words(problem: Problem, *, with_fix: bool = True) -> Words:
    """A problem for the reader, without its code."""
    return joined(problem.what, problem.why, problem.fix if with_fix else "")


def case_of(
    infant: Infant,
    name: Words,
    entries: Iterable[Entry],
    *,
    as_of: datetime,
    content: Content,
    policy: Policy,
    is_before_birth: bool = False,
) -> Case:
    """Lay out an infant's current entries; what is dated before birth is left out.

    Args:
        infant: The infant.
        name: What it is called.
        entries: The current entries about it, in order of time.
        as_of: The instant of the question.
        content: The content in force.
        policy: The clinic's policy.
        is_before_birth: Whether the birth is known to be later than the question.
    """
    own = tuple(entries)
    births = [entry for entry in own if isinstance(entry.fact, Birth)]
    if not births:
        return Case(
            infant=infant,
            name=name,
            as_of=as_of,
            entries=own,
            content=content,
            policy=policy,
            is_before_birth=is_before_birth,
        )
    birth = births[-1]
    kept = tuple(entry for entry in own if entry.true_at >= birth.true_at or entry is birth)
    return Case(
        infant=infant,
        name=name,
        as_of=as_of,
        entries=kept,
        content=content,
        policy=policy,
        birth_entry=birth,
        weighings=weighings(kept, infant.id),
    )


def present_illnesses(entries: Iterable[Entry]) -> list[str]:
    """The illnesses that have been named and not ended, oldest first; entries in order of time."""
    present: dict[str, bool] = {}
    for entry in entries:
        if isinstance(entry.fact, Illness):
            present[entry.fact.what] = entry.fact.present
    return [what for what, is_there in present.items() if is_there]
