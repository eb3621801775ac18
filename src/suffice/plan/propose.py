"""A plan for an infant and the parent who feeds it, as a proposal: the consultant edits every line.

Each line says what is proposed, why, and what it was worked out from; where something is not known
the line says what is missing and names no number. Nothing here is kept or decided.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final, Literal

import msgspec

from suffice.assess.fever_stage import fever_stage
from suffice.assess.results import Finding
from suffice.assess.review.warning import has_sugar_risk
from suffice.clinical.entry import Plan, about
from suffice.clinical.production import Production
from suffice.clinical.production_mark import Mark
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Working
from suffice.inference.production.between import production_with_feeds
from suffice.message import Amount, Instant, Message, Number, Words, message
from suffice.plan.breast import breast_line
from suffice.plan.by_age import is_late_preterm
from suffice.plan.dates import (
    OF_MILK,
    contact_at_of,
    due_words,
    is_soon,
    noon_within,
    weigh_at_of,
    weighing_words,
)
from suffice.plan.express import (
    STOPPING,
    Expressing,
    Situation,
    day_minutes,
    expressing,
    is_over_a_day,
    minutes_words,
)
from suffice.plan.given import method_of, milk_of, order_of
from suffice.plan.known import (
    NOT_AT_BREAST,
    Asked,
    away_h_of,
    goal_of,
    is_away_known,
    known_of,
    milk_feeds_in_24_h,
    sessions_in_24_h,
)
from suffice.plan.line import Line, Part, with_rule
from suffice.plan.mark import mark_words, marks_of
from suffice.plan.no_milk import (
    expressing_meanwhile,
    lines_without_feeds,
    no_supplement,
    without_feeds,
)
from suffice.plan.parameters import (
    PlanParameters,
    fed_parameters,
    plan_parameters,
    production_parameters,
)
from suffice.plan.position import Side, position_of, sides_of, stopped_sides
from suffice.plan.size import DO_NOT_WAIT, Known, is_before_term
from suffice.plan.step import Step
from suffice.plan.supplement import Supplement, supplement_of
from suffice.plan.unit import fed_by_unit, is_fed_by_unit

YELLOW_TEST: Final = "teaching.jaundice_test_h"
WOKEN: Final = frozenset({NOT_AT_BREAST, "sleepy_newborn"})
"""Problems in which it is woken every three hours until birth weight is back; so is one that was born late preterm."""


class Proposal(msgspec.Struct, frozen=True, kw_only=True):
    """What is proposed.

    Attributes:
        plan: The proposal as an entry would hold it; what is not known is left open.
        lines: The same in sentences, with their working.
        step: The next step of a supplement that is being given; None where none is.
        calls: When the family calls, and whom.
        tells_physician: Whether a physician is to be written to.
    """

    plan: Plan
    lines: tuple[Line, ...]
    step: Step | None
    calls: tuple[Words, ...]
    tells_physician: bool = False

    def line(self, part: Part) -> Line:
        """The line about something."""
        return next(one for one in self.lines if one.part == part)


def propose(asked: Asked) -> Proposal:
    """The plan that is proposed, each line with its working.

    Raises:
        ContentError: CONTENT-020 where the content is a set of the past that has no plans.
    """
    proposal = _proposed(asked)
    return msgspec.structs.replace(proposal, lines=tuple(with_rule(one) for one in proposal.lines))


def _proposed(asked: Asked) -> Proposal:
    parameters = plan_parameters(asked.content)
    known = known_of(asked, parameters)
    made = production_with_feeds(
        asked.entries,
        as_of=asked.as_of,
        parameters=production_parameters(asked.content),
        fed=fed_parameters(asked.content),
    )
    is_fed = not asked.is_given_no_milk
    is_first = asked.last is None
    milk = supplement_of(asked, known, parameters) if is_fed else no_supplement(is_first=is_first)
    situation = _situation(asked, known, milk, parameters)
    express = (expressing if is_fed else expressing_meanwhile)(situation, parameters)
    minutes = day_minutes(
        feeds_count=_feeds_count(known, milk) if is_fed else 0,
        at_breast=known.at_breast and is_fed,
        supplement_feeds_count=milk.feeds_count or 0,
        sessions_count=express.sessions_count or 0,
        parameters=parameters,
    )
    plan = _plan(asked, known, milk, express, made, parameters)
    over = (message("That is more than a day has: leave something out."),)
    proposal = Proposal(
        plan=plan,
        lines=(
            _feeds(plan, known, parameters),
            breast_line(asked, plan, known, parameters),
            milk.line,
            *([order_of(plan, made)] if milk.is_given else []),
            _expressing(express),
            _made(made, marks_of(asked, known)),
            Line(
                part="minutes",
                says=(minutes_words(minutes),),
                warnings=over if is_over_a_day(minutes) else (),
                workings=(minutes,),
            ),
            _weigh(plan, asked),
            _contact(plan, parameters, now=asked.as_of, is_soon=is_soon(asked, milk)),
        ),
        step=milk.step,
        calls=tuple(_calls(asked, parameters)),
        tells_physician=_tells_physician(milk),
    )
    if is_fed:
        if not is_fed_by_unit(asked, parameters):
            return proposal
        plan, lines = fed_by_unit(plan, proposal.lines)
        # Where a unit feeds it a physician orders every feed.
        return msgspec.structs.replace(proposal, plan=plan, lines=lines, tells_physician=False)
    return msgspec.structs.replace(
        proposal, plan=without_feeds(plan), lines=lines_without_feeds(proposal.lines)
    )


def _situation(
    asked: Asked, known: Known, milk: Supplement, parameters: PlanParameters
) -> Situation:
    """What decides on expressing."""
    return Situation(
        problems=asked.problems,
        age_d=known.age_h / HOURS_PER_DAY,
        at_breast=known.at_breast,
        is_supplemented=milk.is_given,
        is_short=asked.is_short,
        sessions_count=sessions_in_24_h(asked),
        away_h=away_h_of(asked),
        is_away_known=is_away_known(asked),
        feeds_count=known.feeds_count,
        is_given_own=any(one.milk == "expressed" for one in milk_feeds_in_24_h(asked)),
        is_chosen=_is_chosen(asked, known, parameters),
    )


def _tells_physician(milk: Supplement) -> bool:
    """Whether a supplement cannot be made less for long, or is for a physician to order until feeds are weighed."""
    is_held = milk.step is not None and milk.step.is_held_too_often
    return is_held or DO_NOT_WAIT in milk.line.warnings


def _is_chosen(asked: Asked, known: Known, parameters: PlanParameters) -> bool:
    """Whether a supplement that no plan began, of an infant that gets enough, is taken as the family's own way."""
    is_begun_here = asked.last is not None or bool(asked.problems)
    is_early = known.age_h < parameters.build_until_d.value * HOURS_PER_DAY
    return asked.suffices and not is_begun_here and not is_early and not sessions_in_24_h(asked)


