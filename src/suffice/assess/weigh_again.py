"""When to weigh again: one date with one reason, whoever is asked.

Two rules could name a date, because they ask different questions. The plain rule asks from when
two weights alone would tell a slow gain from a brisk one; the engine asks, of all the evidence, on
which day one more weight would settle whether the gain is below the limit. Two dates on one page
would be one too many, so this module decides which is said (docs/reference/ranking.md):

1. a weight that is overdue: now;
2. the engine's, where it answers and may be trusted: now, where it doubts the last weight;
3. the plain rule's, where the engine is refused, not asked, not trusted or turned off.

Where a red finding about weight or gain stands, or intake is likely short, the advice first says
that acting does not wait for a weight; where that red finding rests on a weight that looks wrong, it
says to correct or confirm it first.

What the other rule would have said stands in the working, as days and not as a date.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.case import Case, Review
from suffice.assess.engine.ask import CANNOT_TELL, limit_asked, speaks_of_intake
from suffice.assess.ranking import OVERDUE_CODES, is_likely_short
from suffice.assess.results import WeighAgain
from suffice.assess.rules.red_flag import ranking_rules, weight_codes
from suffice.clinical.reading.writing import chance_text
from suffice.clinical.weight.gain import TellApart
from suffice.clinical.working import Quantity, Working
from suffice.inference.estimate import Estimate
from suffice.language.amounts import age_said, amount_said, day_said
from suffice.language.catalogue import reworded, say

LAST_WEIGHT_DOUBTED: Final = "last-weight-suspect"
ASKED: Final = (
    "population.question_settled",
    "population.question_settling_chance",
    "population.question_weighing_days_max",
    "population.noise_physiological_g",
)
"""Keys of what the engine's choice of a day depends on, beside the limit of gain at that age."""


class _Urgency(msgspec.Struct, frozen=True, kw_only=True):
    """What goes before weighing again.

    Attributes:
        acts: Whether a red finding about weight or gain that nobody doubts stands, or intake is
            likely short.
        doubt: What to ask of a weight that looks wrong and on which a red finding rests; or empty.
        doubt_reason: Why.
        next_due_at: When the next contact is due; None when none is planned.
    """

    acts: bool
    doubt: str
    doubt_reason: str
    next_due_at: datetime | None


def review_weigh_again(
    case: Case, review: Review, estimate: Estimate | None, *, next_due_at: datetime | None
) -> WeighAgain | None:
    """The one date to weigh again; findings that cannot tell a gain end with it.

    None where nothing names a date: before there are two weights, and where the engine was content
    with a sketch, whose day may differ by one from the full answer's.

    Args:
        case: The infant.
        review: Holds its findings.
        estimate: The engine's answer; None where it is not asked.
        next_due_at: When the next contact is due; None when none is planned.
    """
    advice = _overdue(case, review) or _advised(case, review, estimate, next_due_at)
    if advice is None:
        return None
    for place, finding in enumerate(review.findings):
        if finding.code.endswith(CANNOT_TELL):
            review.findings[place] = msgspec.structs.replace(
                finding,
                sentence=f"{finding.sentence} {advice.briefly}",
                template=f"{finding.template} {{weigh}}",
                params={**finding.params, "weigh": advice.briefly},
            )
    return advice


def _overdue(case: Case, review: Review) -> WeighAgain | None:
    late = next((one for one in review.findings if one.code in OVERDUE_CODES), None)
    if late is None:
        return None
    advice = say("Weigh now: a weight is overdue.", {}, review.language)
    return WeighAgain(
        by="overdue",
        on=_local_date(case.as_of, case.zone),
        advice=advice,
        reason="",
        briefly=advice,
        working=late.working,
    )


def _advised(
    case: Case, review: Review, estimate: Estimate | None, next_due_at: datetime | None
) -> WeighAgain | None:
    """What the engine advises where it may be trusted, else what the plain rule does."""
    if case.policy.engine_ranking and estimate is not None and _may_be_trusted(estimate, case):
        is_full = estimate.diagnostics.kind == "full"
        urgency = _urgency(case, review, estimate, next_due_at)
        return _by_engine(case, review, estimate, urgency) if is_full else None
    if review.tells is None or review.tells.can or case.born_at is None:
        return None
    advised = _by_plain_rule(case, review, review.tells, case.born_at)
    if not _reds(case, review):
        return advised
    return msgspec.structs.replace(advised, advice=f"{_act(review)} {advised.advice}")


