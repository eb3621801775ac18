"""The one next thing to do about an infant, or the parent, with its time.

It is what the most urgent open finding asks for; where none asks for anything, what is planned. When
to weigh comes after it. Neither is ever less urgent than the place on the caseload.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.ranking import (
    ILLNESS,
    WAS_DUE,
    RankingRules,
    due_h,
    is_likely_short,
    is_taken,
    says_late,
    tier_of,
)
from suffice.assess.reason import ASK_FIRST
from suffice.assess.results import Act, Finding, InfantAssessment, Tier, doubts_last_weight
from suffice.assess.weigh_again import ACT as ACT_FIRST
from suffice.assess.weigh_again import BY_DAY, OVERDUE
from suffice.clinical.age import elapsed_h
from suffice.clinical.working import Constant
from suffice.message import Day, Instant, Message, Words, joined, message

RED: Final = frozenset({"emergency", "physician"})
OF_WEIGHT: Final = frozenset({"weight", "gain", "growth"})
WEIGH_NOW: Final = message("Weigh now")
WHEN_SEEN: Final = message("Weigh when seen.")
SEEN_AND_AGAIN: Final = message("Weigh when seen, and again by {day}.")
ASKS: Final[Mapping[str, Message]] = {
    **OVERDUE,
    "output-unknown": message("Ask for wets and stools today"),
    "feeds-unknown": message("Ask about feeds today"),
    "feeds-were-few": message("Ask about feeds today"),
    "birth-unknown": message("Enter the birth facts today"),
    "birth-facts-missing": message("Enter gestation and birth weight"),
    "nothing-seen": message("Weigh, and ask for wets, stools and feeds"),
    "clothed-weights-only": message("Weigh naked"),
    "weigh-without-clothes": message("Weigh naked"),
    "weigh-older-without-clothes": message("Weigh naked"),
    "weigh-on-known-scale": message("Weigh naked"),
    "weigh-older-on-known-scale": message("Weigh naked"),
    "weight-leaps": message("Weigh naked"),
    "weight-not-judged": message("Weigh naked"),
    "bilirubin-under-light": message("Ask for the next bilirubin"),
    "felt-and-measured": message("Take the temperature again within 4 hours"),
    "weight-looks-wrong": message("Confirm or correct the weight that looks wrong"),
    "birth-weight-looks-wrong": message("Look up the birth weight, and correct it if it is wrong"),
}
"""Code of a finding to what it asks for, where that is one thing."""
WHAT: Final[Mapping[str, Message]] = {
    **dict.fromkeys(OF_WEIGHT, message("weigh again")),
    "output": message("count wets and stools"),
    "feeding": message("ask about feeds"),
    "temperature": message("take the temperature again"),
    ILLNESS: message("choose the sign from the list"),
}
"""Topic of a finding that is to be looked at to what is done."""
WEIGH_FIRST: Final = message(
    "Weigh again first, at once and naked: if the weight is right, this does not wait."
)
"""What is done before an act that rests on a weight which looks wrong."""
SEE: Final = message("see the infant")
LOOK: Final = message("look again")
TALK: Final = message("talk to the parent")
AFTER_DEATH: Final = message("plan a contact: offer support in the loss")
"""What is done about a parent whose infant has died, where no contact is planned."""
THE_SAME_DAY: Final = "the same day"
SOON: Final[Mapping[str, Message]] = {
    "now": message("{who} now"),
    THE_SAME_DAY: message("{who} today"),
}
"""How soon somebody must know, as the rows have it, to who and when in a few words."""


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What the judgement of every infant of a family depends on beside its own findings.

    Attributes:
        rules: The limits of the ranking.
        settled: Certainty (0 to 1) at which a question counts as settled.
        as_of: The instant of the question.
        zone: The clinic's.
        next_due_at: When the next contact is due; None when none is planned.
        ended_on: The clinic's local date on which the family was discharged from care; None while it is in care.
        solids_from: Age in days from which solids may bring part of the energy.
    """

    rules: RankingRules
    settled: Constant
    as_of: datetime
    zone: ZoneInfo
    next_due_at: datetime | None
    ended_on: date | None
    solids_from: Constant

    @property
    def is_discharged(self) -> bool:
        """Whether the family was discharged from care."""
        return self.ended_on is not None

    def day(self, instant: datetime) -> date:
        """The clinic's local date."""
        return instant.astimezone(self.zone).date()

    @property
    def today(self) -> date:
        """The local date of the question."""
        return self.day(self.as_of)

    @property
    def is_overdue(self) -> bool:
        """Whether the next contact is past due."""
        due = self.next_due_at
        late_h = 0.0 if due is None else elapsed_h(due, self.as_of)
        return late_h > max(0.0, self.rules.overdue_after.value)


def most_urgent(findings: Iterable[Finding], asked: Asked) -> Finding | None:
    """The finding that is acted on first; None where all are notes.

    By the group that it leads to; in one group those that nobody has taken, then what is late or due
    sooner, then as the findings stand: as the order of the caseload has it.
    """
    open_ = [one for one in findings if tier_of(one) < Tier.SETTLED]
    return min(
        open_,
        key=lambda one: (
            tier_of(one),
            is_taken(one),
            due_h(one, asked.rules, asked.as_of),
        ),
        default=None,
    )


