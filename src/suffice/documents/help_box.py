"""When a family gets help, and by which number: the same words on every paper that a family is given."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final
from uuid import UUID

from suffice.assess.fever_stage import fever_stage
from suffice.assess.results import InfantAssessment
from suffice.clinical.temperature import Stage
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.frame import Source, phone
from suffice.documents.page import Block, Box, Heading, Items, Paragraph
from suffice.documents.speaker import Speaker
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import Amount, Message, Number, Words, message

FEVER: Final = "fever_limit"
PARENT_FEVER: Final = "ranking.parent_fever_c"
COLD: Final = "low_temperature_limit"
"""The limits of the infant's flags, which the clinic chooses where sources disagree."""
ANY_FEVER: Final = "temperature.fever_c"
HIGH: Final = "temperature.high_fever_c"
VERY_HIGH: Final = "temperature.very_high_fever_c"
"""Those of an infant from three and from six months on."""
YOUNG_UNTIL: Final = "temperature.fever_until_age_months"
FOR_DAYS: Final = "temperature.fever_lasts_d"
FEEDS: Final = "feeding.feeds_count_per_day"
FEEDS_UNTIL: Final = "sign.newborn_until_d"
YELLOW_TEST: Final = "teaching.jaundice_test_h"
PINK_FROM: Final = "output.urates_from_h"
NOW: Final = message("Call now: {number}")
TODAY: Final = message("See a doctor today")
CALL: Final = message("Call {number}.")
CALL_US: Final = message("Call us today: {day}. At night: {night}.")
PARENT_AT_ONCE: Final = message(
    "You bleed a lot, faint, have a bad headache or chest pain, or cannot breathe well."
)
CRISIS: Final = message("You think of hurting yourself or your baby. Crisis line: {number}.")


def help_box(
    source: Source,
    whose: UUID | None = None,
    *,
    counts: bool = True,
    is_fed: bool = True,
    lasts: bool = False,
) -> Box:
    """Go now, call now, a doctor today, call us; each with its number.

    Args:
        source: What the paper is made from.
        whose: The infant it is about; None where it is about all of the family.
        counts: Whether the paper says how many diapers a day asks for.
        is_fed: Whether the infant may have milk; else few feeds are nothing to call for.
        lasts: Whether the paper is kept beyond the age at which any fever is an emergency.
    """
    infant = source.infant(whose)
    infants = source.living if infant is None else (infant,)
    stage = fever_stage(infants, source.content, source.as_of)
    return help_of(
        source.speaker,
        source.policy,
        source.content,
        counts=counts,
        is_fed=is_fed,
        stage=None if lasts and stage == "young" else stage,
        is_new=_is_younger(infants, source.content.constant(FEEDS_UNTIL).value),
        is_first_day=_is_younger(infants, 1),
    )


def help_of(
    speaker: Speaker,
    policy: Policy,
    content: Content,
    *,
    counts: bool,
    is_fed: bool = True,
    stage: Stage | None = None,
    is_new: bool = True,
    is_first_day: bool = True,
) -> Box:
    """The same where no family is meant.

    Args:
        speaker: How the paper speaks.
        policy: Whose numbers to call.
        content: The content in force.
        counts: Whether the paper says how many diapers a day asks for.
        is_fed: Whether the infant may have milk.
        stage: That of its age for a fever; None where it may be any.
        is_new: Whether it is at the age for which a number of feeds is asked.
        is_first_day: Whether it may be on its first day.
    """
    us = us_today(content, stage, counts=counts, is_fed=is_fed, is_new=is_new)
    parts: tuple[tuple[Message, Iterable[Words]], ...] = (
        (go_now(policy), (*at_once(content, stage, is_first_day=is_first_day), crisis(policy))),
        (call_now(policy), by_phone_now(content)),
        (TODAY, see_today(content, stage)),
        (call_us(policy), us),
    )
    return _boxed(speaker, parts)


def help_of_parent(source: Source) -> Box:
    """The same with no word of an infant: for a parent whose baby has died."""
    policy = source.policy
    fever = message(
        "You have a fever of {fever} or more.",
        fever=Amount(source.content.constant(PARENT_FEVER).value, "Cel"),
    )
    hurting = message(
        "You think of hurting yourself. Crisis line: {number}.",
        number=phone(policy, "crisis_number"),
    )
    return _boxed(
        source.speaker,
        (
            (go_now(policy), (PARENT_AT_ONCE, hurting)),
            (call_now(policy), (fever,)),
            (TODAY, (message("A red, hot breast."),)),
        ),
    )


def _boxed(speaker: Speaker, parts: Iterable[tuple[Message, Iterable[Words]]]) -> Box:
    """Each heading with its lines."""
    blocks: list[Heading | Items] = []
    for title, lines in parts:
        blocks.append(Heading(speaker.say(title)))
        blocks.append(Items(tuple(speaker.say(one) for one in lines)))
    return Box(tuple(blocks), heavy=True)


def _is_younger(infants: Iterable[InfantAssessment], age_d: float) -> bool:
    """Whether an infant is younger than that, or its age is not known."""
    ages = [one.age_days for one in infants]
    return not ages or any(one is None or one < age_d for one in ages)


def go_now(policy: Policy) -> Message:
    """Whom to call at once."""
    return NOW.with_params(number=phone(policy, "emergency_number"))


def call_us(policy: Policy) -> Message:
    """The clinic's own numbers."""
    return CALL_US.with_params(day=phone(policy, "phone_day"), night=phone(policy, "phone_night"))


