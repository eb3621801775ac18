"""Who needs someone now: the explicit order of the caseload, each place with its reason.

The groups, most urgent first, each named by what is to be done:

1. **now**: an emergency that nobody has taken over, or that was handed over and is late;
2. **today**: what a physician sees the same day;
3. **handed over**: both of these, handed over and not late;
4. **within a day**: what the consultant sees within a day; an infant in its first week of whom not
   enough is known to be calm; an intake that the engine finds likely short (left out where the
   clinic turns the engine's ranking off, or the engine warns of itself);
5. **not known**: the same lack of knowledge in an older infant below four weeks;
6. **look again**: to be looked at, weighed or counted by a date; a contact that is past due;
7. **settled**: none of these.

Within a group the named parts of :class:`suffice.assess.results.Urgency` decide. A family stands
where its most urgent infant, or its parent, stands. A probability never moves anyone out of, or
into, the first three groups.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Final

import msgspec

from suffice.assess.calm import ended, settled
from suffice.assess.died import living, who_died
from suffice.assess.reason import beside, with_others
from suffice.assess.results import (
    DUE_FROM,
    TWO_THINGS,
    Finding,
    InfantAssessment,
    Rank,
    Tier,
    Urgency,
    doubts_last_weight,
)
from suffice.clinical.age import elapsed_h
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant
from suffice.inference.estimate import Estimate
from suffice.message import Ago, Chance, Message, Number, Words, message

UNKNOWN_AGE_H = 1.0e6
"""Sorts an infant without an instant of birth behind those whose age is known."""
TIER_OF_LEVEL: Final = {
    "emergency": Tier.NOW,
    "physician": Tier.TODAY,
    "consultant": Tier.WITHIN_A_DAY,
    "look": Tier.LOOK_AGAIN,
    "note": Tier.SETTLED,
}
RED: Final = frozenset({"emergency", "physician"})
NOT_KNOWN: Final = "not known"
"""Topic of the rows that say that not enough is known to be calm."""
ILLNESS: Final = "illness"
"""Topic of the rows that ask which sign a text means: words never stand before what was seen or measured."""
LATE_LEVELS: Final = frozenset({"physician", "look"})
"""Levels of which it is said that a finding is late; of the others the level or the act says it."""
WAS_DUE: Final = message("Weigh again now: it was due {due}")
"""What is said of a weight that was to be taken."""
NO_TIME_H: Final = 1.0e7
"""Sorts what has no time behind what has one."""
LATE_FIRST: Final = frozenset({Tier.WITHIN_A_DAY, Tier.NOT_KNOWN, Tier.LOOK_AGAIN})
"""Groups in which what is late stands first; in the others all of it is due at once."""


class RankingRules(msgspec.Struct, frozen=True, kw_only=True):
    """What the order depends on.

    Attributes:
        places: Code of a row of the table of flags to its place; a code that is not named comes last.
        hours: Code of a row whose group leaves no time to the hours that it gives.
        overdue_after: How long after its time a contact counts as past due, in hours.
        likely_short: Probability (0 to 1) from which intake counts as likely short.
        likely_short_from: Age from which it does, in days.
        with_engine: Whether the engine's probabilities take part.
    """

    places: Mapping[str, int]
    hours: Mapping[str, float] = {}
    overdue_after: Constant
    likely_short: Constant
    likely_short_from: Constant
    with_engine: bool = True


class _Place(msgspec.Struct, frozen=True):
    """Where one infant, or the parent, stands; of equals the first-born's holds."""

    rank: Rank
    position: int = 0


def tier_of(finding: Finding) -> Tier:
    """The group that a finding leads to: what a physician has taken over stands apart while it holds."""
    if finding.handed_over and finding.handed_over.holds and finding.level in RED:
        return Tier.HANDED_OVER
    if finding.level == "look" and finding.topic == NOT_KNOWN:
        return Tier.NOT_KNOWN
    if finding.is_left and finding.known is None and not is_taken(finding):
        return Tier.WITHIN_A_DAY
    return TIER_OF_LEVEL[finding.level]


