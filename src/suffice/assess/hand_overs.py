"""Named problems that somebody must be told of: what the table of flags does not read becomes a finding too.

A problem of the contact is named from what was observed, and its pathway says to whom it is handed over and how
soon. Most of that rests on signs, weights and counts, of which flags speak; what was observed and no flag reads
(a medicine for which somebody was told to stop, powder mixed thin) would leave the family settled. So the hand-over is
put before the table as a sign, and each such row ends by an answer, by another answer to the question, or by the
consultant who calls the problem resolved or not so. Time ends nothing: what was observed counts until something newer is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.answered import BECOMES, told_at
from suffice.assess.died import living
from suffice.assess.flags import PROBLEM, problem_findings
from suffice.assess.problems.found import Finds
from suffice.assess.problems.named import Handing, hand_overs_of
from suffice.assess.problems.of_family import finds_of
from suffice.assess.results import Finding, InfantAssessment
from suffice.assess.review.last_milk import LAST_MILK, WAKES
from suffice.assess.review.parent_count import COUNTS
from suffice.assess.rules.red_flag import in_order_of_urgency
from suffice.assess.rules.table import Facts, Sign
from suffice.assess.rules.truth import Truth
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Answer, Entry, Observation, ProblemStatus
from suffice.clinical.units import DAYS_PER_WEEK, HOURS_PER_DAY
from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.problem import HandOver
from suffice.knowledge.schema import LEVELS, Flag, Level
from suffice.knowledge.store import Content
from suffice.message import Age, Instant, Message

READ_BY_FLAGS: Final = frozenset({*COUNTS, LAST_MILK, WAKES})
"""Observations that rows of the table read by themselves; so do all whose answer says a sign."""
SIGN_OF: Final[Mapping[Level, str]] = {
    "physician": "problem_today",
    "consultant": "problem_within_a_day",
    "look": "problem_by_a_date",
}
"""Level of a finding to the sign that its row asks."""
AGES: Final = {
    "age_h": 1.0,
    "days_after_birth": HOURS_PER_DAY,
    "postmenstrual_wk": HOURS_PER_DAY * DAYS_PER_WEEK,
}
"""Finds that grow with the clock, to the hours of their unit."""
ENDED: Final = frozenset({"settled", "not so"})
"""What the consultant calls a problem that needs nobody any more."""


class _Family(NamedTuple):
    """What the naming of problems reads of an assessment."""

    infants: tuple[InfantAssessment, ...]
    as_of: datetime


class _Open(NamedTuple):
    """A hand-over that nobody has answered.

    Attributes:
        handing: The problem and its hand-over.
        level: The level of its finding.
        noted: The observations that make it so.
    """

    handing: Handing
    level: Level
    noted: tuple[Entry, ...]

    @property
    def at(self) -> datetime:
        """When the last of what makes it so was observed."""
        return max(one.true_at for one in self.noted)

    @property
    def urgency(self) -> tuple[int, float]:
        """The smaller the sooner."""
        return LEVELS.index(self.level), self.handing.over.within_h


def with_hand_overs(
    infants: tuple[InfantAssessment, ...],
    findings: tuple[Finding, ...],
    entries: tuple[Entry, ...],
    content: Content,
    as_of: datetime,
    judged: Callable[[InfantAssessment], InfantAssessment],
) -> tuple[tuple[InfantAssessment, ...], tuple[Finding, ...]]:
    """The infants and the findings about the parent, with those of problems that are to be handed over.

    Args:
        infants: The assessed infants.
        findings: What was found of the parent.
        entries: The current entries of the family, in order of time.
        content: The content in force.
        as_of: The instant of the question.
        judged: An infant with whether it gets enough milk, which some problems ask.
    """
    asked = _observed(entries, content)
    if not asked or not _rows_about_problems(content):
        return infants, findings
    family = _Family(tuple(one if one.died else judged(one) for one in infants), as_of)
    # With nobody left to feed, what is the parent's own stays, under the first-born.
    alive = living(family.infants) or family.infants[:1]
    found: dict[tuple[UUID | None, str], _Open] = {}
    for infant in alive:
        now = finds_of(entries, infant, family, content, None, stands=True)
        then = _as_old_as_then(now, _since_observed_h(entries, asked, as_of))
        levels = {one.code: one.level for one in (*findings, *infant.findings)}
        for handing in (
            one for finds in (now, then) for one in hand_overs_of(finds, content, asked)
        ):
            whose = infant.infant_id if handing.problem.about == "infant" else None
            if whose is not None and infant.died is not None:
                continue
            one = _open(handing, entries, whose, content, levels)
            best = found.get((whose, handing.key))
            if one is not None and (best is None or one.urgency < best.urgency):
                found[whose, handing.key] = one

    def of(whose: UUID | None) -> tuple[Finding, ...]:
        those = [one for (person, _), one in found.items() if person == whose]
        return tuple(_finding(one, whose, content, as_of) for one in those)

    infants = tuple(
        msgspec.structs.replace(one, findings=in_order_of_urgency((*one.findings, *more), content))
        if (more := of(one.infant_id))
        else one
        for one in infants
    )
    of_parent = of(None)
    if of_parent:
        findings = in_order_of_urgency((*findings, *of_parent), content)
    return infants, findings


def _since_observed_h(entries: Sequence[Entry], asked: frozenset[str], as_of: datetime) -> float:
    """How long ago the last of these observations was made, in hours."""
    times = (
        one.true_at for one in entries if type(one.fact) is Observation and one.fact.what in asked
    )
    return max(elapsed_h(max(times, default=as_of), as_of), 0.0)


def _as_old_as_then(finds: Finds, hours: float) -> Finds:
    """The same at the age at which it was observed: growing older ends no hand-over."""
    older = {key: AGES[key] for key in AGES if key in finds}
    return {
        **finds,
        **{
            key: tuple(
                msgspec.structs.replace(one, number=one.number - hours / of_unit)
                for one in finds[key]
                if one.number is not None
            )
            for key, of_unit in older.items()
        },
    }


def are_asked(entries: Sequence[Entry], content: Content) -> bool:
    """Whether anything was observed for which a problem may be handed over: then the weights are read too."""
    return bool(_observed(entries, content))


def _observed(entries: Sequence[Entry], content: Content) -> frozenset[str]:
    """The observations of a record that a hand-over asks and no flag reads."""
    asked = _asked_by_hand_overs(content)
    return frozenset(
        one.fact.what for one in entries if type(one.fact) is Observation and one.fact.what in asked
    )


@lru_cache(maxsize=8)
def _asked_by_hand_overs(content: Content) -> frozenset[str]:
    words = content.vocabularies.get(FOLDER, {})
    return frozenset(
        one.find
        for problem in content.guide.problems.values()
        for over in problem.hand_over
        if not over.is_offer
        for one in read_asked(over.when).single()
        if one.find in words and one.find not in READ_BY_FLAGS
    )


def level_of(over: HandOver) -> Level:
    """The level of a hand-over on the list: what leaves more than a day is looked at by its date.

    An emergency rests on signs, of which flags speak; with anything else a physician sees it the same day.
    """
    if over.level == "emergency":
        return "physician"
    return "look" if over.level == "note" or over.within_h > HOURS_PER_DAY else over.level


def _open(
    handing: Handing,
    entries: Sequence[Entry],
    whose: UUID | None,
    content: Content,
    levels: Mapping[str, Level],
) -> _Open | None:
    """A hand-over that is still to be made; None where flags speak of it, or it was answered."""
    level, place = level_of(handing.over), LEVELS.index
    spoken = (levels[code] for code in handing.problem.flags if code in levels)
    if any(place(one) <= place(level) for one in spoken):
        return None
    ids = set(_unread(handing, content))
    noted = tuple(one for one in entries if one.id in ids)
    if not noted:
        return None
    codes = frozenset(
        (*handing.problem.flags, *(row.code for row in _rows_about_problems(content)))
    )
    own = [one for one in entries if one.infant_id == whose]
    is_over = any(_ends(one, handing, noted, codes, level) for one in own)
    return None if is_over else _Open(handing, level, noted)


def _unread(handing: Handing, content: Content) -> Iterator[UUID]:
    """The observations that make a hand-over so and that no flag reads."""
    words = content.vocabularies[FOLDER]
    for reason in handing.reasons:
        word = words.get(reason.key)
        if not isinstance(word, Observable) or reason.key in READ_BY_FLAGS:
            continue
        if word.signs.keys().isdisjoint(reason.found.answers):
            yield from reason.found.entry_ids


def _ends(
    entry: Entry, handing: Handing, noted: Sequence[Entry], codes: frozenset[str], level: Level
) -> bool:
    """Whether an entry ends a hand-over: it was made by somebody who knew all that makes it so."""
    fact = entry.fact
    if isinstance(fact, Answer):
        is_enough = fact.is_of_physician or level != "physician"
        is_one = is_enough and (
            fact.flag is None or not codes.isdisjoint({fact.flag, BECOMES.get(fact.flag, "")})
        )
    elif isinstance(fact, ProblemStatus):
        is_one = fact.problem == handing.key and fact.status in ENDED
    else:
        return False
    return is_one and all(
        one.true_at <= told_at(entry) and one.entered_at <= entry.entered_at for one in noted
    )


@lru_cache(maxsize=8)
def _rows_about_problems(content: Content) -> tuple[Flag, ...]:
    """The rows about problems; none in a set of before."""
    return tuple(row for row in content.flags if row.topic == PROBLEM)


def _finding(one: _Open, whose: UUID | None, content: Content, as_of: datetime) -> Finding:
    over = one.handing.over
    sign = Sign(
        present=Truth.TRUE,
        at=one.at,
        is_answered=False,
        entry_ids=tuple(entry.id for entry in one.noted),
        gaps=(
            ("problem", Message(one.handing.problem.name)),
            ("whom", Message(over.to_whom)),
            ("hours", Age(over.within_h)),
            ("at", Instant(one.at)),
        ),
    )
    facts = Facts(signs={SIGN_OF[one.level]: (sign,)})
    (found,) = problem_findings(facts, content, as_of=as_of, infant_id=whose)
    return msgspec.structs.replace(
        found, due_at=one.at + timedelta(hours=over.within_h), has_own_time=True
    )
