"""The family's plan on one page: what to do at the next feed first, then the day, then how to see that it works.

It is read at three in the morning. Bold are verbs, amounts and times, nothing else. All of it comes from
the plan that was agreed on; what the plan leaves open is left out, never filled in.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from uuid import UUID

import msgspec

from suffice.assess.no_milk import is_given_no_milk
from suffice.assess.results import InfantAssessment
from suffice.clinical.entry import Plan
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.documents.day_clock import as_drawn, beside_the_clock, clock_of
from suffice.documents.day_minutes import family_minutes, minutes_of
from suffice.documents.drawn import POSITIONS
from suffice.documents.frame import (
    Source,
    framed,
    is_fed_at_home,
    measured,
    next_contact_at,
    phone,
    plan_entry_of,
)
from suffice.documents.help_box import help_box, urgent
from suffice.documents.page import Block, Box, Heading, Items, Paper, Paragraph, Runs
from suffice.documents.plan_away import away_lines, milk_instead
from suffice.documents.plan_days import DayAmount, plan_of_day
from suffice.documents.plan_works import it_works, tomorrow_of, weighing
from suffice.language.catalogue import MARKS, translated
from suffice.message import Amount, Instant, Message, Number, Words, joined, message
from suffice.plan.parameters import plan_parameters

OTHER_SIDE: Final = frozenset({("left only", "right"), ("right only", "left")})
"""Sides to feed from, and the one that is expressed because it is not: whether that milk is given is the clinic's to say."""
WEAN_STEP: Final = "plan.wean_step_d"
NO_MILK: Final = message("Give {name} no milk until a doctor says so.")
PLAN_TITLE: Final = message("Feeding plan for {name}")
SIDES: Final = {
    "both sides": message("Offer *both sides*."),
    "one side": message("Offer *one side*. Offer the other if your baby wants more."),
    "left only": message("Feed on the *left side* only."),
    "right only": message("Feed on the *right side* only."),
}
FIRST_MILK: Final = {
    "through": (
        message("Breast, with {amount} of milk through the tube."),
        message("Breast, at {count} of {feeds} feeds with {amount} of milk through the tube."),
    ),
    "then": (
        message("Then {amount} of milk."),
        message("Then {amount} of milk, at {count} of {feeds} feeds."),
    ),
    "alone": (
        message("Give {amount} of milk."),
        message("Give {amount} of milk, at {count} of {feeds} feeds."),
    ),
}
"""The milk of a feed in the first line: at each feed, or at some of them."""
HELD: Final = {
    "cradle": message("*Cradle:* the head rests on your forearm."),
    "cross-cradle": message("*Across:* the arm of the other side carries your baby."),
    "under the arm": message("*Under your arm:* the feet point to your back."),
    "side-lying": message("*On your side:* you face each other, belly to belly."),
    "laid back": message("*Lean back:* your baby rests on your chest, belly down."),
    "upright": message("*Upright:* your baby sits on your thigh, facing you."),
}
BY: Final = {
    None: message("Express by pump or hand"),
    "hand": message("Express by hand"),
    "pump": message("Express by pump"),
    "hand and pump": message("Express by hand and pump"),
}
"""How milk is expressed, where a session has its minutes."""
SPREAD: Final = message("Spread them over the day and night.")
SHOWN_WHICH: Final = message("The clock shows at which.")
EACH_DAY: Final = message("Each day")
EXPRESSED: Final = {
    "together": message("both sides at the same time"),
    "in turn": message("one side after the other"),
    "left": message("left side"),
    "right": message("right side"),
}


def plan_page(source: Source, whose: UUID) -> Paper:
    """The page of one infant's plan; ask :func:`plan_of` first."""
    entry, infant = plan_entry_of(source, whose), source.infant(whose)
    if entry is None or infant is None:
        raise ValueError("there is no plan: ask plan_of first")
    plan, to_come = plan_of_day(source, entry, infant)
    plan = as_drawn(source, plan)
    is_fed = not is_given_no_milk(infant.findings, source.content)
    is_fed_here = is_fed and is_fed_at_home(plan)
    expected = tomorrow_of(source, infant)
    counts = expected is not None and not (expected.wets is None and expected.stools is None)
    blocks: tuple[Block, ...] = (
        *urgent(source, whose),
        *_is_over(source, plan),
        *(_feeding(source, plan, to_come, infant) if is_fed else _no_milk(source, plan, infant)),
        *(it_works(source, plan, infant, expected) if is_fed_here else ()),
        *(weighing(source, plan, infant) if is_fed else ()),
        help_box(source, whose, counts=counts and is_fed_here, is_fed=is_fed_here),
        *_next(source, plan),
    )
    title = PLAN_TITLE.with_params(name=infant.name)
    return framed(source, title=title, whose=whose, reader="family", blocks=blocks)


