"""The hand-over of a shift: every family by urgency, its reason first, one line each, room to write.

The next shift reads it standing: what is flagged and who answers by when, the last weight with its time,
what is due. It is made of what the caseload has, at the moment it is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from typing import Final
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.results import Tier
from suffice.documents.frame import page_words_of
from suffice.documents.page import (
    TEMPLATE_VERSION,
    Block,
    Heading,
    Paper,
    Paragraph,
    Run,
    Runs,
    Table,
)
from suffice.documents.speaker import Speaker, plain
from suffice.knowledge.policy import PaperSize, Policy
from suffice.language.catalogue import unreviewed
from suffice.language.kinds import TIERS, setting_name
from suffice.language.times import clock_text
from suffice.message import Age, Amount, Day, Instant, Message, Words, message

BODY_PTS: Final = (9.5, 9.0)
TITLE_PT: Final = 13.0
NOT_ASSESSED: Final = message("not assessed")
WIDTHS: Final = (1.5, 3.4, 1.3, 1.2, 1.4)
TITLE: Final = message("Hand-over of the shift")


class ShiftInfant(msgspec.Struct, frozen=True, kw_only=True):
    """An infant as the next shift has to know it; None where it is not known."""

    name: Words
    age_h: float | None
    weight_g: float | None
    weight_at: datetime | None


class ShiftFamily(msgspec.Struct, frozen=True, kw_only=True):
    """A family as the next shift has to know it.

    Attributes:
        name: Its name.
        tier: How urgent it is; None where it was never assessed.
        reason: Why, in sentences.
        waiting: What was handed over and waits for an answer, in sentences.
        setting: Where it is looked after.
        infants: Its infants, the first-born first.
        due_at: When the next contact is due.
        as_of: As of when this was computed, where that is not now.
    """

    name: Words
    tier: Tier | None
    reason: tuple[Words, ...]
    waiting: tuple[Words, ...] = ()
    setting: str | None = None
    infants: tuple[ShiftInfant, ...] = ()
    due_at: datetime | None = None
    as_of: datetime | None = None


class Shift(msgspec.Struct, frozen=True, kw_only=True):
    """What a hand-over is made from.

    Attributes:
        now: When it is made.
        families: In the order of need.
        which: Which families, where not all.
        policy: The clinic's policy, in the language of the paper.
        size: The sheet.
        author: Who hands over, as people call them.
        content_version: Version of the content.
        engine_version: Version of the engine.
    """

    now: datetime
    families: tuple[ShiftFamily, ...]
    which: Words
    policy: Policy
    size: PaperSize
    author: str
    content_version: str
    engine_version: str


def shift_page(shift: Shift) -> Paper:
    """The hand-over of a shift."""
    speaker = Speaker(shift.policy)
    zone = ZoneInfo(shift.policy.zone)
    written = message(
        "written {day}, {time}",
        day=Day(shift.now.astimezone(zone).date(), year=True),
        time=clock_text(shift.now, zone),
    )
    made = message(
        "Content {content}, engine {engine}, template {template}. True at the time it was written.",
        content=shift.content_version,
        engine=shift.engine_version or message("not asked"),
        template=TEMPLATE_VERSION,
    )
    foot: list[Words] = [made]
    if unreviewed(shift.policy.language) != "none":
        foot.append(message("Translation not reviewed by a qualified reader."))
    return Paper(
        title=plain(speaker.text(TITLE)),
        clinic=plain(speaker.text(shift.policy.clinic_name)),
        language=shift.policy.language,
        size=shift.size,
        as_of=shift.now,
        head_left=speaker.say(shift.policy.clinic_name),
        head_right=speaker.say(message("{title}, {written}", title=TITLE, written=written)),
        foot=speaker.sentences(foot),
        page_words=page_words_of(speaker),
        blocks=tuple(_blocks(shift, speaker)),
        body_pts=BODY_PTS,
        title_pt=TITLE_PT,
    )


def _blocks(shift: Shift, speaker: Speaker) -> Iterator[Block]:
    yield Heading(speaker.say(TITLE), level=1)
    count = len(shift.families)
    yield Paragraph(
        speaker.sentences(
            [
                message(
                    "{which}: {count} family, by urgency.",
                    plural="{which}: {count} families, by urgency.",
                    which=shift.which,
                    count=count,
                ),
                message("Handed over by {author}.", author=shift.author),
            ]
        )
    )
    if not shift.families:
        yield Paragraph(speaker.say(message("Nobody is on this list.")))
    for tier, members in groupby(shift.families, key=lambda one: one.tier):
        own = tuple(members)
        name: Message = NOT_ASSESSED if tier is None else TIERS[tier.name]
        yield Heading(speaker.say(message("{tier} ({count})", tier=name, count=len(own))))
        yield Table(
            tuple(
                speaker.say(one)
                for one in (
                    *(message("Family"), message("Reason, and who answers by when")),
                    *(message("Last weight"), message("Next due"), message("Done, to do")),
                )
            ),
            tuple(_row(one, shift, speaker) for one in own),
            WIDTHS,
            whole_rows=True,
        )


def _row(one: ShiftFamily, shift: Shift, speaker: Speaker) -> tuple[Runs, ...]:
    stale = "" if one.as_of is None else message("As of {at}.", at=Instant(one.as_of))
    return (
        _who(one, speaker),
        speaker.sentences([*one.reason, *one.waiting, stale]),
        _weights(one, speaker),
        _due(one, shift.now, speaker),
        (Run(""),),
    )


def _who(one: ShiftFamily, speaker: Speaker) -> Runs:
    """The family's name, then how old the infants are and where they are."""
    ages: list[Words] = []
    for infant in one.infants:
        age: Words = (
            message("age not known")
            if infant.age_h is None
            else message("{age}", age=Age(infant.age_h))
        )
        named = len(one.infants) > 1
        ages.append(message("{name} {age}", name=infant.name, age=age) if named else age)
    place = setting_name(one.setting)
    rest = [speaker.text(part) for part in (*ages, place) if part]
    return (
        *speaker.say(one.name or message("Family without a name"), bold=True),
        Run(" " + ", ".join(rest) if rest else ""),
    )


def _weights(one: ShiftFamily, speaker: Speaker) -> Runs:
    sentences: list[Words] = []
    for infant in one.infants:
        if infant.weight_g is None or infant.weight_at is None:
            weighed: Words = message("not weighed")
        else:
            weighed = message(
                "{weight}, {at}",
                weight=Amount(infant.weight_g, "g"),
                at=Instant(infant.weight_at),
            )
        named = len(one.infants) > 1
        sentences.append(
            message("{name}: {what}.", name=infant.name, what=weighed) if named else weighed
        )
    return speaker.sentences(sentences)


def _due(one: ShiftFamily, now: datetime, speaker: Speaker) -> Runs:
    if one.due_at is None:
        return speaker.say(message("nothing planned"))
    at = Instant(one.due_at)
    if one.due_at < now:
        return speaker.say(message("Overdue: {at}", at=at), bold=True)
    return speaker.say(message("{at}", at=at))