def _plan(  # the parts of which it is put together
    asked: Asked,
    known: Known,
    milk: Supplement,
    express: Expressing,
    made: Production,
    parameters: PlanParameters,
) -> Plan:
    """The proposal as an entry would hold it."""
    is_late = is_late_preterm(known.gestation_days, parameters) and is_before_term(
        known, parameters.term_days
    )
    day_h, night_h = _gaps(asked, known, parameters)
    weigh_at = weigh_at_of(asked, known, milk, parameters)
    contact_at = contact_at_of(asked, milk, weigh_at, parameters)
    stopped = stopped_sides(asked)
    has_end = milk.is_given or bool(express.what)
    lasts_h = parameters.lasts_d.value * HOURS_PER_DAY
    return Plan(
        move=milk.move,
        goal=goal_of(asked),
        feeds_count=_feeds_count(known, milk),
        gap_day_h=day_h,
        gap_night_h=night_h,
        at_breast=_at_breast(asked, known, stopped),
        sides=sides_of(stopped) if known.at_breast else None,
        position=position_of(asked) if known.at_breast else None,
        breast_minutes=parameters.late_preterm_breast_minutes.value
        if is_late and known.at_breast
        else None,
        supplement_ml_per_day=milk.ml_per_day,
        supplement_feeds_count=milk.feeds_count,
        supplement_ml=milk.ml,
        supplement_most_ml=milk.most_ml,
        milk=milk_of(asked, known, milk, made),
        method=None if milk.ml is None else method_of(asked, milk.ml, known, parameters),
        express_for=express.what,
        sessions_count=express.sessions_count,
        session_minutes=express.minutes,
        session_sides=_session_sides(express, stopped),
        session_by="hand" if express.what == "relieve" else None,
        weigh_at=weigh_at,
        contact_at=contact_at,
        ends_at=noon_within(asked.as_of.astimezone(asked.zone), lasts_h) if has_end else None,
        proposed_move=milk.move,
        proposed_feeds_count=_feeds_count(known, milk),
        proposed_ml_per_day=milk.ml_per_day,
        proposed_sessions_count=express.sessions_count,
    )


