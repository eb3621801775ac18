"""Flags that somebody has taken over, and flags that a physician knows of already.

A handover ends nothing. It marks the flags it covers, and those stand behind equals whom nobody has
taken, until an answer is due; an emergency only where a physician, a hospital or the emergency service has it,
or the team that its row names. It covers a flag that was open then, at that level or a higher one,
while no sign it rests on is later and no measure is worse: a new sign or a worse measure is a new flag. What a physician knows of is a note until
the next date, and only while nothing new has come up; then it is asked how it went, one step less urgent
than the flag, and where nobody does the flag is back: after a day, or after the hours that its row gives.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import cached_property
from typing import Final
from uuid import UUID

import msgspec

from suffice.assess.answered import IN_CARE, told_at
from suffice.assess.ranking import ILLNESS
from suffice.assess.results import Finding, HandedOver, InfantAssessment, KnownSince
from suffice.assess.waiting import latest_answer, latest_next_date
from suffice.clinical.entry import Answer, Entry, Handover, Known, about
from suffice.clinical.entry.handover import RECIPIENTS
from suffice.knowledge.schema import COLOUR_OF, LEVELS, Level
from suffice.knowledge.store import Content
from suffice.message import Instant, Message, Words, message

OpenThen = Mapping[tuple[UUID | None, str], tuple[Finding, ...]]
"""Whose flag and its code to the findings, as they stood at an instant."""
ENGINE: Final = "engine"
SAYS_NOTHING_NEW: Final = frozenset({"overdue", "not known", ENGINE})
"""Topics of the rows that say nothing new of the infant or the parent."""
ACTED_ON: Final = frozenset({"emergency", "physician", "consultant"})
RED: Final[tuple[Level, ...]] = ("emergency", "physician")
ANSWER_WITHIN: Final = {
    "emergency": "ranking.answer_emergency_h",
    "physician": "ranking.answer_physician_h",
}
ANSWER_WITHIN_ELSE: Final = "ranking.answer_other_h"
ANSWERS_WITHIN: Final = (*ANSWER_WITHIN.values(), ANSWER_WITHIN_ELSE)
"""All keys of how long an answer may take where nobody said it."""
ASKED_AS: Final[Mapping[Level, Level]] = {"emergency": "physician", "physician": "consultant"}
"""How urgent it is to ask how it went, one step below the flag; for all others it is a look."""
KNOWN_WITHOUT_DATE: Final = "ranking.known_without_date_h"
KNOWN_ASKED: Final = "ranking.known_asked_h"

AMBULANCE: Final = "ambulance"
"""How a row says that help comes to the family."""
TEAM: Final = "team"
"""How a row ends that names a team as those who take an emergency of the mind."""
WHO: Final[Mapping[str, Message]] = {
    "emergency service": message("the emergency service"),
    "hospital": message("the hospital"),
    "physician": message("the physician"),
    "midwife": message("the midwife"),
    "consultant": message("the consultant"),
    "other": message("another clinician"),
}
"""Who took it over, or knows of it, in a sentence."""
WHO_ASKS: Final = message("{who}, {soon}").with_params(
    who=message("consultant"), soon=message("within 24 hours")
)
ROLES: Final[Mapping[str, Message]] = dict(RECIPIENTS)
"""The same behind a name."""


class InCare:
    """What handovers, answers and what is known make of the findings of a family.

    Args:
        entries: The current entries of the family, in order of time.
        content: The content in force.
        as_of: The instant of the question.
        open_then: What was flagged at (an instant, as far as entered by another); asked for each
            handover and each entry of what is known, at most once.
    """

    def __init__(
        self,
        entries: Sequence[Entry],
        content: Content,
        as_of: datetime,
        open_then: Callable[[datetime, datetime], OpenThen],
    ) -> None:
        self._own = entries
        noted = [one for one in entries if type(one.fact) in IN_CARE]
        self._handovers = [one for one in noted if isinstance(one.fact, Handover)]
        self._known = [one for one in noted if isinstance(one.fact, Known)]
        self._answers = [one for one in noted if isinstance(one.fact, Answer)]
        self._content = content
        self._as_of = as_of
        self._open_then = open_then
        self._then: dict[UUID, OpenThen] = {}

    @cached_property
    def _entries(self) -> dict[UUID, Entry]:
        return {entry.id: entry for entry in self._own}

    @property
    def is_needed(self) -> bool:
        """Whether anything was entered that could change a finding."""
        return bool(self._handovers or self._known or self._answers)

    def of_infant(self, infant: InfantAssessment) -> InfantAssessment:
        """An infant with its findings as they stand in care."""
        findings = self.of_findings(infant.findings, infant.infant_id)
        return msgspec.structs.replace(infant, findings=findings)

    def of_findings(
        self, findings: Sequence[Finding], infant_id: UUID | None
    ) -> tuple[Finding, ...]:
        """The findings about an infant, or the parent, as they stand in care.

        A finding that became a note or a look goes behind those of its new level.
        """
        changed = [self._in_care(one, findings, infant_id) for one in findings]
        return tuple(sorted(changed, key=lambda one: LEVELS.index(one.level)))

    def _in_care(
        self, finding: Finding, findings: Sequence[Finding], infant_id: UUID | None
    ) -> Finding:
        """A finding as it is known, or handed over; one that is asked about again can be handed over too."""
        known = self._known_of(finding, findings, infant_id)
        if known is None or known.known is None:
            return msgspec.structs.replace(
                finding, handed_over=self._handed_over(finding, infant_id)
            )
        if known.level == "note":
            return known
        mark = self._handed_over(finding, infant_id, since=known.known.at)
        return msgspec.structs.replace(known, handed_over=mark)

    # ---- handed over ------------------------------------------------------------------------

    def _handed_over(
        self, finding: Finding, infant_id: UUID | None, since: datetime | None = None
    ) -> HandedOver | None:
        """The mark of the last handover that covers a finding, if one does; those before `since` do not count.

        Whoever is told of an emergency after those who can take it takes it from nobody.
        """
        told_only = None
        for entry in reversed(_from(since, about(self._handovers, infant_id))):
            handover = entry.fact
            if not isinstance(handover, Handover) or handover.flag not in {None, finding.code}:
                continue
            if self._covers(entry, finding, infant_id):
                mark = self._mark(entry, handover, finding)
                if _can_take(handover, finding) or mark.holds:
                    return mark
                told_only = told_only or mark
        return told_only or self._answered_by_name(finding, infant_id, since)

    def _mark(self, entry: Entry, handover: Handover, finding: Finding) -> HandedOver:
        who, at = called(handover.to, handover.name), entry.true_at
        by = handover.answer_by or at + self._answer_within(finding.level)
        by = min(by, latest_answer(finding.level, at, self._content) or by)
        answer = self._answer_to(entry, handover, finding)
        if answer is not None:
            return self._mark_of_answer(answer, finding, at=at, asked=handover.asked or "")
        if not _can_take(handover, finding):
            return _handed_in_vain(who, at, asked=handover.asked or "")
        is_late = self._as_of >= by
        says = message(
            "Handed over to {who} at {at}, answer by {by}.",
            who=who, at=Instant(at), by=Instant(by),
        )  # fmt: skip
        briefly = message("Handed over to {who}, answer by {by}.", who=who, by=Instant(by))
        if is_late:
            says = message(
                "Handed over to {who} at {at}; no answer yet: ask again.",
                who=who, at=Instant(at),
            )  # fmt: skip
            briefly = message("Handed over to {who}; no answer yet: ask again.", who=who)
        return HandedOver(
            at=at, says=says, briefly=briefly, asked=handover.asked or "", answer_by=by, is_late=is_late,
            holds=not is_late,
        )  # fmt: skip

    def _answer_within(self, level: Level) -> timedelta:
        key = ANSWER_WITHIN.get(level, ANSWER_WITHIN_ELSE)
        return timedelta(hours=self._content.constant(key).value)

    def _answer_to(self, entry: Entry, handover: Handover, finding: Finding) -> Entry | None:
        """The answer that closes a handover: a physician's, where it was handed over to one."""
        for one in reversed(about(self._answers, entry.infant_id)):
            answer = one.fact
            if not isinstance(answer, Answer) or one.true_at < entry.true_at:
                continue
            is_asked = answer.is_of_physician or not handover.is_to_physician
            if is_asked and answer.flag in {None, finding.code}:
                return one
        return None

    def _answered_by_name(
        self, finding: Finding, infant_id: UUID | None, since: datetime | None
    ) -> HandedOver | None:
        """A flag that a physician answered by name, and that only something else ends, is taken."""
        for one in reversed(_from(since, about(self._answers, infant_id))):
            answer = one.fact
            if not isinstance(answer, Answer) or answer.flag != finding.code:
                continue
            if answer.is_of_physician and self._covers(one, finding, infant_id):
                return self._mark_of_answer(one, finding, at=one.true_at)
        return None

    def _mark_of_answer(
        self, entry: Entry, finding: Finding, *, at: datetime, asked: str = ""
    ) -> HandedOver:
        """The flag was answered and still stands, since its row ends with something else."""
        answer = entry.fact
        is_of_physician = isinstance(answer, Answer) and answer.is_of_physician
        who = WHO[answer.who] if isinstance(answer, Answer) else ""
        when = Instant(entry.true_at)
        if is_of_physician or finding.level not in RED:
            says = message("Answered at {at} by {who}.", at=when, who=who)
            return HandedOver(at=at, says=says, asked=asked, holds=True)
        says = message(
            "Answered at {at} by {who}; no physician has answered yet.", at=when, who=who
        )
        return HandedOver(at=at, says=says, asked=asked, holds=False)

    # ---- known to a physician ---------------------------------------------------------------

    def _known_of(
        self, finding: Finding, findings: Sequence[Finding], infant_id: UUID | None
    ) -> Finding | None:
        """A finding that a physician knows of, as a note or as a question; None where it is not."""
        for entry in reversed(about(self._known, infant_id)):
            known = entry.fact
            if not isinstance(known, Known) or known.flag != finding.code:
                continue
            is_possible = finding.level != "emergency" or known.who == "hospital"
            if is_possible and self._covers(entry, finding, infant_id):
                is_broken = any(
                    self._is_new_since(entry, one, infant_id) for one in findings if one != finding
                )
                return None if is_broken else self._as_known(entry, known, finding)
        return None

    def _is_new_since(self, entry: Entry, finding: Finding, infant_id: UUID | None) -> bool:
        """Whether somebody must act on something that was not so when the physician knew."""
        if finding.level not in ACTED_ON or finding.topic in SAYS_NOTHING_NEW:
            return False
        return not self._covers(entry, finding, infant_id)

    def _as_known(self, entry: Entry, known: Known, finding: Finding) -> Finding:
        who, at = called(known.who, known.name), entry.true_at
        open_h = self._content.constant(KNOWN_WITHOUT_DATE).value
        by = known.next_at or at + timedelta(hours=open_h)
        by = min(by, latest_next_date(at, self._content))
        excess_fraction = 0.0
        if self._as_of < by:
            says: Words = message(
                "Known to {who} since {at}; next date {by}.",
                who=who, at=Instant(at), by=Instant(by),
            )  # fmt: skip
            level: Level = "note"
        else:
            says = message(
                "Known to {who} since {at}; next date was {by}: ask how it went.",
                who=who, at=Instant(at), by=Instant(by),
            )  # fmt: skip
            level = ASKED_AS.get(finding.level, "look")
            if self._as_of >= by + _asked_for(known.flag, self._content):
                # Nobody asked how it went: time has answered nothing.
                level, excess_fraction = finding.level, finding.excess_fraction
        return msgspec.structs.replace(
            finding,
            level=level,
            colour=COLOUR_OF[level],
            messages=(*_while_in_care(finding), says),
            due_at=by,
            to_whom=_who_asks(finding, level),
            excess_fraction=excess_fraction,
            known=KnownSince(at=at, until=by),
        )

    # ---- what an entry covers ---------------------------------------------------------------

    def _covers(self, entry: Entry, finding: Finding, infant_id: UUID | None) -> bool:
        """Whether a flag was open when an entry was made, no less urgent, and is no worse now.

        A later sign is new; a later measure is new where it is worse. What was entered later counts as
        later, whatever time it tells: nobody was told of it.
        """
        if finding.topic == ENGINE:
            return False
        if not finding.degrees and finding.at and told_at(entry) < finding.at < self._as_of:
            return False
        noted = (self._entries[key] for key in finding.noted_ids if key in self._entries)
        if any(_is_later(fact, entry) for fact in noted):
            return False
        then = self._then_open(entry).get((infant_id, finding.code), ())
        return any(_is_no_worse(finding, was) for was in then)

    def _then_open(self, entry: Entry) -> OpenThen:
        if entry.id not in self._then:
            self._then[entry.id] = self._open_then(told_at(entry), entry.entered_at)
        return self._then[entry.id]


