"""Labels for containers of milk: whose it is, when it was expressed, until when it can be used.

62 by 29 mm each, several on a sheet, to be cut. The time to discard by is the largest thing on it. Lines for
what nobody knows yet: when it is thawed, and the initials of the two who read it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

import msgspec

from suffice.documents.frame import Source, framed
from suffice.documents.page import Heading, Label, Labels, Paper, Paragraph
from suffice.documents.speaker import Speaker
from suffice.language.kinds import choice_name
from suffice.message import Amount, Instant, Listed, Words, message

TITLE: Final = message("Labels for milk of {name}")
WIDTH_MM: Final = 62.0
HEIGHT_MM: Final = 29.0


class LabelledMilk(msgspec.Struct, frozen=True, kw_only=True):
    """What a label says; a time that is not known yet has a line to be filled in."""

    number: str
    milk: str
    volume_ml: float
    expressed_at: datetime
    use_by_at: datetime
    thawed_at: datetime | None = None
    side: str | None = None
    lot: str | None = None
    needs_two: bool = False


def milk_labels(
    source: Source, infant: Words, position: str, milks: tuple[LabelledMilk, ...]
) -> Paper:
    """A sheet of labels.

    Args:
        source: What it is made from.
        infant: Name of the infant.
        position: Letter of the infant among twins; empty where it is alone.
        milks: What is labelled.
    """
    speaker = source.speaker
    title = TITLE.with_params(name=infant)
    parent = source.named(None)
    blocks = (
        Heading(speaker.say(title), level=1),
        Paragraph(
            speaker.say(message("Cut along the lines. Stick each label on before you fill.")),
            "small",
        ),
        Labels(
            tuple(_label(speaker, one, infant, position, parent) for one in milks),
            WIDTH_MM,
            HEIGHT_MM,
        ),
    )
    return framed(
        source, title=title, whose=None, reader="clinician", blocks=blocks, most_pages=None
    )


def _label(
    speaker: Speaker, one: LabelledMilk, infant: Words, position: str, parent: Words
) -> Label:
    who = message("{infant} ({letter})", infant=infant, letter=position) if position else infant
    details: list[Words] = [
        choice_name(one.milk),
        message("{volume}", volume=Amount(one.volume_ml, "mL", 0)),
    ]
    if one.side:
        details.append(choice_name(one.side))
    if one.lot:
        details.append(message("lot {lot}", lot=one.lot))
    thawed = (
        message("thawed {at}", at=Instant(one.thawed_at))
        if one.thawed_at is not None
        else message("thawed ________")
    )
    lines = [
        speaker.emphasised(
            message("*{number}* {details}", number=one.number, details=Listed(tuple(details)))
        ),
        speaker.say(message("expressed {at}", at=Instant(one.expressed_at))),
        speaker.say(thawed),
    ]
    if one.needs_two:
        lines.append(speaker.say(message("read by ____ and ____")))
    return Label(
        head=speaker.say(
            message("{infant}, parent: {parent}", infant=who, parent=parent), bold=True
        ),
        lines=tuple(lines),
        large=speaker.say(message("USE BY {at}", at=Instant(one.use_by_at)), bold=True),
    )