def rank(
    infants: Sequence[InfantAssessment],
    family_findings: Sequence[Finding],
    rules: RankingRules,
    *,
    as_of: datetime,
    next_due_at: datetime | None,
    ended_on: date | None = None,
) -> Rank:
    """The place of a family: that of its most urgent infant, or of a finding about the parent.

    Args:
        infants: The assessed infants; may be empty.
        family_findings: Findings about the parent or the family.
        rules: The order of the rows and the limit of 'likely short'.
        as_of: The instant of the question.
        next_due_at: When the next contact is due; None when none is planned.
        ended_on: The local date on which the family was discharged from care; None while it is in care.
    """
    asked = _Asked(rules, as_of, _overdue_h(next_due_at, as_of, rules), ended_on)
    alive = living(infants)
    places = [
        _Place(best, infant.position)
        for infant in alive
        for best in [_of_infant(infant, asked, several=len(infants) > 1)]
    ]
    youngest = min((_age_or_last(infant) for infant in alive), default=UNKNOWN_AGE_H)
    red = [one for infant in alive for one in infant.findings if one.level in RED]
    of_parent = _of_findings(family_findings, asked, age_h=youngest, beside=red)
    places += [_Place(one) for one in of_parent]
    places += [_Place(one) for one in _of_died(infants, asked, is_planned=next_due_at is not None)]
    if not places:
        no_infant = (message("No infant is entered."),)
        return Rank(tier=Tier.LOOK_AGAIN, urgency=Urgency(), reason=no_infant)
    best = min(places, key=lambda place: (place.rank.sort_key, place.position)).rank
    return msgspec.structs.replace(best, reason=beside((*who_died(infants),), best.reason))


def _of_died(
    infants: Sequence[InfantAssessment], asked: _Asked, *, is_planned: bool
) -> Iterator[Rank]:
    """After a death the parent's next contact, of a twin where none is planned; where the record says two things, that."""
    last = _urgency(asked, age_h=UNKNOWN_AGE_H, due_h=NO_TIME_H, rule_place=len(asked.rules.places))
    are_dead = [one for one in infants if one.died]
    if any(one.death_doubt for one in infants):
        yield Rank(tier=Tier.LOOK_AGAIN, urgency=last, reason=(TWO_THINGS,))
    if not are_dead or (living(infants) and (is_planned or asked.ended_on)):
        return
    if asked.ended_on is not None:
        yield Rank(tier=Tier.SETTLED, urgency=last, reason=(ended(asked.ended_on),))
        return
    # Nobody calls such a family settled: it stays among those to look at until it is discharged.
    contact = message(
        "No contact with the parent is planned: offer support in the loss, ask about the breasts and"
        " what is wished for the milk."
    )
    if living(infants):
        contact = message("No contact with the parent is planned: offer support in the loss.")
    elif asked.overdue_h > 0:
        contact = message("The next contact with the parent is due.")
    elif is_planned:
        contact = message("The next contact with the parent is planned.")
    yield Rank(tier=Tier.LOOK_AGAIN, urgency=last, reason=(contact,))


class _Asked(msgspec.Struct, frozen=True):
    """What is the same for everybody of a family."""

    rules: RankingRules
    as_of: datetime
    overdue_h: float
    ended_on: date | None = None


def _overdue_h(next_due_at: datetime | None, as_of: datetime, rules: RankingRules) -> float:
    """How long the next contact has been due, in hours; 0 where it is not."""
    if next_due_at is None:
        return 0.0
    late_h = elapsed_h(next_due_at, as_of)
    return late_h if late_h > rules.overdue_after.value else 0.0


def short_probability(estimate: Estimate | None) -> float | None:
    """The engine's probability that intake is short; None where it may not be used to rank."""
    if estimate is None or not estimate.is_reliable:
        return None
    return estimate.intake_short_probability


def ranking_probability(
    estimate: Estimate | None, age_h: float, rules: RankingRules
) -> float | None:
    """The probability that intake is short, where it takes part in the order; else None."""
    if not rules.with_engine or age_h < rules.likely_short_from.value * HOURS_PER_DAY:
        return None
    return short_probability(estimate)


