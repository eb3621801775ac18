"""How soon a letter asks: as its most urgent flag or the hand-over of a named problem says, whichever is sooner.

A problem may be handed over where no flag is raised, or within fewer hours than its flag gives: what is asked
is never later than either. What was decided to be over, and what a physician knows of, asks for nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import Final, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from suffice.assess.problems import NamedProblems, Weighed
from suffice.assess.results import Finding
from suffice.clinical.entry import ProblemStatus
from suffice.documents.frame import Source
from suffice.knowledge.problem import HandOver
from suffice.knowledge.schema import Level
from suffice.message import Day, Instant, Message, Words, message
from suffice.plan.asked import STILL_OPEN

FOR_A_PHYSICIAN: Final[frozenset[Level]] = frozenset({"emergency", "physician"})
"""Levels of a hand-over that somebody other than the writer has to act on."""
TO_THE_HOUR: Final = timedelta(hours=72)
"""Up to here the hour is named by which somebody is asked to act, later the day."""
NOW: Final = message("Emergency. Please see {name} now: findings consistent with {problem}.")
BY_THEN: Final = message("Please see {name} by {at}: findings consistent with {problem}.")


class Handed(NamedTuple):
    """A problem, the hand-over that asks soonest, and by when."""

    problem: Weighed
    over: HandOver
    by: datetime

    def request(self, name: Words, problem: Words) -> Message:
        """What is asked, in the first line."""
        if self.over.level == "emergency":
            return NOW.with_params(name=name, problem=problem)
        is_soon = timedelta(hours=self.over.within_h) <= TO_THE_HOUR
        at = Instant(self.by) if is_soon else Day(self.by.date())
        return BY_THEN.with_params(name=name, at=message("{at}", at=at), problem=problem)


def handed_sooner(
    source: Source,
    whose: UUID | None,
    open_: Sequence[Finding],
    problems: NamedProblems | None,
) -> Handed | None:
    """The hand-over that asks sooner than what is flagged; None where the flag is as soon, or none asks.

    Args:
        source: What the letter is made from.
        whose: The infant, or the parent (None).
        open_: What is flagged of that person, the most urgent first.
        problems: The problems of the infant with its parent; None where there are none.
    """
    first = min(_handed(source, whose, problems), key=lambda one: one.by, default=None)
    flagged = _flagged_by(source, open_)
    if first is None or (flagged is not None and flagged <= first.by):
        return None
    return first


def _handed(source: Source, whose: UUID | None, problems: NamedProblems | None) -> Iterator[Handed]:
    about = "parent" if whose is None else "infant"
    zone = ZoneInfo(source.policy.zone)
    decided: dict[str, str] = {}
    for entry in source.own(whose):
        if isinstance(entry.fact, ProblemStatus):
            decided[entry.fact.problem] = entry.fact.status
    known = _known_codes(source, whose)
    for one in problems.named if problems else ():
        is_known = not one.open_flags and not known.isdisjoint(one.problem.flags)
        if one.problem.about != about or one.problem.reassures or is_known:
            continue
        if decided.get(one.key, "open") not in STILL_OPEN:
            continue
        for hand_over in one.hand_over:
            if hand_over.level in FOR_A_PHYSICIAN:
                hours = 0.0 if hand_over.level == "emergency" else hand_over.within_h
                by = (source.as_of + timedelta(hours=hours)).astimezone(zone)
                yield Handed(one, hand_over, by)


def _known_codes(source: Source, whose: UUID | None) -> frozenset[str]:
    """Codes of what is found and a physician knows of."""
    infant = source.infant(whose)
    found = infant.findings if infant else source.assessment.findings
    return frozenset(one.code for one in found if one.known is not None)


def _flagged_by(source: Source, open_: Sequence[Finding]) -> datetime | None:
    """By when what is flagged asks somebody to act; None where nothing does before a next visit."""
    if not open_ or open_[0].level not in {"emergency", "physician", "consultant"}:
        return None
    if open_[0].level == "emergency":
        return source.as_of
    zone = ZoneInfo(source.policy.zone)
    return datetime.combine(day_of_flags(source, open_) + timedelta(days=1), time(), tzinfo=zone)


def today_of(source: Source) -> date:
    """The day on which the letter is written, where the clinic is."""
    return source.as_of.astimezone(ZoneInfo(source.policy.zone)).date()


def day_of_flags(source: Source, open_: Sequence[Finding]) -> date:
    """The day by which somebody is asked to act on the first finding, or sooner on another of its level.

    Of what the consultant is to look at within days, the day that its row says; within a day, tomorrow.
    """
    today, level = today_of(source), open_[0].level
    if level != "consultant":
        return today
    zone = ZoneInfo(source.policy.zone)
    later = [
        one.due_at.astimezone(zone).date() if one.has_own_time and one.due_at else today
        for one in open_
        if one.level == level
    ]
    return max(min(later), today + timedelta(days=1))