def can_be_taken(finding: Finding) -> bool:
    """Whether a finding is one that somebody can be asked to act on, and can answer."""
    return finding.level != "note" and finding.topic not in SAYS_NOTHING_NEW


def usual_recipient(finding: Finding) -> str:
    """To whom a finding is handed over as a rule: a value of the field 'to' of a handover."""
    if _who_must_know(finding).startswith(AMBULANCE):
        return "emergency service"
    return {"emergency": "hospital", "physician": "physician"}.get(finding.level, "consultant")


def _who_must_know(finding: Finding) -> str:
    """Who must know, as the row says it; empty where it names nobody."""
    whom = finding.to_whom
    while isinstance(whom, Message) and whom.params and isinstance(whom.params[0][1], Message):
        whom = whom.params[0][1]
    return whom.template if isinstance(whom, Message) else ""


def _can_take(handover: Handover, finding: Finding) -> bool:
    """Whether those to whom it was handed can act on it: an emergency is a physician's, or of the team that its row names."""
    if finding.level != "emergency" or handover.is_to_physician:
        return True
    return handover.to == "other" and _who_must_know(finding).endswith(TEAM)


def called(role: str, name: str | None) -> Words:
    """Who took it over: by name where one was written."""
    if not name:
        return WHO[role]
    return message("{name} ({role})", name=name, role=ROLES[role])