def is_likely_short(estimate: Estimate | None, age_h: float, rules: RankingRules) -> bool:
    """Whether the probability that intake is short reaches the limit of the ranking."""
    probability = ranking_probability(estimate, age_h, rules)
    return probability is not None and probability >= rules.likely_short.value


def _of_infant(infant: InfantAssessment, asked: _Asked, *, several: bool) -> Rank:
    """The most urgent of the places that an infant's findings, the engine and the diary give it."""
    age_h = _age_or_last(infant)
    probability = ranking_probability(infant.estimate, age_h, asked.rules) or 0.0
    places = [
        *_of_findings(infant.findings, asked, age_h=age_h, probability=probability),
        *_of_engine(infant, asked, age_h=age_h, probability=probability),
        *_of_contact(asked, age_h=age_h),
        Rank(
            tier=Tier.SETTLED,
            urgency=_urgency(asked, age_h=age_h, short_probability=probability),
            reason=_calm(infant, asked),
        ),
    ]
    best = min(places, key=lambda one: one.sort_key)
    if not several:
        return best
    return msgspec.structs.replace(
        best, reason=(message("{name}:", name=infant.name), *best.reason)
    )


def _calm(infant: InfantAssessment, asked: _Asked) -> tuple[Words, ...]:
    """Why nobody is needed; once care has ended that and when, unless a physician still follows something."""
    if asked.ended_on is None or any(one.known for one in infant.findings):
        return settled(infant)
    return (ended(asked.ended_on),)


def _of_findings(
    findings: Sequence[Finding],
    asked: _Asked,
    *,
    age_h: float,
    probability: float = 0.0,
    beside: Sequence[Finding] = (),
) -> Iterator[Rank]:
    """One place for each group that a finding leads to: that of its most urgent finding.

    Its reason names those beside it too, first: of the parent's what is red of an infant.
    """
    groups: dict[Tier, list[Finding]] = {}
    for finding in findings:
        tier = tier_of(finding)
        if tier is not Tier.SETTLED:
            groups.setdefault(tier, []).append(finding)
    for tier, found in groups.items():
        first = min(
            found,
            key=lambda one: (
                is_taken(one),
                due_h(one, asked.rules, asked.as_of),
                _place(one, asked),
            ),
        )
        urgency = _urgency(
            asked,
            age_h=age_h,
            is_taken=is_taken(first),
            due_h=due_h(first, asked.rules, asked.as_of),
            rule_place=_place(first, asked),
            excess_fraction=round(first.excess_fraction, 2),
            flag_count=len(found),
            short_probability=probability,
        )
        yield Rank(tier=tier, urgency=urgency, reason=_reason((*beside, *findings), first, asked))


def _of_engine(
    infant: InfantAssessment, asked: _Asked, *, age_h: float, probability: float
) -> Iterator[Rank]:
    """Within a day, where the engine finds intake likely short; looked at again, where it doubts the last weight."""
    urgency = _urgency(
        asked,
        age_h=age_h,
        due_h=NO_TIME_H,
        rule_place=len(asked.rules.places),
        short_probability=probability,
    )
    if infant.estimate is not None and is_likely_short(infant.estimate, age_h, asked.rules):
        yield Rank(
            tier=Tier.WITHIN_A_DAY,
            urgency=urgency,
            reason=(*_likely_short(infant.estimate, probability), *_joined(infant)),
        )
    # What is to be weighed again today is not settled, whatever the engine makes of the other weights.
    if doubts_last_weight(infant.estimate):
        yield Rank(tier=Tier.LOOK_AGAIN, urgency=urgency, reason=settled(infant))


def _of_contact(asked: _Asked, *, age_h: float) -> Iterator[Rank]:
    """To be looked at again, where the next contact is past due."""
    if asked.overdue_h > 0:
        yield Rank(
            tier=Tier.LOOK_AGAIN,
            urgency=_urgency(
                asked, age_h=age_h, due_h=NO_TIME_H, rule_place=len(asked.rules.places)
            ),
            reason=(_overdue(asked.overdue_h),),
        )


