"""Who needs someone now: the explicit order of the caseload, each place with its reason.

The order, most urgent first:

1. **red**: a red finding, in the order in which the content's table of rules names them;
2. **likely short**: the engine's probability that intake is short, at or above the content's limit
   (left out where the clinic turns the engine's ranking off, or the engine warns of itself);
3. **overdue**: the next contact, or a weight, is past due;
4. **watch**: something to look at;
5. **settled**: none of these.

Within a tier: the rule's place, how far beyond its limit, how many red findings there are, the
probability, how long overdue, then age, the youngest first. A family stands where its most urgent infant stands. A
probability never moves anyone out of, or into, the red tier.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

import msgspec

from suffice.assess.results import Finding, InfantAssessment, Rank, Tier, Urgency
from suffice.clinical.age import elapsed_h
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant
from suffice.inference.estimate import Estimate
from suffice.message import Chance, Message, Number, Words, message

UNKNOWN_AGE_H = 1.0e6
"""Sorts an infant without an instant of birth behind those whose age is known."""


class RankingRules(msgspec.Struct, frozen=True, kw_only=True):
    """What the order depends on.

    Attributes:
        red_order: Code of a red finding to its place; a code that is not named comes last.
        overdue_codes: Codes of the findings that say that something is past due.
        overdue_after: How long after its time a contact counts as past due, in hours.
        likely_short: Probability (0 to 1) from which intake counts as likely short.
        likely_short_from: Age from which it does, in days.
        with_engine: Whether the engine's probabilities take part.
    """

    red_order: Mapping[str, int]
    overdue_codes: frozenset[str]
    overdue_after: Constant
    likely_short: Constant
    likely_short_from: Constant
    with_engine: bool = True


class _Place(msgspec.Struct, frozen=True):
    """Where one infant, or the parent, stands; of equals the first-born's holds."""

    rank: Rank
    position: int = 0


def rank(
    infants: Sequence[InfantAssessment],
    family_findings: Sequence[Finding],
    rules: RankingRules,
    *,
    as_of: datetime,
    next_due_at: datetime | None,
) -> Rank:
    """The place of a family: that of its most urgent infant, or of a finding about the parent.

    Args:
        infants: The assessed infants; may be empty.
        family_findings: Findings about the parent or the family.
        rules: The order of red findings and the limit of 'likely short'.
        as_of: The instant of the question.
        next_due_at: When the next contact is due; None when none is planned.
    """
    overdue_h = _overdue_h(next_due_at, as_of, rules)
    places = [_place(infant, rules, overdue_h, several=len(infants) > 1) for infant in infants]
    places += _places_of_parent(infants, family_findings, rules, overdue_h)
    if not places:
        no_infant = (message("No infant is entered."),)
        return Rank(tier=Tier.WATCH, urgency=Urgency(), reason=no_infant)
    return min(places, key=lambda place: (place.rank.sort_key, place.position)).rank


def _overdue_h(next_due_at: datetime | None, as_of: datetime, rules: RankingRules) -> float:
    """How long the next contact has been due, in hours; 0 where it is not."""
    if next_due_at is None:
        return 0.0
    late_h = elapsed_h(next_due_at, as_of)
    return late_h if late_h > rules.overdue_after.value else 0.0


def _places_of_parent(
    infants: Sequence[InfantAssessment],
    findings: Sequence[Finding],
    rules: RankingRules,
    overdue_h: float,
) -> Iterator[_Place]:
    """Where findings about the parent put the family."""
    reds = _in_order(findings, rules)
    if reds:
        urgency = Urgency(
            rule_place=_rule_place(reds[0], rules), red_count=len(reds), overdue_h=overdue_h
        )
        yield _Place(Rank(tier=Tier.RED, urgency=urgency, reason=reds[0].messages))
    looks = [finding for finding in findings if finding.level == "amber"]
    if looks:
        youngest = min((_age_or_last(infant) for infant in infants), default=UNKNOWN_AGE_H)
        urgency = Urgency(overdue_h=overdue_h, age_h=youngest)
        yield _Place(Rank(tier=Tier.WATCH, urgency=urgency, reason=looks[0].messages))


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


