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

FEVER: Final = "temperature.fever_c"
COLD: Final = "temperature.low_c"
FEEDS: Final = "feeding.feeds_count_per_day"
PINK_FROM: Final = "output.urates_from_h"
NOW: Final = message("Call now: {number}")
TODAY: Final = message("See a doctor today")
CALL_US: Final = message("Call us today: {day}. At night: {night}.")


def help_box(source: Source, *, counts: bool = True, is_fed: bool = True) -> Box:
    """Go now, a doctor today, call us; each with its number.

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
            Items(tuple(speaker.say(one) for one in at_once(content))),
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
        fever=Amount(content.constant(FEVER).value, "Cel"),
        cold=Amount(content.constant(COLD).value, "Cel"),
    )
    yield message("Your baby throws up green. Or the skin is yellow on the first day.")
    yield message("You bleed a lot, faint, have chest pain, or cannot breathe well.")


def see_today(content: Content) -> Iterator[Words]:
    """What a doctor sees the same day."""
    yield message("No wet diaper in a whole day. Blood in a diaper. A white or gray stool.")
    yield message("Your baby is hard to wake for feeds, or the skin turns yellow.")
    yield message(
        "You have a fever of {fever} or more, or a red, hot breast.",
        fever=Amount(content.constant(FEVER).value, "Cel"),
    )


def _us(content: Content, *, counts: bool, is_fed: bool) -> Iterator[Words]:
    if is_fed:
        yield message(
            "Fewer than {feeds} feeds in 24 hours, or feeds that never seem to end.",
            feeds=Number(content.constant(FEEDS).value, 0),
        )
    yield (
        message("Fewer wet or dirty diapers than you read here.")
        if counts
        else message("Fewer wet or dirty diapers than the days before.")
    )
    yield message(
        "Pink or orange stains after day {day}.",
        day=Number(content.constant(PINK_FROM).value / HOURS_PER_DAY, 0),
    )


def urgent(source: Source, whose: UUID | None) -> Iterator[Block]:
    """What is red today stands before all else that a family reads."""
    speaker, infant = source.speaker, source.infant(whose)
    levels = {one.level for one in (infant.findings if infant else ()) if one.colour == "red"}
    own = {one.level for one in source.assessment.findings if one.colour == "red"}
    if "emergency" in levels:
        said = message(
            "*Go to the hospital now* with {name}. Call {number}.",
            name=source.named(whose),
            number=phone(source.policy, "emergency_number"),
        )
        yield Box((Paragraph(speaker.emphasised(said), "action"),), heavy=True)
    elif levels:
        said = message("*A doctor must see {name} today.* Call now.", name=source.named(whose))
        yield Box((Paragraph(speaker.emphasised(said), "action"),), heavy=True)
    if own:
        said = message("*You need a doctor today too.* Call now.")
        yield Box((Paragraph(speaker.emphasised(said), "action"),), heavy=True)
