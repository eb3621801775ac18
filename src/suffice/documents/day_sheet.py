"""The day-by-day sheet: this baby's days, what to see in the diapers, what is normal and what is not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.no_milk import is_given_no_milk
from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment
from suffice.clinical.output import OutputNorm
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.amounts import FeedOfDay, drawn_amounts
from suffice.documents.frame import (
    Source,
    framed,
    is_fed_at_home,
    phone,
    plan_of,
)
from suffice.documents.help_box import FEEDS, PINK_FROM, help_box, urgent
from suffice.documents.page import Block, Heading, Items, Paper, Paragraph, Pattern, Table
from suffice.knowledge.store import Content
from suffice.language.kinds import choice_name
from suffice.message import Instant, Listed, Message, Number, Words, message

DAYS_TITLE: Final = message("The first days of {name}")
COLOURS: Final = "output_leaflet.stool_colours_words"
AMOUNTS: Final = ("feed_size.low_ml", "feed_size.high_ml")
PATTERNS: Final[tuple[Pattern, ...]] = ("black", "green", "brown", "yellow")
COLOUR_CELL: Final = 3
"""Place of the colours in a row of the table."""
DAYS_SHOWN: Final = 4
"""How many days the table has: yesterday is over, the next days are what is asked about."""


class Expected(NamedTuple):
    """What a day of life asks for; None where nothing says."""

    day: int
    begins: datetime
    wets: float | None
    stools: float | None
    colours: tuple[str, ...]
    amounts: tuple[float, float] | None


def has_days(source: Source, whose: UUID | None) -> bool:
    """Whether there is such a sheet: the birth is known, the norm speaks of today, and feeding goes on."""
    infant = source.infant(whose)
    if infant is None or is_given_no_milk(infant.findings, source.content):
        return False
    plan = plan_of(source, whose)
    if plan is not None and not is_fed_at_home(plan):
        return False
    return _today(source, infant) is not None


def day_sheet(source: Source, whose: UUID) -> Paper:
    """The sheet of one infant; ask :func:`has_days` first."""
    infant = source.infant(whose)
    today = _today(source, infant) if infant else None
    if infant is None or today is None:
        raise ValueError("there is no sheet of the days: ask has_days first")
    speaker = source.speaker
    days = _days(source, infant, today)
    blocks: tuple[Block, ...] = (
        *urgent(source, whose),
        Heading(speaker.say(_headline(infant, today)), level=1),
        *_first_lines(source, whose, today),
        *_table(source, days, today),
        *_amounts_drawn(source, today, days),
        *_normal(source, infant, today),
        help_box(source, whose),
    )
    title = DAYS_TITLE.with_params(name=infant.name)
    return framed(source, title=title, whose=whose, reader="family", blocks=blocks)


def _today(source: Source, infant: InfantAssessment) -> Expected | None:
    if infant.age_days is None or infant.age_days < 0:
        return None
    found = _expected(source, infant, infant.age_days + 1)
    return found if found and found.wets is not None else None


def expected_of(source: Source, infant: InfantAssessment, day: int) -> Expected | None:
    """What a day of life asks for, by the norms that the clinic chose."""
    return _expected(source, infant, day)


def _expected(source: Source, infant: InfantAssessment, day: int) -> Expected | None:
    if infant.born_at is None:
        return None
    norms = parameters_of(source.content).output_norms
    words = source.content.wordings.get(COLOURS)
    return Expected(
        day=day,
        begins=infant.born_at + timedelta(hours=(day - 1) * HOURS_PER_DAY),
        wets=_least(norms["wet"], "wet", day),
        stools=_least(norms["stool"], "stool", day),
        colours=words.at(day) if words is not None and words.covers(day) else (),
        # A plan says its own amounts: two numbers for one feed would fight.
        amounts=None
        if plan_of(source, infant.infant_id)
        else _amounts(source.content, (day - 1) * HOURS_PER_DAY),
    )


def _least(norm: OutputNorm, kind: str, day: int) -> float | None:
    series = norm.wets_count_per_day if kind == "wet" else norm.stools_count_per_day
    return series.at(day).value if series.covers(day) else None


def _amounts(content: Content, age_h: float) -> tuple[float, float] | None:
    """What a feed of a healthy term infant holds at an age, where that was published."""
    low, high = (content.series[key] for key in AMOUNTS)
    return (low.at(age_h).value, high.at(age_h).value) if low.covers(age_h) else None


def colours_words(colours: tuple[str, ...]) -> Words:
    """The colours of a day in words."""
    names = tuple(choice_name(one) for one in colours)
    return message("{colours}", colours=Listed(names, "or")) if names else message("any")


def _first_lines(source: Source, whose: UUID, today: Expected) -> Iterator[Block]:
    speaker, plan = source.speaker, plan_of(source, whose)
    # A plan says its own number of feeds: two for one day would fight.
    planned = plan.feeds_count if plan is not None else None
    least = source.content.constant(FEEDS).value
    feeds = Number(planned or least, 0)
    asked = message(
        "Today at least *{wets} wet* and *{dirty} dirty* diapers, and *{feeds} feeds* in 24 hours.",
        wets=Number(today.wets or 0, 0),
        dirty=Number(today.stools or 0, 0),
        feeds=feeds,
    )
    yield Paragraph(speaker.emphasised(asked), "action")
    number = phone(source.policy, "phone_day")
    call = message("Fewer? Call us today: {number}.", number=number)
    if planned is not None and planned > least:
        # A plan may ask for more feeds than those below which the box on help has the family call.
        call = message(
            "Fewer diapers, or fewer than {feeds} feeds? Call us today: {number}.",
            feeds=Number(least, 0),
            number=number,
        )
    yield Paragraph(speaker.emphasised(call), "action")


def _days(source: Source, infant: InfantAssessment, today: Expected) -> list[Expected]:
    """The days of the sheet, today first."""
    days = [_expected(source, infant, today.day + step) for step in range(DAYS_SHOWN)]
    return [one for one in days if one is not None and one.wets is not None]


def _table(source: Source, shown: Sequence[Expected], today: Expected) -> Iterator[Block]:
    speaker = source.speaker
    heads = (
        message("Day"),
        message("Wet diapers"),
        message("Dirty diapers"),
        message("Color of the dirty ones"),
    )
    rows = []
    for one in shown:
        is_today = one.day == today.day
        cells: list[Words] = [
            _day(one, is_today=is_today),
            message("at least {count}", count=Number(one.wets or 0, 0)),
            message("at least {count}", count=Number(one.stools or 0, 0)),
            colours_words(one.colours),
        ]
        row = [speaker.say(cell, bold=is_today) for cell in cells]
        patterns = tuple(one_of for one_of in PATTERNS if one_of in one.colours)
        row[COLOUR_CELL] = (msgspec.structs.replace(row[COLOUR_CELL][0], swatches=patterns),)
        rows.append(tuple(row))
    yield Table(
        head=tuple(speaker.say(head) for head in heads),
        rows=tuple(rows),
        widths=(2.4, 0.9, 0.9, 1.6),
        smaller_pt=1.0,
    )


def _day(one: Expected, *, is_today: bool) -> Message:
    day, begins = Number(one.day, 0), Instant(one.begins)
    if is_today:
        return message("Today, day {day}, from {begins}", day=day, begins=begins)
    return message("Day {day}, from {begins}", day=day, begins=begins)


def _amounts_drawn(source: Source, today: Expected, shown: Iterable[Expected]) -> Iterator[Block]:
    """The milk of one feed in its true size; nothing once no amount is published, or where a plan says its own."""
    if today.amounts is None:
        return
    feeds = [FeedOfDay(one.day, *one.amounts) for one in shown if one.amounts is not None]
    yield drawn_amounts(source, feeds, (today.day - 1) * HOURS_PER_DAY)


def _headline(infant: InfantAssessment, today: Expected) -> Message:
    return message(
        "Day {day}: count the feeds and diapers of {name}",
        day=Number(today.day, 0),
        name=infant.name,
    )


def _normal(source: Source, infant: InfantAssessment, today: Expected) -> Iterator[Block]:
    """What is good to know at this age, in few words."""
    speaker, content = source.speaker, source.content
    lines: list[Message] = [
        message("Feed at the first signs: your baby stirs, opens the mouth, turns the head."),
        message("Wake a baby who sleeps past a feed. Skin on skin helps."),
    ]
    if _is_calm(source, infant):
        lines.append(
            message("Some babies feed again and again in the evening. It brings in more milk.")
        )
        lines.append(
            message("Most babies lose some weight at first. It stops by day 4.")
            if today.amounts is not None
            else message("Most babies are back at their birth weight by two weeks.")
        )
    if (today.day - 1) * HOURS_PER_DAY < content.constant(PINK_FROM).value:
        lines.append(message("Pink stains can show on the first 3 days."))
    lines.append(message("Diapers help you see. Only a scale shows if your baby grows."))
    yield Heading(speaker.say(message("Good to know")))
    yield Items(tuple(speaker.say(one) for one in lines))


def _is_calm(source: Source, infant: InfantAssessment) -> bool:
    """Whether nothing is flagged: else nothing on the sheet may say that all is as usual."""
    found = (*infant.findings, *source.assessment.findings)
    return all(one.colour == "note" for one in found)