def _at_breast(
    asked: Asked, known: Known, stopped: frozenset[Side] | None
) -> Literal["every feed", "some feeds", "not now"]:
    """At every feed; at some of them where the family is stopping; not with both sides left out."""
    if not known.at_breast or (stopped is not None and len(stopped) > 1):
        return "not now"
    return "some feeds" if STOPPING in asked.problems else "every feed"


def _session_sides(
    express: Expressing, stopped: frozenset[Side] | None
) -> Literal["together", "left", "right"] | None:
    """Both together; a side that is not fed from alone; None where that is not known."""
    if not express.minutes or stopped is None:
        return None
    return next(iter(stopped)) if len(stopped) == 1 else "together"


# ---- feeds, expressing, production -----------------------------------------------------------


def _gaps(
    asked: Asked, known: Known, parameters: PlanParameters
) -> tuple[float | None, float | None]:
    """The longest gap by day and at night; none where the infant may sleep as long as it likes."""
    infant = asked.infant
    is_early = is_before_term(known, parameters.preterm_before_days)
    weight_g = infant.birth_weight_g if known.weight_g is None else known.weight_g
    is_small = weight_g is not None and weight_g < parameters.small_weight_g.value
    is_flagged = any(_shortens_gaps(one) for one in asked.open_findings) or asked.is_short
    if is_early or is_small or is_flagged or _has_sugar_risk(asked, parameters):
        return parameters.gap_flagged_h.value, parameters.gap_flagged_h.value
    birth_g = infant.birth_weight_g
    is_back = birth_g is not None and known.weight_g is not None and known.weight_g >= birth_g
    if is_back and asked.suffices:
        return None, None
    is_late = is_late_preterm(known.gestation_days, parameters)
    if not is_back and (is_late or asked.problems & WOKEN):
        return parameters.gap_flagged_h.value, parameters.gap_flagged_h.value
    return parameters.gap_day_h.value, parameters.gap_night_h.value


def _shortens_gaps(finding: Finding) -> bool:
    """Whether a flag has it woken every three hours: any that is more than something not asked yet."""
    if finding.level != "look":
        return True
    return finding.topic in {*OF_MILK, "output"} and finding.judged != "not known"


