"""When a family gets help, and by which number: the same words on every paper that a family is given."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from uuid import UUID

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
FEEDS: Final = "feeding.feeds_count_per_day"
YELLOW_TEST: Final = "teaching.jaundice_test_h"
PINK_FROM: Final = "output.urates_from_h"
NOW: Final = message("Call now: {number}")
TODAY: Final = message("See a doctor today")
CALL: Final = message("Call {number}.")
CALL_US: Final = message("Call us today: {day}. At night: {night}.")
CRISIS: Final = message("You think of hurting yourself or your baby. Crisis line: {number}.")


def help_box(source: Source, *, counts: bool = True, is_fed: bool = True) -> Box:
    """Go now, call us now, a doctor today, call us; each with its number.

    Args:
        source: What the paper is made from.
        counts: Whether the paper says how many diapers a day asks for.
        is_fed: Whether the infant may have milk; else few feeds are nothing to call for.
    """
    return help_of(source.speaker, source.policy, source.content, counts=counts, is_fed=is_fed)


def help_of(
    speaker: Speaker, policy: Policy, content: Content, *, counts: bool, is_fed: bool = True
) -> Box:
    """The same where no family is meant."""
    return Box(
        (
            Heading(speaker.say(go_now(policy))),
            Items(tuple(speaker.say(one) for one in (*at_once(content), crisis(policy)))),
            Heading(speaker.say(call_us_now(policy))),
            Items(tuple(speaker.say(one) for one in us_now(content))),
            Heading(speaker.say(TODAY)),
            Items(tuple(speaker.say(one) for one in see_today(content))),
            Heading(speaker.say(call_us(policy))),
            Items(tuple(speaker.say(one) for one in _us(content, counts=counts, is_fed=is_fed))),
        ),
        heavy=True,
    )


def go_now(policy: Policy) -> Message:
    """Whom to call at once."""
    return NOW.with_params(number=phone(policy, "emergency_number"))


def call_us(policy: Policy) -> Message:
    """The clinic's own numbers."""
    return CALL_US.with_params(day=phone(policy, "phone_day"), night=phone(policy, "phone_night"))


def at_once(content: Content) -> Iterator[Words]:
    """What nobody waits with."""
    yield message(
        "Your baby is limp, blue or gray, fights for breath, has a fit, or will not wake."
    )
    yield message(
        "Your baby has a fever of {fever} or more, or is colder than {cold}.",
        fever=Amount(content.constant(content.chosen(FEVER)).value, "Cel"),
        cold=Amount(content.constant(content.chosen(COLD)).value, "Cel"),
    )
    yield message("Your baby throws up green. Or the skin is yellow on the first day.")
    yield message(
        "You bleed a lot, faint, have a bad headache or chest pain, or cannot breathe well."
    )


def crisis(policy: Policy) -> Message:
    """Whom a parent calls who thinks of harm; on every paper, so that nobody is singled out by it."""
    return CRISIS.with_params(number=phone(policy, "crisis_number"))


def see_today(content: Content) -> Iterator[Words]:
    """What a doctor sees the same day."""
    yield message(
        "Your baby is hard to wake for feeds. If the skin turns yellow: a test within {hours} hours.",
        hours=Number(content.constant(YELLOW_TEST).value, 0),
    )
    yield message("Blood in a diaper. A white or gray stool. A red, hot breast.")


def us_now(content: Content) -> Iterator[Words]:
    """What the clinic is called for at once, under its own numbers."""
    yield message(
        "No wet diaper in a whole day, or you have a fever of {fever} or more: call us now.",
        fever=Amount(content.constant(PARENT_FEVER).value, "Cel"),
    )


def _us(content: Content, *, counts: bool, is_fed: bool) -> Iterator[Words]:
    if is_fed:
        yield message(
            "Fewer than {feeds} feeds in 24 hours, or feeds that never seem to end.",
            feeds=Number(content.constant(FEEDS).value, 0),
        )
    fewer = (
        message("Fewer wet or dirty diapers than you read here. Pink stains after day {day}.")
        if counts
        else message("Fewer wet or dirty diapers than before. Pink stains after day {day}.")
    )
    yield fewer.with_params(day=Number(content.constant(PINK_FROM).value / HOURS_PER_DAY, 0))


def call_us_now(policy: Policy) -> Message:
    """The clinic's numbers; where there is none for the night, what is missing is asked for once."""
    day = phone(policy, "phone_day")
    if not policy.phone_night:
        return message("Call us now: {day}.", day=day)
    return message("Call us now: {day}. At night: {night}.", day=day, night=policy.phone_night)


def urgent(source: Source, whose: UUID | None) -> Iterator[Block]:
    """What is red today stands before all else that a family reads, each with the number to call."""
    speaker, infant = source.speaker, source.infant(whose)
    emergency = phone(source.policy, "emergency_number")
    us = call_us_now(source.policy)
    levels = {one.level for one in (infant.findings if infant else ()) if one.colour == "red"}
    own = {one.level for one in source.assessment.findings if one.colour == "red"}
    said: list[tuple[Message, ...]] = []
    if "emergency" in levels:
        go = message("*Go to the hospital now* with {name}.", name=source.named(whose))
        said.append((go, CALL.with_params(number=emergency)))
    elif levels:
        said.append((message("*A doctor must see {name} today.*", name=source.named(whose)), us))
    if "emergency" in own:
        said.append((message("*Get help for yourself now.*"), CALL.with_params(number=emergency)))
    elif own:
        said.append((message("*You need a doctor today.*"), us))
    for one in said:
        yield Box((Paragraph(speaker.emphasised(*one), "action"),), heavy=True)