def _urgency(
    asked: _Asked,
    *,
    age_h: float,
    is_taken: bool = False,
    due_h: float = 0.0,
    rule_place: int = 0,
    excess_fraction: float = 0.0,
    flag_count: int = 0,
    short_probability: float = 0.0,
) -> Urgency:
    """Rounded, so that the same infant asked a moment later does not change places with another."""
    return Urgency(
        is_taken=is_taken,
        due_h=due_h,
        rule_place=rule_place,
        excess_fraction=excess_fraction,
        flag_count=flag_count,
        short_probability=round(short_probability, 2),
        overdue_h=round(asked.overdue_h, 1),
        age_h=round(age_h, 1),
    )


def is_taken(finding: Finding) -> bool:
    """Whether it stands behind equals whom nobody has taken.

    A red one whose answer is late does too: somebody knows of it, and is to be asked again.
    """
    taken = finding.handed_over
    return taken is not None and (taken.holds or (taken.is_late and finding.level in RED))


def due_h(finding: Finding, rules: RankingRules, as_of: datetime) -> float:
    """When a finding is to be acted on, as its part of the order: the sooner, the smaller.

    In the groups that leave time what is late stands first, then what is due sooner, then what has no
    time and what is only named in words; in the others all is due at once, and a row that leaves fewer hours stands before the rest.
    """
    if tier_of(finding) not in LATE_FIRST:
        return rules.hours.get(finding.code, 0.0)
    if finding.due_at is None or finding.topic == ILLNESS:
        return NO_TIME_H
    return 0.0 if as_of > finding.due_at else round(elapsed_h(DUE_FROM, finding.due_at), 2)


def _place(finding: Finding, asked: _Asked) -> int:
    return asked.rules.places.get(finding.code, len(asked.rules.places))


def _age_or_last(infant: InfantAssessment) -> float:
    return infant.age_h if infant.age_h is not None else UNKNOWN_AGE_H


def says_late(finding: Finding, as_of: datetime) -> bool:
    """Whether a finding is past the hours that its row names, and nobody has taken it.

    Of an emergency 'now' says all; of what the consultant sees the act says it.
    """
    is_late = finding.due_at is not None and as_of > finding.due_at
    is_said = finding.known is not None or any(map(_names_due_time, finding.messages))
    may_be = finding.has_own_time and finding.level in LATE_LEVELS and not is_taken(finding)
    return is_late and may_be and not is_said


def _names_due_time(words: Words) -> bool:
    """Whether a sentence says by itself that something was due."""
    if not isinstance(words, Message):
        return False
    parts = (value for _, value in words.params if isinstance(value, Message))
    return any(one.template == WAS_DUE.template for one in parts)


def _reason(findings: Sequence[Finding], first: Finding, asked: _Asked) -> tuple[Words, ...]:
    """Its sentence, that it is late, and what else is red or to be seen within a day: a reader weighs them together.

    Where the first says only what is not known, everything that was seen is named.
    """
    last = Tier.LOOK_AGAIN if first.topic == NOT_KNOWN else Tier.WITHIN_A_DAY
    others = [one for one in findings if one is not first and tier_of(one) <= last and one.name]
    names = [one.name for one in others if one.topic != NOT_KNOWN]
    unknown = [one.name for one in others if one.topic == NOT_KNOWN]
    late = first.due_at if says_late(first, asked.as_of) else None
    return with_others(first, names, unknown, late_since=late)


def _likely_short(estimate: Estimate, probability: float) -> tuple[Words, ...]:
    intake, need = estimate.total_intake, estimate.requirement
    return (
        message(
            "Intake probably short ({percent}): about {intake} mL/day"
            " (80 %: {low} to {high}), need {need} mL/day.",
            percent=Chance(probability),
            intake=Number(intake.median, 0),
            low=Number(intake.low_80, 0),
            high=Number(intake.high_80, 0),
            need=Number(need.median, 0),
        ),
    )


def _joined(infant: InfantAssessment) -> tuple[Words, ...]:
    """Why the rules are calm beside it, where they are."""
    return (infant.agreement,) if infant.agreement else ()


def _overdue(overdue_h: float) -> Message:
    return message("The next contact was due {ago}.", ago=Ago(overdue_h))