def _is_over(source: Source, plan: Plan) -> Iterator[Block]:
    """A plan whose end has come: its amounts are those of an age that has passed."""
    if plan.ends_at is None or plan.ends_at > source.as_of:
        return
    ended = message(
        "*This plan ended on {when}.* Call us for a new one: {number}.",
        when=Instant(plan.ends_at),
        number=phone(source.policy, "phone_day"),
    )
    yield Box((Paragraph(source.speaker.emphasised(ended), "action"),), heavy=True)


def _feeding(
    source: Source, plan: Plan, to_come: tuple[DayAmount, ...], infant: InfantAssessment
) -> Iterator[Block]:
    """What is done at the next feed, at each feed and in a day."""
    first = _one_less(source) if _is_weaning(plan) else _next_feed(source, plan)
    yield Heading(source.speaker.say(first), level=1)
    yield from _how_often(source, plan)
    yield from _goal(source, plan)
    position = None if plan.at_breast == "not now" else plan.position
    drawing = None if position is None else POSITIONS.get(position)
    minutes = minutes_of(clock_of(source.entries), plan, source.content)
    title = EACH_DAY if minutes is None else family_minutes(minutes)
    away = (*_own_milk(source, plan, infant), *away_lines(source, plan, infant))
    blocks = (*_each_feed(source, plan), *_each_day(source, plan, to_come, away, title))
    instead = milk_instead(source, plan, infant)
    yield from beside_the_clock(source, blocks, drawing, instead=instead)


def _no_milk(source: Source, plan: Plan, infant: InfantAssessment) -> Iterator[Block]:
    """While nothing may be given no feed of the plan is on the page; milk is expressed as planned."""
    speaker = source.speaker
    yield Heading(speaker.say(NO_MILK.with_params(name=infant.name)), level=1)
    yield from _each_day(source, msgspec.structs.replace(plan, supplement_ml_per_day=None))


# ---- the first lines -------------------------------------------------------------------------


def _is_weaning(plan: Plan) -> bool:
    """Whether feeds at the breast are left out one by one."""
    return plan.express_for == "wean" and plan.at_breast == "some feeds"


def _one_less(source: Source) -> Message:
    """The first line of whoever is stopping to feed at the breast."""
    days = Number(source.content.constant(WEAN_STEP).value, 0)
    return message("Every {days} days leave out one feed at the breast. Slower is fine.", days=days)


def _next_feed(source: Source, plan: Plan) -> Message:
    """What to do at the next feed, in one line."""
    parts: list[Message] = []
    amount = _amount(source, plan)
    if not is_fed_at_home(plan):
        return message("Express your milk. Then rest.")
    is_at_breast = plan.at_breast in {"every feed", "some feeds"}
    is_by_tube = amount is not None and plan.method == "tube"
    if is_at_breast and not is_by_tube:
        parts.append(message("Breast first."))
    if amount is not None:
        # Through the tube both come at one time: nothing comes 'then'.
        way = ("through" if is_by_tube else "then") if is_at_breast else "alone"
        share = _share(plan)
        at_each, at_some = FIRST_MILK[way]
        parts.append(
            at_each.with_params(amount=amount)
            if share is None
            else at_some.with_params(amount=amount, count=share[0], feeds=share[1])
        )
    if not parts:
        # All of its milk is given, and the plan leaves the amount open.
        parts.append(message("Give milk as we agreed."))
    if _is_each_feed(plan):
        parts.append(message("Then express."))
    if plan.supplement_ml_per_day == 0:
        parts.append(message("No extra milk now."))
    whole = joined(*parts, message("Then rest."))
    return whole if isinstance(whole, Message) else message("Then rest.")


def _amount(source: Source, plan: Plan) -> Message | None:
    """The extra milk of one feed; none where the plan has none."""
    return measured(source.policy, plan.supplement_ml) if plan.supplement_ml else None


def _share(plan: Plan) -> tuple[Number, Number] | None:
    """At how many feeds of how many there is extra milk, where that is not at each of them."""
    count, feeds = plan.supplement_feeds_count, plan.feeds_count
    if not count or not feeds or count >= feeds:
        return None
    return Number(count, 0), Number(feeds, 0)


def _is_each_feed(plan: Plan) -> bool:
    """Whether there is a session for every feed."""
    return bool(plan.sessions_count and plan.feeds_count) and (
        (plan.sessions_count or 0) >= (plan.feeds_count or 0)
    )