def call_now(policy: Policy) -> Message:
    """Whom to call for what is no emergency and waits for nobody's morning."""
    day = phone(policy, "phone_day")
    if not policy.phone_night:
        return message("Call us or a doctor now: {day}.", day=day)
    return message(
        "Call us or a doctor now: {day}. At night: {night}.", day=day, night=policy.phone_night
    )


def at_once(content: Content, stage: Stage | None, *, is_first_day: bool = True) -> Iterator[Words]:
    """What nobody waits with.

    Args:
        content: The content in force.
        stage: That of the infant's age for a fever; None where it may be any.
        is_first_day: Whether the infant may be on its first day.
    """
    yield message(
        "Your baby is limp, blue or gray, fights for breath, has a fit, throws up green, or will not wake."
    )
    yield _too_hot_or_cold(content, stage)
    if is_first_day:
        yield message("Your baby's skin is yellow on the first day.")
    yield PARENT_AT_ONCE


def _too_hot_or_cold(content: Content, stage: Stage | None) -> Message:
    fever = Amount(content.constant(content.chosen(FEVER)).value, "Cel")
    cold = Amount(content.constant(content.chosen(COLD)).value, "Cel")
    if stage == "young":
        return message(
            "Your baby has a fever of {fever} or more, or is colder than {cold}.",
            fever=fever,
            cold=cold,
        )
    if stage is not None:
        return message("Your baby is colder than {cold}.", cold=cold)
    return message(
        "In the first {months} months: a fever of {fever} or more. Born early? Count from the due date."
        " At any age: colder than {cold}.",
        fever=fever,
        cold=cold,
        months=_months(content),
    )


def crisis(policy: Policy) -> Message:
    """Whom a parent calls who thinks of harm; on every paper, so that nobody is singled out by it."""
    return CRISIS.with_params(number=phone(policy, "crisis_number"))


def by_phone_now(content: Content) -> Iterator[Words]:
    """What a doctor is asked about now, by telephone, whatever the hour."""
    yield message(
        "No wet diaper in a whole day. You have a fever of {fever} or more. Yellow skin: a test within {hours}"
        " hours.",
        fever=Amount(content.constant(PARENT_FEVER).value, "Cel"),
        hours=Number(content.constant(YELLOW_TEST).value, 0),
    )


def see_today(content: Content, stage: Stage | None) -> Iterator[Words]:
    """What a doctor sees the same day; `stage` as for :func:`at_once`."""
    yield message(
        "Your baby is hard to wake for feeds. Blood in a diaper. A white or gray stool. A red, hot breast."
    )
    if stage == "young":
        return
    limit = VERY_HIGH if stage == "older" else HIGH
    high, days = content.constant(limit).value, content.constant(FOR_DAYS).value
    if stage is None:
        yield message(
            "From {months} months on: a fever of {fever} or more, or any for {days} days.",
            months=_months(content),
            fever=Amount(high, "Cel"),
            days=Number(days, 0),
        )
    else:
        yield message(
            "Your baby has a fever of {fever} or more, or any fever for {days} days.",
            fever=Amount(high, "Cel"),
            days=Number(days, 0),
        )


def _months(content: Content) -> Number:
    return Number(content.constant(YOUNG_UNTIL).value, 0)


def _feeds(content: Content, *, is_new: bool) -> Message:
    if not is_new:
        return message("Far fewer feeds than before, or feeds that never seem to end.")
    return message(
        "Fewer than {feeds} feeds in 24 hours, or feeds that never seem to end.",
        feeds=Number(content.constant(FEEDS).value, 0),
    )


def us_today(
    content: Content,
    stage: Stage | None,
    *,
    counts: bool = True,
    is_fed: bool = True,
    is_new: bool = True,
) -> Iterator[Words]:
    """What the clinic is called for today; the arguments are those of :func:`help_of`."""
    if is_fed:
        yield _feeds(content, is_new=is_new)
    fewer = (
        message("Fewer wet or dirty diapers than you read here. Pink stains after day {day}.")
        if counts
        else message("Fewer wet or dirty diapers than before. Pink stains after day {day}.")
    )
    yield fewer.with_params(day=Number(content.constant(PINK_FROM).value / HOURS_PER_DAY, 0))
    if stage != "young":
        yield message(
            "Your baby has any other fever of {fever} or more.",
            fever=Amount(content.constant(ANY_FEVER).value, "Cel"),
        )


def _us_now(policy: Policy) -> Message:
    """The clinic's numbers; where there is none for the night, what is missing is asked for once."""
    day = phone(policy, "phone_day")
    if not policy.phone_night:
        return message("Call us now: {day}.", day=day)
    return message("Call us now: {day}. At night: {night}.", day=day, night=policy.phone_night)


def urgent(source: Source, whose: UUID | None) -> Iterator[Block]:
    """What is red today stands before all else that a family reads, each with the number to call."""
    speaker, infant = source.speaker, source.infant(whose)
    emergency = phone(source.policy, "emergency_number")
    us = _us_now(source.policy)
    levels = {one.level for one in (infant.findings if infant else ()) if one.colour == "red"}
    own = {one.level for one in source.assessment.findings if one.colour == "red"}
    lines: list[tuple[Message, ...]] = []
    if "emergency" in levels:
        go = message("*Go to the hospital now* with {name}.", name=source.named(whose))
        lines.append((go, CALL.with_params(number=emergency)))
    elif levels:
        lines.append((message("*A doctor must see {name} today.*", name=source.named(whose)), us))
    if "emergency" in own:
        lines.append((message("*Get help for yourself now.*"), CALL.with_params(number=emergency)))
    elif own:
        lines.append((message("*You need a doctor today.*"), us))
    for one in lines:
        yield Box((Paragraph(speaker.emphasised(*one), "action"),), heavy=True)
