"""When to weigh again: one date with one reason, whoever is asked.

Two rules could name a date, because they ask different questions. The plain rule asks from when
two weights alone would tell a slow gain from a brisk one; the engine asks, of all the evidence, on
which day one more weight would settle whether the gain is below the limit. Two dates on one page
would be one too many, so this module decides which is said (docs/reference/ranking.md):

1. a weight that is overdue, or that a finding which cannot tell a gain asked for by a time that is
   past: now;
2. the engine's, where it answers and may be trusted: now, where it doubts the last weight; by the
   time the last weight is too old, where its day comes later;
3. the plain rule's, where the engine is refused, not asked, not trusted or turned off;
4. where none of them names a date and a gain is not known, the date of that flag.

Where a red finding about weight or gain stands, or intake is likely short, the advice first says
that acting does not wait for a weight; where that red finding rests on a weight that looks wrong, it
says to correct or confirm it first.

What the other rule would have said stands in the working, as days and not as a date.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.case import Case
from suffice.assess.engine.ask import CANNOT_TELL, limit_asked, speaks_of_intake
from suffice.assess.flags import Flagged
from suffice.assess.ranking import WAS_DUE, is_likely_short
from suffice.assess.results import Finding, WeighAgain, doubts_last_weight
from suffice.assess.rules.red_flag import ranking_rules, weight_codes
from suffice.clinical.weight.gain import TellApart
from suffice.clinical.working import Quantity, Working
from suffice.inference.estimate import Estimate
from suffice.knowledge.store import Content
from suffice.message import Age, Amount, Chance, Day, Instant, Message, Number, Words, message

OVERDUE: Final = {
    "weight-unknown-first-week": message("Weigh today"),
    "weight-unknown": message("Weigh today"),
    "weight-overdue": message("Weigh this week"),
}
"""Code of a row that says that a weight is past due to what is done, as soon as its sentence says."""
DOUBTED: Final = frozenset(
    {
        "weigh-without-clothes",
        "weigh-older-without-clothes",
        "weigh-on-known-scale",
        "weigh-older-on-known-scale",
        "weight-leaps",
    }
)
"""Codes of the rows that ask for a weight in place of the last one, whatever day would tell best."""
BY_DAY: Final = message("Weigh again by {day}.")
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
        act: That acting does not wait, where a red finding about weight or gain stands that nobody
            doubts, or intake is likely short; or empty.
        doubt: What to ask of a weight that looks wrong and on which a red finding rests; or empty.
        doubt_reason: Why.
        next_due_at: When the next contact is due; None when none is planned.
    """

    act: Words
    doubt: Words
    doubt_reason: Words
    next_due_at: datetime | None


def weigh_again_of(
    case: Case,
    flagged: Flagged,
    estimate: Estimate | None,
    tells: TellApart | None,
    *,
    next_due_at: datetime | None,
) -> WeighAgain | None:
    """The one date to weigh again.

    None where nothing names a date: before there are two weights, and where the engine was content
    with a sketch, whose day may differ by one from the full answer's.

    Args:
        case: The infant.
        flagged: Its findings.
        estimate: The engine's answer; None where it is not asked.
        tells: Whether the two weights whose gain is judged tell slow from brisk; None without them.
        next_due_at: When the next contact is due; None when none is planned.
    """
    overdue = _overdue(case, flagged)
    if overdue is not None:
        return overdue
    advised = _advised(case, flagged, estimate, tells, next_due_at)
    dues = [
        one for one in flagged.findings if one.code.endswith(CANNOT_TELL) or one.code in DOUBTED
    ]
    dated = [(one.due_at, one) for one in dues if one.due_at is not None]
    if not dated:
        return advised
    due_at, first = min(dated, key=lambda one: one[0])
    if case.as_of > due_at:
        return _past_due(case, due_at, first, advised)
    on = None if advised is None else advised.on
    if first.code in DOUBTED and (on is None or on > _local_date(due_at, case.zone)):
        return msgspec.structs.replace(_by_row(case, due_at, first, advised), reason="")
    return advised if on is not None else _by_row(case, due_at, first, advised)