def changes_by_time(entries: Iterable[Entry], content: Content) -> Iterable[datetime]:
    """The instants at which a handover may become late, and at which what is known is asked about."""
    waits = [timedelta(hours=content.constant(key).value) for key in ANSWERS_WITHIN]
    for entry in (one for one in entries if type(one.fact) in IN_CARE):
        if isinstance(entry.fact, Handover):
            by = entry.fact.answer_by
            yield from [by] if by else [entry.true_at + wait for wait in waits]
            longest = [latest_answer(level, entry.true_at, content) for level in RED]
            yield from (one for one in longest if one and by and one < by)
        elif isinstance(entry.fact, Known):
            open_h = content.constant(KNOWN_WITHOUT_DATE).value
            asked = _asked_for(entry.fact.flag, content)
            by = entry.fact.next_at or entry.true_at + timedelta(hours=open_h)
            latest = latest_next_date(entry.true_at, content)
            yield from (by, by + asked, latest, latest + asked)


def _asked_for(code: str, content: Content) -> timedelta:
    """How long the list only asks how it went, from its next date on, before a flag is back.

    A physician's flag whose row is due in hours has no day to spare: it is back after those hours, or
    after as many as an answer of a physician may take, where that is longer.
    """
    asked_h = content.constant(KNOWN_ASKED).value
    row = next((one for one in content.flags if one.code == code), None)
    if row is not None and row.level == "physician" and row.within_h is not None:
        answer_h = content.constant(ANSWER_WITHIN["physician"]).value
        asked_h = min(asked_h, max(row.within_h, answer_h))
    return timedelta(hours=asked_h)