def _how_often(source: Source, plan: Plan) -> Iterator[Block]:
    speaker = source.speaker
    sentences: list[Message] = []
    if plan.feeds_count is not None:
        sentences.append(
            message("Feed at least *{count} times* in 24 hours.", count=Number(plan.feeds_count, 0))
        )
    if plan.gap_day_h is not None and plan.gap_day_h == plan.gap_night_h:
        sentences.append(
            message(
                "Start a feed at least every *{hours} hours*, day and night.",
                hours=Number(plan.gap_day_h),
            )
        )
    elif plan.gap_day_h is not None:
        sentences.append(
            message(
                "Start a feed at least every *{hours} hours*.",
                hours=Number(plan.gap_day_h),
            )
        )
    if plan.gap_night_h is not None and plan.gap_night_h != plan.gap_day_h:
        sentences.append(
            message("At night at least every *{hours} hours*.", hours=Number(plan.gap_night_h))
        )
    if sentences:
        yield Paragraph(speaker.emphasised(*sentences), "action")
    call = message(
        "Call now if your baby will not wake or fights for breath: *{number}*.",
        number=phone(source.policy, "emergency_number"),
    )
    yield Paragraph(speaker.emphasised(call), "action")


def _goal(source: Source, plan: Plan) -> Iterator[Block]:
    if plan.goal:
        yield Paragraph(source.speaker.say(message("Your goal: “{goal}”", goal=plan.goal)))


# ---- each feed, each day ---------------------------------------------------------------------


def _each_feed(source: Source, plan: Plan) -> Iterator[Block]:
    speaker = source.speaker
    steps: list[Runs] = []
    if _is_weaning(plan):
        steps.append(
            speaker.say(message("In place of that feed: formula. From 12 months on: cow's milk."))
        )
    elif plan.at_breast == "some feeds":
        steps.append(speaker.say(message("Start at the breast when you both feel up to it.")))
    if plan.sides is not None and plan.at_breast != "not now":
        steps.append(speaker.emphasised(SIDES[plan.sides]))
    if plan.position is not None and plan.at_breast != "not now":
        steps.append(speaker.emphasised(HELD[plan.position]))
    if plan.breast_minutes is not None and plan.at_breast != "not now":
        stop = message(
            "Stop at the breast after *{minutes}*.", minutes=Amount(plan.breast_minutes, "min", 0)
        )
        steps.append(speaker.emphasised(stop))
    own = tuple(_own_steps(source, plan))
    late = {
        Message(one.family) for one in source.content.guide.instructions.values() if one.after_feed
    }
    steps += [speaker.say(one) for one in own if one not in late]
    steps += [speaker.emphasised(*one) for one in _extra_milk(source, plan)]
    if plan.session_minutes is not None and _is_each_feed(plan):
        steps.append(speaker.emphasised(_session(plan)))
    steps += [speaker.say(one) for one in own if one in late]
    if steps:
        yield Heading(speaker.say(message("At each feed")))
        yield Items(tuple(steps), numbered=True)


def _own_milk(source: Source, plan: Plan, infant: InfantAssessment) -> Iterator[Message]:
    """What becomes of milk that is expressed after feeds while nobody can say an amount yet: it is given.

    Not of an infant born before the weeks from which a plan says amounts: that is the unit's to say.
    """
    is_untold = plan.express_for == "build" and plan.supplement_ml_per_day is None
    from_days = plan_parameters(source.content).late_preterm_from_days.value
    is_early = infant.gestation_days is not None and infant.gestation_days < from_days
    if is_untold and plan.at_breast == "every feed" and not is_early:
        yield message("Give your baby the milk that you express.")


def _own_steps(source: Source, plan: Plan) -> Iterator[Words]:
    """What the consultant wrote, a step a line; a proposed one that she left is said in the language of the paper."""
    families = {one.family for one in source.content.guide.instructions.values()} - {""}
    proposed = {translated(one, language): Message(one) for language in MARKS for one in families}
    for line in (plan.each_feed or "").splitlines():
        if line.strip():
            yield proposed.get(line.strip(), line)


def _extra_milk(source: Source, plan: Plan) -> Iterator[tuple[Message, ...]]:
    """The steps of the extra milk, each as its sentences."""
    amount = _amount(source, plan)
    if amount is None:
        return
    share = _share(plan)
    method = _chosen(plan, "method") if plan.method else None
    if share is None:
        yield (
            message("Give *{amount}* of milk.", amount=amount)
            if method is None
            else message("Give *{amount}* of milk {method}.", amount=amount, method=method),
        )
    else:
        count, feeds = share
        given = (
            message("At *{count}* of {feeds} feeds give *{amount}* of milk.")
            if method is None
            else message("At *{count}* of {feeds} feeds give *{amount}* of milk {method}.")
        )
        params = {"count": count, "feeds": feeds, "amount": amount}
        yield (
            given.with_params(**params if method is None else params | {"method": method}),
            SHOWN_WHICH if clock_of(source.entries) else SPREAD,
        )
    if plan.supplement_most_ml:
        most = measured(source.policy, plan.supplement_most_ml)
        yield (message("Give up to *{amount}* if your baby asks for more.", amount=most),)
    if plan.milk:
        yield (message("Which milk: {milk}.", milk=_chosen(plan, "milk")),)