def act_about_parent(
    findings: Iterable[Finding], asked: Asked, *, after_death: bool = False
) -> Act | None:
    """What is done next about the parent; None where nothing asks for it.

    Args:
        findings: Of the parent.
        asked: What the judgement depends on beside them.
        after_death: Whether an infant of the family has died: then a contact is planned, until care ends.
    """
    first = most_urgent(findings, asked)
    if first is not None:
        return _act_of(first, None, asked)
    if after_death and asked.next_due_at is None and not asked.is_discharged:
        return Act(says=AFTER_DEATH, tier=Tier.LOOK_AGAIN)
    return None


def act_about(infant: InfantAssessment, asked: Asked) -> Act:
    """What is done next about an infant: there is always something, if only to wait."""
    first = most_urgent(infant.findings, asked)
    is_short = infant.age_h is not None and is_likely_short(
        infant.estimate, infant.age_h, asked.rules
    )
    if is_short and (first is None or tier_of(first) > Tier.WITHIN_A_DAY):
        return Act(
            says=message("See the infant within 24 hours and watch a feed"), tier=Tier.WITHIN_A_DAY
        )
    if first is not None and not (asked.is_overdue and tier_of(first) > Tier.LOOK_AGAIN):
        return _act_of(first, infant, asked)
    return _as_planned(infant, asked)


def then(infant: InfantAssessment, act: Act, asked: Asked) -> Words:
    """What follows the act: what is left to do where it was handed over, and when to weigh."""
    finding = _named(infant, act)
    help_ = _until_help(finding)
    if finding is not None and ASK_FIRST in finding.messages:
        return joined(help_, WEIGH_FIRST)
    if act.tier is Tier.NOW:
        return help_
    others = [one for one in infant.findings if one.handed_over is None]
    own = most_urgent(others, asked) if act.tier is Tier.HANDED_OVER else None
    if own is not None:
        meanwhile = message("Meanwhile: {what}.", what=_says(own, infant, asked))
        return joined(help_, meanwhile) if help_ else meanwhile
    if help_:
        return help_
    is_said = act.code in ASKS or (finding is not None and _says_when_to_weigh(finding))
    if is_said or act.says == WEIGH_NOW or asked.is_discharged:
        return ""
    return _weigh(infant, act, asked)


def _until_help(finding: Finding | None) -> Words:
    """Whom to phone, unless somebody has been asked already, and what to do until help comes."""
    if finding is None or finding.level != "emergency":
        return ""
    meanwhile = finding.until_help
    return joined(
        finding.get_help if finding.handed_over is None else "",
        message("Until help comes: {what}", what=meanwhile) if meanwhile else "",
    )


def _weigh(infant: InfantAssessment, act: Act, asked: Asked) -> Words:
    """When to weigh: by the advice, else at the contact that the act names."""
    weigh, is_seen = infant.weigh_again, act.tier <= Tier.WITHIN_A_DAY
    if weigh is None:
        return WHEN_SEEN if is_seen else _weigh_later(infant, asked)
    if is_seen and weigh.by == "overdue":
        return message("Weigh when seen: a weight is overdue.")
    parts = tuple(part for part in weigh.advice if part != ACT_FIRST)
    if weigh.on is None:
        # Whoever is seen within a day is weighed then: what was planned before must not read as 'not before'.
        return joined(*parts[:-1], WHEN_SEEN) if is_seen else joined(*parts)
    if weigh.by == "rule" and not is_seen and _is_sooner(infant, weigh.on, asked):
        # From that day on two weights can tell; nobody is to wait for it.
        return _weigh_later(infant, asked)
    last = parts[-1]
    if weigh.on <= asked.today:
        is_dated = isinstance(last, Message) and "day" in last.values
        return joined(*parts[:-1], message("Weigh again today.") if is_dated else last)
    # Who is seen within a day is weighed then: a later date must not read as 'not before'.
    on = message("Weigh again on {day}.", day=Day(weigh.on))
    if is_seen:
        on = SEEN_AND_AGAIN.with_params(day=Day(weigh.on))
    return joined(*parts[:-1], on)


def _is_sooner(infant: InfantAssessment, on: date, asked: Asked) -> bool:
    """Whether the next contact, or the day on which the last weight will be too old, comes before a date."""
    ends = (infant.weight_stands_until, asked.next_due_at)
    return any(one is not None and asked.day(one) < on for one in ends)


def _weigh_later(infant: InfantAssessment, asked: Asked) -> Words:
    """At the next contact, or by the day on which the last weight will be too old, if that is sooner."""
    until, due = infant.weight_stands_until, asked.next_due_at
    if until is not None and (due is None or asked.day(until) < asked.day(due)):
        return BY_DAY.with_params(day=Day(asked.day(until)))
    return message("Weigh at the next contact.")


def _act_of(finding: Finding, infant: InfantAssessment | None, asked: Asked) -> Act:
    return Act(says=_says(finding, infant, asked), tier=tier_of(finding), code=finding.code)