def _from(since: datetime | None, entries: Sequence[Entry]) -> list[Entry]:
    return [one for one in entries if since is None or one.true_at >= since]


def _who_asks(finding: Finding, level: Level) -> Words:
    """Who must know of a flag that is known: where it is for the consultant to ask, the consultant."""
    if level not in ACTED_ON:
        return ""
    return WHO_ASKS if level == "consultant" != finding.level else finding.to_whom


def _while_in_care(finding: Finding) -> Sequence[Words]:
    """What is still said of a finding that somebody knows of: a question about its name is answered."""
    return finding.messages[:1] if finding.topic == ILLNESS else finding.messages


def _handed_in_vain(who: Words, at: datetime, *, asked: str) -> HandedOver:
    """An emergency that was handed to somebody who cannot take it stays where it was."""
    says = message(
        "Handed over to {who} at {at}; an emergency needs a hospital or a physician: phone now.",
        who=who, at=Instant(at),
    )  # fmt: skip
    briefly = message("Handed over to {who}; phone a hospital now.", who=who)
    return HandedOver(at=at, says=says, briefly=briefly, asked=asked, holds=False)


def _is_no_worse(finding: Finding, was: Finding) -> bool:
    """Whether a finding is as it was then, or better: the level, and all that is a matter of degree."""
    if LEVELS.index(finding.level) < LEVELS.index(was.level):
        return False
    return all(
        name in was.degrees and degree <= was.degrees[name]
        for name, degree in finding.degrees.items()
    )


def _is_later(fact: Entry, entry: Entry) -> bool:
    return fact.true_at > told_at(entry) or fact.entered_at > entry.entered_at