def _chosen(plan: Plan, name: str) -> Words:
    """What was chosen of a field, as the plan calls it."""
    field, value = fields_of(Plan)[name], str(getattr(plan, name))
    return dict(field.choices).get(value, value) if isinstance(field, Chosen) else value


def _session(plan: Plan) -> Message:
    minutes = Amount(plan.session_minutes or 0, "min", 0)
    sides = EXPRESSED.get(plan.session_sides or "")
    if sides is None:
        return message("{how}: *{minutes}*.", how=BY[plan.session_by], minutes=minutes)
    return message(
        "{how}: *{minutes}*, {sides}.",
        how=BY[plan.session_by],
        minutes=minutes,
        sides=sides,
    )


def _each_day(
    source: Source,
    plan: Plan,
    to_come: tuple[DayAmount, ...] = (),
    away: tuple[Message, ...] = (),
    title: Message = EACH_DAY,
) -> Iterator[Block]:
    speaker = source.speaker
    lines: list[Message] = []
    if plan.supplement_ml_per_day:
        per_day = measured(source.policy, plan.supplement_ml_per_day)
        feeds = plan.supplement_feeds_count
        lines.append(_milk_of_a_day(plan, per_day, feeds))
        lines += [_from_then_on(source, one) for one in to_come]
    if plan.sessions_count:
        count = Number(plan.sessions_count, 0)
        lines.append(
            message("Express *once* in 24 hours.")
            if plan.sessions_count == 1
            else message("Express *{count} times* in 24 hours.", count=count)
        )
        if plan.session_minutes is not None and not _is_each_feed(plan):
            lines.append(_session(plan))
        if (plan.sides, plan.session_sides) in OTHER_SIDE:
            lines.append(message("Ask us before you give the milk of that side."))
    lines += [*away, *_fullness(source, plan)]
    if lines:
        yield Heading(speaker.say(title))
        yield Items(tuple(speaker.emphasised(one) for one in lines))


def _milk_of_a_day(plan: Plan, per_day: Message, feeds: int | None) -> Message:
    """What is given in a day: extra milk, or of an infant that is not at the breast all of its milk."""
    extra, all_of_it = (
        message("Extra milk: *{amount}* in 24 hours, at {feeds} feeds."),
        message("Milk: *{amount}* in 24 hours, at {feeds} feeds."),
    )
    if not feeds:
        extra, all_of_it = (
            message("Extra milk: *{amount}* in 24 hours."),
            message("Milk: *{amount}* in 24 hours."),
        )
        return (all_of_it if plan.at_breast == "not now" else extra).with_params(amount=per_day)
    sentence = all_of_it if plan.at_breast == "not now" else extra
    return sentence.with_params(amount=per_day, feeds=Number(feeds, 0))


def _from_then_on(source: Source, one: DayAmount) -> Message:
    """The amounts of a day of life that is to come."""
    return message(
        "From {when}: *{amount}* at a feed, up to *{most}*.",
        when=Instant(one.at),
        amount=measured(source.policy, one.ml),
        most=measured(source.policy, one.most_ml),
    )


def _fullness(source: Source, plan: Plan) -> Iterator[Message]:
    """What is done with a breast that is too full, and how expressing ends."""
    if plan.express_for == "wean" and plan.sessions_count:
        days = Number(source.content.constant(WEAN_STEP).value, 0)
        yield message("Every *{days} days* express one time less. Slower is fine.", days=days)
    if plan.express_for in {"relieve", "wean"}:
        yield message("A breast too full? Press out a *little* by hand, until it feels better.")
    if plan.express_for == "relieve":
        yield message("Do not pump more than that.")


# ---- how it goes on --------------------------------------------------------------------------


def _next(source: Source, plan: Plan) -> Iterator[Block]:
    speaker = source.speaker
    due = next_contact_at(source)
    sentences: list[Message] = []
    if due is not None and due > source.as_of:
        sentences.append(message("We see you next on *{when}*.", when=Instant(due)))
    if source.author:
        sentences.append(message("Ask for {author}.", author=source.author))
    if plan.ends_at is not None and plan.ends_at > source.as_of:
        sentences.append(
            message("This plan ends on *{when}*. Then we look again.", when=Instant(plan.ends_at))
        )
    if sentences:
        yield Paragraph(speaker.emphasised(*sentences))