def _says(finding: Finding, infant: InfantAssessment | None, asked: Asked) -> Words:
    taken = finding.handed_over
    if taken is not None and (taken.holds or taken.is_late):
        return taken.says
    if finding.level in RED:
        return _whom(finding, asked)
    if finding.known is not None:
        return message("Ask how it went: {what}", what=finding.name or finding.code)
    if finding.code in ASKS:
        return ASKS[finding.code]
    if infant is None:
        return _by(TALK, finding, asked)
    if finding.level == "consultant" and finding.topic != ILLNESS:
        return _by(SEE, finding, asked)
    if _says_when_to_weigh(finding):
        return _weigh_by(finding, infant, asked)
    return _by(WHAT.get(finding.topic, LOOK), finding, asked)


def _whom(finding: Finding, asked: Asked) -> Words:
    """Who must know, and when: 'physician today'; that it is late where the row names its hours."""
    whom = finding.to_whom
    if not isinstance(whom, Message):
        return whom
    if says_late(finding, asked.as_of) and finding.due_at is not None:
        who, due = whom.values.get("who", whom), finding.due_at
        return message("{what} now: it was due {at}", what=who, at=Instant(due))
    soon = whom.values.get("soon")
    short = SOON.get(soon.template) if isinstance(soon, Message) else None
    return whom if short is None else short.with_params(who=whom.values["who"])


def _by(what: Message, finding: Finding, asked: Asked) -> Words:
    """What is done, and by when."""
    due = finding.due_at
    if due is None:
        return message("{what} today", what=what)
    if _is_late(finding, asked.as_of):
        return message("{what} now: it was due {at}", what=what, at=Instant(due))
    if _is_the_same_day(finding):
        # By a time of the next day it would be said to have time that its own sentence does not give.
        return message("{what} today", what=what)
    return message("{what} by {at}", what=what, at=Instant(due))


def _weigh_by(finding: Finding, infant: InfantAssessment, asked: Asked) -> Words:
    """To weigh again by the date of the finding, or on the one that is advised if that is sooner."""
    due, advised = finding.due_at, infant.weigh_again
    on = advised.on if advised is not None else None
    if due is not None and _is_late(finding, asked.as_of):
        return WAS_DUE.with_params(due=Instant(due))
    if due is None or on is None or on >= asked.day(due):
        return _by(WHAT["weight"], finding, asked)
    if on <= asked.today:
        return message("Weigh again today")
    return message("Weigh again on {day}", day=Day(on))


def _says_when_to_weigh(finding: Finding) -> bool:
    """Whether what the finding asks for is a weight."""
    return finding.level == "look" and finding.topic in OF_WEIGHT and finding.known is None


def _as_planned(infant: InfantAssessment, asked: Asked) -> Act:
    """What is done where no finding asks for anything: the next contact, or the next weight.

    Nothing is said to be calm beyond the time at which what is known will be too old, or at which
    somebody is to be asked how it went.
    """
    due = asked.next_due_at
    if asked.is_discharged:
        return Act(says=message("Nothing: discharged from care"), tier=Tier.SETTLED)
    if due is not None and due <= asked.as_of:
        tier = Tier.LOOK_AGAIN if asked.is_overdue else Tier.SETTLED
        return Act(says=message("See the family: it was due {at}", at=Instant(due)), tier=tier)
    if doubts_last_weight(infant.estimate):
        return Act(says=WEIGH_NOW, tier=Tier.LOOK_AGAIN)
    weigh = infant.weigh_again
    days = [weigh.on] if weigh is not None and weigh.on is not None else []
    if days and days[0] <= asked.today:
        return Act(says=WEIGH_NOW, tier=Tier.SETTLED)
    if due is not None:
        days.append(asked.day(due))
    if not days:
        return Act(says=message("Plan the next contact: none is planned"), tier=Tier.SETTLED)
    if min(days) <= asked.today:
        return Act(says=message("See the family today"), tier=Tier.SETTLED)
    days += [asked.day(one) for one in _horizons(infant) if one > asked.as_of]
    if min(days) <= asked.today:
        return Act(says=message("Ask how it goes today"), tier=Tier.SETTLED)
    return Act(says=message("Nothing before {day}", day=Day(min(days))), tier=Tier.SETTLED)


def _horizons(infant: InfantAssessment) -> Iterator[datetime]:
    """When what is known will be too old, and when what a physician knows of is to be asked about."""
    stands = (infant.weight_stands_until, infant.counts_stand_until)
    yield from (one for one in stands if one is not None)
    yield from (one.due_at for one in infant.findings if one.level == "note" and one.due_at)


def _named(infant: InfantAssessment, act: Act) -> Finding | None:
    return next((one for one in infant.findings if act.code and one.code == act.code), None)


def _is_the_same_day(finding: Finding) -> bool:
    """Whether the row asks for it the same day."""
    whom = finding.to_whom
    soon = whom.values.get("soon") if isinstance(whom, Message) else None
    return isinstance(soon, Message) and soon.template == THE_SAME_DAY


def _is_late(finding: Finding, as_of: datetime) -> bool:
    return finding.due_at is not None and as_of > finding.due_at