def by_its_day(
    advised: WeighAgain | None,
    case: Case,
    *,
    stands_until: datetime | None,
    next_due_at: datetime | None,
) -> WeighAgain | None:
    """The advice, which never lets the last weight grow too old.

    It names the day by which to weigh where it waits for a plan and none is made, and where the day on which
    a weight would tell more comes later.

    Args:
        advised: The advice.
        case: The infant.
        stands_until: When its last weight is too old; None where nobody is to weigh.
        next_due_at: When the next contact is due; None when none is planned.
    """
    if advised is None or stands_until is None or stands_until <= case.as_of:
        return advised
    on = _local_date(stands_until, case.zone)
    by_day = BY_DAY.with_params(day=Day(on))
    if advised.by == "engine" and advised.on is not None and advised.on > on:
        return msgspec.structs.replace(
            advised, on=on, advice=(*advised.advice[:-1], by_day), reason="", briefly=by_day
        )
    if next_due_at is not None:
        return advised
    parts = tuple(by_day if part == AS_PLANNED else part for part in advised.advice)
    return msgspec.structs.replace(advised, advice=parts)


def _by_row(case: Case, due_at: datetime, first: Finding, advised: WeighAgain | None) -> WeighAgain:
    """The date of a finding that cannot tell a gain, where nothing else names one.

    Such a finding never waits for a planned weight: its row says by when it is looked at.
    """
    on = _local_date(due_at, case.zone)
    by_day = BY_DAY.with_params(day=Day(on))
    before = () if advised is None else tuple(one for one in advised.advice if one != AS_PLANNED)
    return WeighAgain(
        by="rule" if advised is None else advised.by,
        on=on,
        advice=(*before, by_day),
        reason="" if advised is None else advised.reason,
        briefly=by_day,
        working=first.working if advised is None else advised.working,
    )


def _past_due(
    case: Case, due_at: datetime, first: Finding, advised: WeighAgain | None
) -> WeighAgain:
    """Now, where the time of a finding that cannot tell a gain is past, whatever day would tell best.

    A day that is chosen anew at each question would slide with it. What goes before any weighing is kept.
    """
    now = message("{what}.", what=WAS_DUE.with_params(due=Instant(due_at)))
    before: tuple[Words, ...] = ()
    if advised is not None:
        # The last part names the day, but for a doubt that stands alone.
        is_doubt = advised.on is None and advised.briefly in advised.advice
        before = _before_now(advised.advice if is_doubt else advised.advice[:-1])
    return WeighAgain(
        by="overdue",
        on=_local_date(case.as_of, case.zone),
        advice=(*before, now),
        reason="",
        briefly=now,
        working=first.working if advised is None else advised.working,
    )


def with_date(findings: Iterable[Finding], advice: WeighAgain | None) -> tuple[Finding, ...]:
    """The findings, where those that cannot tell a gain end with when to weigh again."""
    if advice is None:
        return tuple(findings)
    return tuple(
        msgspec.structs.replace(one, messages=(*one.messages, advice.briefly))
        if one.code.endswith(CANNOT_TELL)
        else one
        for one in findings
    )


def _overdue(case: Case, flagged: Flagged) -> WeighAgain | None:
    """Now, where a flag says that a weight is overdue; None where none does. Nothing else is asked then."""
    late = next((one for one in flagged.findings if one.code in OVERDUE), None)
    if late is None:
        return None
    advice = message("{act}: a weight is overdue.", act=OVERDUE[late.code])
    return WeighAgain(
        by="overdue",
        on=_local_date(case.as_of, case.zone),
        advice=(advice,),
        reason="",
        briefly=advice,
        working=late.working,
    )


def _advised(
    case: Case,
    flagged: Flagged,
    estimate: Estimate | None,
    tells: TellApart | None,
    next_due_at: datetime | None,
) -> WeighAgain | None:
    """What the engine advises where it may be trusted, else what the plain rule does."""
    if case.policy.engine_ranking and estimate is not None and _may_be_trusted(estimate, case):
        is_full = estimate.diagnostics.kind == "full"
        urgency = _urgency(case, flagged, estimate, next_due_at)
        return _by_engine(case, estimate, tells, urgency) if is_full else None
    if tells is None or tells.can or case.born_at is None:
        return None
    advised = _by_plain_rule(case, tells, case.born_at)
    if not _reds(case, flagged):
        return advised
    return msgspec.structs.replace(advised, advice=(ACT, *advised.advice))