def _place(
    infant: InfantAssessment, rules: RankingRules, overdue_h: float, *, several: bool
) -> _Place:
    age_h = _age_or_last(infant)
    probability = ranking_probability(infant.estimate, age_h, rules)
    reds = _in_order(infant.findings, rules)
    ambers = [finding for finding in infant.findings if finding.level == "amber"]
    due = [finding for finding in ambers if finding.code in rules.overdue_codes]
    # Rounded, so that the same infant asked a moment later does not change places with another.
    urgency = Urgency(
        short_probability=round(probability or 0.0, 2),
        overdue_h=round(overdue_h, 1),
        age_h=round(age_h, 1),
    )
    reason: tuple[Words, ...]
    if reds:
        urgency = msgspec.structs.replace(
            urgency,
            rule_place=_rule_place(reds[0], rules),
            excess_fraction=round(reds[0].excess_fraction, 2),
            red_count=len(reds),
        )
        tier, reason = Tier.RED, (*reds[0].messages, *_and_more(len(reds) - 1))
    elif infant.estimate is not None and is_likely_short(infant.estimate, age_h, rules):
        tier, reason = Tier.LIKELY_SHORT, _likely_short(infant.estimate, probability or 0.0)
    elif overdue_h > 0 or due:
        urgency = msgspec.structs.replace(urgency, short_probability=0.0)
        tier, reason = Tier.OVERDUE, (_overdue(overdue_h),) if overdue_h > 0 else due[0].messages
    elif ambers:
        tier, reason = Tier.WATCH, ambers[0].messages
    else:
        tier, reason = Tier.SETTLED, _settled(infant)
    if several:
        reason = (message("{name}:", name=infant.name), *reason)
    return _Place(Rank(tier=tier, urgency=urgency, reason=reason), infant.position)


def _rule_place(finding: Finding, rules: RankingRules) -> int:
    return rules.red_order.get(finding.code, len(rules.red_order))


def _age_or_last(infant: InfantAssessment) -> float:
    return infant.age_h if infant.age_h is not None else UNKNOWN_AGE_H


def _in_order(findings: Sequence[Finding], rules: RankingRules) -> list[Finding]:
    """The red findings, the most urgent first."""
    reds = [finding for finding in findings if finding.level == "red"]
    return sorted(reds, key=lambda finding: _rule_place(finding, rules))


def _and_more(count: int) -> tuple[Words, ...]:
    if count < 1:
        return ()
    return (message("({count} more red value.)", plural="({count} more red values.)", count=count),)


def _likely_short(estimate: Estimate, probability: float) -> tuple[Words, ...]:
    intake, need = estimate.total_intake, estimate.requirement
    return (
        message(
            "Intake is probably short ({percent}): about {intake} mL/day"
            " (80 % interval {low} to {high}) against a need of about {need} mL/day.",
            percent=Chance(probability),
            intake=Number(intake.median, 0),
            low=Number(intake.low_80, 0),
            high=Number(intake.high_80, 0),
            need=Number(need.median, 0),
        ),
    )


def _overdue(overdue_h: float) -> Message:
    days, hours = divmod(round(overdue_h), HOURS_PER_DAY)
    long = message("{days} d {hours} h", days=int(days), hours=int(hours))
    ago = long if days else message("{hours} h", hours=int(hours))
    return message("The next contact was due {ago} ago.", ago=ago)


def _settled(infant: InfantAssessment) -> tuple[Words, ...]:
    """What a calm place rests on, and what nobody looked at: silence is no good news."""
    gain = infant.figures.get("gain_g_per_day")
    if gain is None or gain.low is None or gain.high is None:
        calm = message("No red value, nothing overdue.")
    else:
        calm = message(
            "No red value, nothing overdue; gaining {gain} g/day ({level} % interval {low} to"
            " {high}).",
            gain=Number(gain.value, 0),
            level=Number(100 * (gain.level or 0), 0),
            low=Number(gain.low, 0),
            high=Number(gain.high, 0),
        )
    return (calm, *_unknown(infant))


def _unknown(infant: InfantAssessment) -> Iterator[Message]:
    """What is not known of an infant in whom nothing is amiss, as far as anybody saw."""
    if not any(row.age_h > 0 for row in infant.weights):
        yield message("Not weighed since birth.")
    asked = infant.figures.get("stools_24h_expected")
    counts = [infant.figures.get(name) for name in ("wets_24h", "stools_24h")]
    # Past the weeks in which stools are counted nobody is asked to count any more.
    if asked is not None and asked.value > 0:
        if all(count is None or count.high is None for count in counts):
            yield message("Wets and stools of the last 24 hours are not counted.")
        elif counts[0] is None or counts[0].high is None:
            yield message("Wets of the last 24 hours are not counted.")
        elif counts[1] is None or counts[1].high is None:
            yield message("Stools of the last 24 hours are not counted.")
    if infant.corrected_age_days is not None and infant.corrected_age_days < 0:
        yield message("Before term no limit here judges the gain.")