def _reds(case: Case, review: Review) -> list[str]:
    """The codes of the red findings about weight or gain."""
    about_weight = weight_codes(case.content)
    return [one.code for one in review.findings if one.level == "red" and one.code in about_weight]


def _act(review: Review) -> str:
    return say("Acting does not wait for a weight.", {}, review.language)


def _urgency(
    case: Case, review: Review, estimate: Estimate, next_due_at: datetime | None
) -> _Urgency:
    """Whether to act before a weight is taken, and which weight to doubt before acting."""
    wrong_from = case.content.constant("ranking.wrong_weight_fraction").value
    wrong = {
        one.reading_id: one.probability
        for one in estimate.suspects
        if one.probability >= wrong_from
    }
    reds, is_doubted = _reds(case, review), {}
    for code in reds:
        rests_on = {str(entry_id) for entry_id in review.rests_on.get(code, ())}
        is_doubted[code] = sorted(rests_on & wrong.keys(), key=lambda one: -wrong[one])
    named = [ids[0] for ids in is_doubted.values() if ids]
    weighing = next((one for one in case.weighings if str(one.entry_id) in named[:1]), None)
    doubt = reason = ""
    if weighing is not None:
        params = {
            "weight": amount_said(weighing.weight_g, "g", case.policy),
            "age": age_said(weighing.age_h, review.language),
            "percent": chance_text(wrong[named[0]]),
        }
        doubt = say(
            "First correct or confirm the weight of {weight} at {age}.", params, review.language
        )
        reason = say(
            "A red value rests on it, and it looks wrong ({percent}).", params, review.language
        )
    rules = ranking_rules(case.content, case.policy)
    is_short = case.age_h is not None and is_likely_short(estimate, case.age_h, rules)
    return _Urgency(
        acts=is_short or not all(is_doubted.values()),
        doubt=doubt,
        doubt_reason=reason,
        next_due_at=next_due_at,
    )


def _may_be_trusted(estimate: Estimate, case: Case) -> bool:
    return estimate.is_reliable and speaks_of_intake(estimate, case.content)


def _by_engine(case: Case, review: Review, estimate: Estimate, urgency: _Urgency) -> WeighAgain:
    language, asked = review.language, estimate.next_weighing
    working = _engine_working(case, review, estimate)
    today = _local_date(case.as_of, case.zone)
    if any(one.code == LAST_WEIGHT_DOUBTED for one in estimate.cautions):
        advice = say("Weigh again now, naked.", {}, language)
        reason = say(
            "The last weight does not fit the others, and weights alone cannot tell which is right.",
            {},
            language,
        )
        return WeighAgain(
            by="engine",
            on=today,
            advice=f"{urgency.doubt} {advice}".strip(),
            reason=reason,
            briefly=advice,
            working=working,
        )
    because = reworded(asked.because, language)
    if not asked.in_days:
        return _on_no_day(case, review, urgency, because, working)
    day = today + timedelta(days=asked.in_days)
    template = (
        "Weigh again on {day}, in 1 day."
        if asked.in_days == 1
        else "Weigh again on {day}, in {days} days."
    )
    params = {"day": day_said(day, language), "days": f"{asked.in_days}"}
    return WeighAgain(
        by="engine",
        on=day,
        advice=" ".join((*_first(review, urgency), say(template, params, language))),
        reason=because,
        # A kept rank is read later: its sentence names the date and counts no days.
        briefly=say("Weigh again on {day}.", params, language),
        working=working,
    )


def _first(review: Review, urgency: _Urgency) -> tuple[str, ...]:
    """What is said before any weighing: which weight to doubt, and that acting does not wait."""
    act = _act(review) if urgency.acts else ""
    return tuple(part for part in (urgency.doubt, act) if part)