def _reds(case: Case, flagged: Flagged) -> list[str]:
    """The codes of the red findings about weight or gain."""
    about_weight = weight_codes(case.content)
    return [
        one.code for one in flagged.findings if one.colour == "red" and one.code in about_weight
    ]


ACT: Final = message("Act now; do not wait for the next weight.")
DO_NOT_WAIT: Final = message("Do not wait for the next weight.")
"""Beside no red finding: when to act, what else is known says."""
AS_PLANNED: Final = message("Weigh as planned.")


def _urgency(
    case: Case, flagged: Flagged, estimate: Estimate, next_due_at: datetime | None
) -> _Urgency:
    """Whether to act before a weight is taken, and which weight to doubt before acting."""
    wrong_from = case.content.constant("ranking.wrong_weight_fraction").value
    wrong = {
        one.reading_id: one.probability
        for one in estimate.suspects
        if one.probability >= wrong_from
    }
    reds, is_doubted = _reds(case, flagged), {}
    for code in reds:
        rests_on = {str(entry_id) for entry_id in flagged.rests_on(code)}
        is_doubted[code] = sorted(rests_on & wrong.keys(), key=lambda one: -wrong[one])
    named = [ids[0] for ids in is_doubted.values() if ids]
    weighing = next((one for one in case.weighings if str(one.entry_id) in named[:1]), None)
    doubt: Words = ""
    reason: Words = ""
    if weighing is not None:
        doubt = message(
            "First correct or confirm the weight of {weight} at {age}.",
            weight=Amount(weighing.weight_g, "g"),
            age=Age(weighing.age_h),
        )
        reason = message(
            "A red flag rests on it, and it is likely wrong ({percent}).",
            percent=Chance(wrong[named[0]]),
        )
    rules = ranking_rules(case.content, case.policy)
    is_short = case.age_h is not None and is_likely_short(estimate, case.age_h, rules)
    return _Urgency(
        act=ACT if not all(is_doubted.values()) else DO_NOT_WAIT if is_short else "",
        doubt=doubt,
        doubt_reason=reason,
        next_due_at=next_due_at,
    )


def _may_be_trusted(estimate: Estimate, case: Case) -> bool:
    return estimate.is_reliable and speaks_of_intake(estimate, case.content)


def _by_engine(
    case: Case, estimate: Estimate, tells: TellApart | None, urgency: _Urgency
) -> WeighAgain:
    asked = estimate.next_weighing
    working = _engine_working(case.content, estimate, tells)
    today = _local_date(case.as_of, case.zone)
    if doubts_last_weight(estimate):
        advice = message("Weigh again now, naked.")
        reason = message(
            "The last weight does not fit the others. Check scale and clothes; until then act as"
            " if the lower weight were right."
        )
        return WeighAgain(
            by="engine",
            on=today,
            advice=(*_before_now(_first(urgency)), advice),
            reason=reason,
            briefly=advice,
            working=working,
        )
    if not asked.in_days:
        return _on_no_day(case, urgency, asked.because, working)
    day = today + timedelta(days=asked.in_days)
    on_day = message(
        "Weigh again on {day}, in {count} day.",
        plural="Weigh again on {day}, in {count} days.",
        day=Day(day),
        count=asked.in_days,
    )
    return WeighAgain(
        by="engine",
        on=day,
        advice=(*_first(urgency), on_day),
        reason=asked.because,
        # A kept rank is read later: its sentence names the date and counts no days.
        briefly=message("Weigh again on {day}.", day=Day(day)),
        working=working,
    )


def _before_now(parts: tuple[Words, ...]) -> tuple[Words, ...]:
    """What is said before 'weigh again now': that nobody waits for a weight is said by it."""
    return tuple(part for part in parts if part != DO_NOT_WAIT)