def _has_sugar_risk(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether it is in the two days in which low blood sugar is looked for, and a risk of that was noted."""
    age_h = asked.infant.age_h
    if age_h is None or age_h >= parameters.sugar_gap_until_h.value:
        return False
    return has_sugar_risk(asked.own, about(asked.entries, None), asked.content) is True


def _feeds_count(known: Known, milk: Supplement) -> int:
    """Feeds in 24 h: no fewer than those at which milk is given, where a supplement of more feeds goes on."""
    return max(known.feeds_count, milk.feeds_count or 0)


def _feeds(plan: Plan, known: Known, parameters: PlanParameters) -> Line:
    says: list[Words] = [
        message(
            "At least {count} feeds in 24 h; there is no top limit.", count=plan.feeds_count or 0
        )
    ]
    used = [parameters.feeds_count_per_day]
    if plan.feeds_count == known.feeds_count < used[0].value:
        used = [parameters.few_feeds_count_per_day, parameters.few_feeds_until_d]
        says = [message("{count} feeds in 24 h, as now; more on cues.", count=known.feeds_count)]
    if plan.gap_day_h is None or plan.gap_night_h is None:
        says.append(message("Birth weight is regained and it gains: no need to wake it."))
    elif plan.gap_day_h == plan.gap_night_h:
        used.append(parameters.gap_flagged_h)
        says.append(
            message(
                "No gap of more than {hours} h by day or at night, start to start: wake it.",
                hours=Number(plan.gap_day_h),
            )
        )
    else:
        used += [parameters.gap_day_h, parameters.gap_night_h]
        says.append(
            message(
                "No gap of more than {day} h by day and {night} h at night, start to start: wake it.",
                day=Number(plan.gap_day_h),
                night=Number(plan.gap_night_h),
            )
        )
    working = Working(
        formula=message("feeds of the norm, or as many as were counted"), constants=tuple(used)
    )
    return Line(part="feeds", says=tuple(says), workings=(working,))


def _expressing(express: Expressing) -> Line:
    return Line(
        part="expressing",
        says=express.says,
        workings=(express.working,) if express.working else (),
    )


def _made(made: Production, to_come: tuple[Mark, ...]) -> Line:
    """What is made in 24 hours, by side; why it is not known; where to ask; marks that are to come."""
    says: list[Words] = [mark_words(one) for one in to_come]
    workings: list[Working] = [one.working for one in to_come]
    if made.left.per_day is None and made.left.why_none == made.right.why_none:
        return Line(part="made", says=(made.left.why_none, *says), workings=tuple(workings))
    for side, one in made.sides:
        name = message("Left") if side == "left" else message("Right")
        if one.per_day is None:
            says.append(message("{side}: {why}", side=name, why=one.why_none))
        else:
            says.append(message("{side}: {made}", side=name, made=_figure(one.per_day)))
            workings.append(one.per_day.working)
    if made.together is not None:
        says.append(message("Both: {made}", made=_figure(made.together)))
        workings.append(made.together.working)
    return Line(
        part="made",
        says=tuple(says),
        warnings=tuple(gap.asks for gap in made.gaps),
        workings=tuple(workings),
    )


def _figure(figure: Figure) -> Message:
    return message(
        "{value} on this schedule ({low} to {high})",
        value=Amount(figure.value, figure.unit, 0),
        low=Amount(figure.low or 0.0, figure.unit, 0),
        high=Amount(figure.high or 0.0, figure.unit, 0),
    )


# ---- what comes next -------------------------------------------------------------------------


def _weigh(plan: Plan, asked: Asked) -> Line:
    again = asked.infant.weigh_again
    working = again.working if again is not None else None
    return Line(
        part="weigh",
        says=weighing_words(asked, plan.weigh_at),
        workings=(working,) if working else (),
    )


def _contact(plan: Plan, parameters: PlanParameters, *, now: datetime, is_soon: bool) -> Line:
    used = parameters.after_supplement_h if is_soon else parameters.contact_later_d
    says: list[Words] = [due_words(plan.contact_at, now)] if plan.contact_at else []
    if plan.ends_at is not None:
        says.append(
            message(
                "The plan ends on {at}: it is looked at again by then.", at=Instant(plan.ends_at)
            )
        )
    working = Working(
        formula=message("the first of: weighing, a named problem, the latest contact"),
        constants=(used, parameters.lasts_d),
    )
    return Line(part="contact", says=tuple(says), workings=(working,))


def _calls(asked: Asked, parameters: PlanParameters) -> Iterator[Words]:
    """When the family calls, and whom: as soon as the flags of the same signs say, with this infant's own numbers."""
    yield message("Blue or grey, limp, or working hard to breathe: emergency number now.")
    yield from _fevers(asked)
    yield message(
        "Hard to wake for a feed, or two feeds missed: a physician today; now, if the next one fails too."
    )
    wets = asked.infant.figures.get("wets_24h_expected")
    # Where one is asked for, fewer are none: a physician is phoned for that.
    if wets is not None and round(wets.value) > 1:
        yield message(
            "Fewer than {count} wet diapers in 24 h: call the consultant today.",
            count=round(wets.value),
        )
    yield message("No wet diaper in 24 h: a physician by phone now.")
    yield message("Green or bloody vomit, or a swollen belly: the hospital now.")
    yield message(
        "Yellow skin: bilirubin within {hours} hours; now on the first day.",
        hours=Number(asked.content.constant(YELLOW_TEST).value, 0),
    )
    yield message(
        "Parent: a fever of {fever} or more: a physician by phone within the hour.",
        fever=Amount(parameters.parent_fever_c.value, "Cel"),
    )
    yield message(
        "Parent: thoughts of harm, heavy bleeding, a bad headache or chest pain: emergency number now."
    )


def _fevers(asked: Asked) -> Iterator[Words]:
    """A fever of the infant, as its age has it."""
    content = asked.content
    stage = fever_stage((asked.infant,), content, asked.as_of)
    if stage == "young":
        limit = content.constant(content.chosen("fever_limit")).value
        yield message(
            "Fever of {fever} or more, or cold and floppy: the hospital now.",
            fever=Amount(limit, "Cel"),
        )
        return
    high = "temperature.high_fever_c" if stage == "middle" else "temperature.very_high_fever_c"
    yield message("Cold and floppy: the hospital now.")
    yield message(
        "Fever of {high} or more: a physician today. Any other fever of {fever} or more: call the consultant today.",
        high=Amount(content.constant(high).value, "Cel"),
        fever=Amount(content.constant("temperature.fever_c").value, "Cel"),
    )