def _on_no_day(
    case: Case, review: Review, urgency: _Urgency, because: str, working: Working
) -> WeighAgain:
    """The advice where it is settled already, or no day within reach settles it.

    Neither is a reason to drop a planned weight; and where there is cause to act, the plan is named.
    """
    on, reason, briefly = None, because, because
    parts = [*_first(review, urgency)]
    if urgency.acts:
        planned, on = _next_contact(case, review, urgency.next_due_at)
        parts.append(planned)
    elif urgency.doubt:
        # With a weight that looks wrong no reader believes what is settled without it.
        reason, briefly = urgency.doubt_reason, urgency.doubt
    else:
        parts.append(say("Weigh as planned.", {}, review.language))
    return WeighAgain(
        by="engine",
        on=on,
        advice=" ".join(parts),
        reason=reason,
        briefly=briefly,
        working=working,
    )


def _next_contact(case: Case, review: Review, due_at: datetime | None) -> tuple[str, date | None]:
    """The next contact in a sentence, and its date where that is still to come."""
    if due_at is None:
        return say("No next contact is planned.", {}, review.language), None
    due = _local_date(due_at, case.zone)
    params = {"day": day_said(due, review.language)}
    if due_at < case.as_of:
        past = "Weigh at the next contact, which was due on {day}."
        return say(past, params, review.language), None
    ahead = "Weigh at the next contact, planned for {day}."
    return say(ahead, params, review.language), due


def _engine_working(case: Case, review: Review, estimate: Estimate) -> Working:
    """How the engine chose the day, and what the plain rule of two weights asks for."""
    asked = estimate.next_weighing
    chances = tuple(
        Quantity(
            name=f"chance that it is settled by a weight on day {days} from now",
            value=round(100 * chance),
            unit="%",
        )
        for days, chance, _half in asked.candidates
    )
    plain = () if review.tells is None else _days_of(review.tells)
    known = case.content.constants("population")
    return Working(
        formula=(
            "first day on which one more weight has the asked chance of settling whether the gain"
            " is below the limit; the gain after it by regression of the later gain on the later"
            " weight, over the draws"
        ),
        inputs=(
            Quantity(
                name="90 % half-width of the gain then",
                value=asked.half_width_g_per_day,
                unit="g/d",
            ),
            *chances,
            *plain,
        ),
        constants=(
            limit_asked(case.content, estimate),
            *(known[key] for key in ASKED),
        ),
    )


def _days_of(tells: TellApart) -> tuple[Quantity, ...]:
    return (
        Quantity(name="days between the two weights of the gain", value=tells.days_apart, unit="d"),
        Quantity(
            name="days between them from which they alone would tell a slow gain from a brisk one",
            value=tells.days_needed.value,
            unit="d",
        ),
    )


def _by_plain_rule(case: Case, review: Review, tells: TellApart, born_at: datetime) -> WeighAgain:
    language, at = review.language, tells.from_at(born_at)
    rates = {"slow": f"{tells.slow_g_per_day:g}", "brisk": f"{tells.brisk_g_per_day:g}"}
    working = tells.days_needed.working
    working = msgspec.structs.replace(working, inputs=(*working.inputs, *_days_of(tells)))
    if at <= case.as_of:
        on = _local_date(case.as_of, case.zone)
        advice = say("A weight taken now can tell.", {}, language)
        reason = say("The last two cannot tell {slow} from {brisk} g/day.", rates, language)
    else:
        on = _whole_day(at, case.zone)
        advice = say("A weight from {day} on can tell.", {"day": day_said(on, language)}, language)
        reason = say(
            "The last two cannot tell {slow} from {brisk} g/day. Do not wait for it where anything"
            " else asks for a weight.",
            rates,
            language,
        )
    return WeighAgain(
        by="rule", on=on, advice=advice, reason=reason, briefly=advice, working=working
    )


def _local_date(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def _whole_day(at: datetime, zone: ZoneInfo) -> date:
    """The first date that lies whole after an instant: a date promises all of its day."""
    local = at.astimezone(zone)
    return local.date() + timedelta(days=0 if local.time() == local.time().min else 1)