def _first(urgency: _Urgency) -> tuple[Words, ...]:
    """What is said before any weighing: which weight to doubt, and that acting does not wait."""
    return tuple(part for part in (urgency.doubt, urgency.act) if part)


def _on_no_day(case: Case, urgency: _Urgency, because: Words, working: Working) -> WeighAgain:
    """The advice where it is settled already, or no day within reach settles it.

    Neither is a reason to drop a planned weight; and where there is cause to act, the plan is named.
    """
    on, reason, briefly = None, because, because
    parts = [*_first(urgency)]
    if urgency.act:
        planned, on = _next_contact(case, urgency.next_due_at)
        parts.append(planned)
    elif urgency.doubt:
        # With a weight that looks wrong no reader believes what is settled without it.
        reason, briefly = urgency.doubt_reason, urgency.doubt
    else:
        parts.append(AS_PLANNED)
    return WeighAgain(
        by="engine",
        on=on,
        advice=tuple(parts),
        reason=reason,
        briefly=briefly,
        working=working,
    )


def _next_contact(case: Case, due_at: datetime | None) -> tuple[Message, date | None]:
    """The next contact in a sentence, and its date where that is still to come."""
    if due_at is None:
        return message("No next contact is planned."), None
    due = _local_date(due_at, case.zone)
    if due_at < case.as_of:
        return message("Weigh at the next contact, which was due on {day}.", day=Day(due)), None
    return message("Weigh at the next contact, planned for {day}.", day=Day(due)), due


def _engine_working(content: Content, estimate: Estimate, tells: TellApart | None) -> Working:
    """How the engine chose the day, and what the plain rule of two weights asks for."""
    asked = estimate.next_weighing
    chances = tuple(
        Quantity(
            name=message("chance that it is settled by a weight on day {days} from now", days=days),
            value=round(100 * chance),
            unit="%",
        )
        for days, chance, _half in asked.candidates
    )
    plain = () if tells is None else _days_of(tells)
    known = content.constants("population")
    return Working(
        formula=message(
            "first day on which one more weight has the asked chance of settling whether the gain"
            " is below the limit; the gain after it by regression of the later gain on the later"
            " weight, over the draws"
        ),
        inputs=(
            Quantity(
                name=message("90 % half-width of the gain then"),
                value=asked.half_width_g_per_day,
                unit="g/d",
            ),
            *chances,
            *plain,
        ),
        constants=(
            limit_asked(content, estimate),
            *(known[key] for key in ASKED),
        ),
    )


def _days_of(tells: TellApart) -> tuple[Quantity, ...]:
    return (
        Quantity(
            name=message("days between the two weights of the gain"),
            value=tells.days_apart,
            unit="d",
        ),
        Quantity(
            name=message(
                "days between them from which they alone would tell a slow gain from a brisk one"
            ),
            value=tells.days_needed.value,
            unit="d",
        ),
    )


def _by_plain_rule(case: Case, tells: TellApart, born_at: datetime) -> WeighAgain:
    at = tells.from_at(born_at)
    slow, brisk = Number(tells.slow_g_per_day, 0), Number(tells.brisk_g_per_day, 0)
    working = tells.days_needed.working
    working = msgspec.structs.replace(working, inputs=(*working.inputs, *_days_of(tells)))
    if at <= case.as_of:
        on = _local_date(case.as_of, case.zone)
        advice = message("A weight taken now can tell.")
        reason = message(
            "The last two cannot tell {slow} from {brisk} g/day.", slow=slow, brisk=brisk
        )
    else:
        on = _whole_day(at, case.zone)
        advice = message("A weight from {day} on can tell.", day=Day(on))
        reason = message(
            "The last two cannot tell {slow} from {brisk} g/day. Do not wait for it where anything"
            " else asks for a weight.",
            slow=slow,
            brisk=brisk,
        )
    return WeighAgain(
        by="rule", on=on, advice=(advice,), reason=reason, briefly=advice, working=working
    )


def _local_date(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def _whole_day(at: datetime, zone: ZoneInfo) -> date:
    """The first date that lies whole after an instant: a date promises all of its day."""
    local = at.astimezone(zone)
    return local.date() + timedelta(days=0 if local.time() == local.time().min else 1)
