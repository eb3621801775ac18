"""The kit of a parents' class: a deck that is shown on a wall, and a handout to take home.

Both are made from the teaching sheets and the norms in force, so that a class teaches what the clinic's
papers say. Nothing of it is about one family. A page of the deck has one idea in letters that are read
from the last row; a sheet of the content decides which of its facts are for a class.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final, Literal
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.parameters import parameters_of
from suffice.documents.day_sheet import COLOURS, PATTERNS, colours_words
from suffice.documents.drawn import drawn
from suffice.documents.frame import FILL_IN, page_words_of
from suffice.documents.help_box import (
    TODAY,
    at_once,
    by_phone_now,
    call_now,
    call_us,
    crisis,
    go_now,
    help_of,
    see_today,
    us_today,
)
from suffice.documents.page import (
    TEMPLATE_VERSION,
    Blank,
    Block,
    Heading,
    Items,
    PageBreak,
    Paper,
    Paragraph,
    Run,
    Runs,
    Table,
)
from suffice.documents.speaker import Speaker, plain
from suffice.documents.teaching_sheet import fact_words
from suffice.knowledge.policy import PaperSize, Policy
from suffice.knowledge.sheet import Sheet, SheetPart
from suffice.knowledge.store import Content
from suffice.language.catalogue import unreviewed
from suffice.message import Day, Message, Number, Words, message

Which = Literal["deck", "handout"]
"""The two papers of a class."""
DECK: Final = message("Feeding your baby: the first weeks")
NOT_ALONE: Final = message("Thoughts that frighten you")
HANDOUT: Final = message("Feeding your baby: what to keep at hand")
DECK_PTS: Final = (32.0, 30.0, 28.0, 26.0)
"""The largest with which each idea fits its page; a line is at least a 24th of the height of the page."""
DECK_TITLE_PT: Final = 44.0
HANDOUT_PTS: Final = (12.0, 11.0, 10.5, 10.0)
HANDOUT_TITLE_PT: Final = 20.0
DAYS: Final = (1, 2, 3, 4, 5, 6, 7)
"""Days of life in the table of diapers; from the last one on the counts stay."""
DRAWN_SHARE: Final = 0.4
HANDOUT_SHARE: Final = 0.24


class ParentsClass(msgspec.Struct, frozen=True, kw_only=True):
    """What the kit of a class is made from.

    Attributes:
        content: The content in force.
        policy: The clinic's policy, in the language of the kit.
        size: The sheet.
        made_at: When it is made.
    """

    content: Content
    policy: Policy
    size: PaperSize
    made_at: datetime

    @property
    def speaker(self) -> Speaker:
        """How the kit speaks."""
        return Speaker(self.policy)

    def sheets(self) -> Iterator[Sheet]:
        """The sheets of which a class shows something, in the order of the content."""
        for one in self.content.sheets.values():
            if any(part.in_class() for part in one.parts):
                yield one


def class_paper(given: ParentsClass, which: Which) -> Paper:
    """The deck or the handout of a class."""
    return deck(given) if which == "deck" else handout(given)


def deck(given: ParentsClass) -> Paper:
    """The pages that are shown, one idea each."""
    blocks: list[Block] = []
    for page in _pages(given):
        blocks += [PageBreak(), *page] if blocks else page
    return _framed(given, DECK, tuple(blocks), is_shown=True)


def handout(given: ParentsClass) -> Paper:
    """What parents take home: the same facts, the diapers of the first days, and whom to call."""
    speaker = given.speaker
    blocks: list[Block] = [Heading(speaker.say(HANDOUT), level=1)]
    for sheet in given.sheets():
        blocks += _of_handout(given, sheet)
    blocks += [
        Heading(speaker.say(message("Diapers, day by day"))),
        _diapers(given),
        help_of(speaker, given.policy, given.content, counts=True),
        Blank((speaker.say(message("My questions")), speaker.say(message("Next class")))),
    ]
    return _framed(given, HANDOUT, tuple(blocks), is_shown=False)


# ---- the deck --------------------------------------------------------------------------------


def _pages(given: ParentsClass) -> Iterator[list[Block]]:
    speaker = given.speaker
    yield [
        Heading(speaker.say(DECK), level=1),
        Paragraph(speaker.say(given.policy.clinic_name)),
        Paragraph(
            speaker.say(message("Ask at any time. Every baby and every parent is different."))
        ),
    ]
    for sheet in given.sheets():
        yield [
            Heading(speaker.say(Message(sheet.title))),
            Paragraph(speaker.say(message("Try this first"), bold=True)),
            Paragraph(
                speaker.emphasised(fact_words(given.content, given.policy, sheet, sheet.first))
            ),
        ]
        for part in sheet.parts:
            if part.in_class():
                yield _of_part(given, sheet, part)
    yield [Heading(speaker.say(message("Diapers, day by day"))), _diapers(given)]
    yield from _help_pages(given)


def _of_part(given: ParentsClass, sheet: Sheet, part: SheetPart) -> list[Block]:
    speaker = given.speaker
    title, items = Heading(speaker.say(Message(part.title))), _facts(given, sheet, part)
    if not part.drawing:
        return [title, items]
    return [title, drawn(part.drawing, speaker, share=DRAWN_SHARE, beside=(items,))]


def _facts(given: ParentsClass, sheet: Sheet, part: SheetPart) -> Items:
    return Items(
        tuple(
            given.speaker.emphasised(fact_words(given.content, given.policy, sheet, one))
            for one in part.in_class()
        )
    )


def _help_pages(given: ParentsClass) -> Iterator[list[Block]]:
    """When to get help, a page for each way, each with its number; then what else is asked."""
    speaker, content, policy = given.speaker, given.content, given.policy
    for title, lines in (
        (go_now(policy), at_once(content, None)),
        (NOT_ALONE, [crisis(policy)]),
        (call_now(policy), by_phone_now(content)),
        (TODAY, see_today(content, None)),
        (call_us(policy), us_today(content, None)),
    ):
        yield [Heading(speaker.say(title)), Items(tuple(speaker.say(one) for one in lines))]
    yield [
        Heading(speaker.say(message("Your questions"))),
        Paragraph(speaker.say(message("Call early. A short call is never too much."))),
    ]


# ---- the handout -----------------------------------------------------------------------------


def _of_handout(given: ParentsClass, sheet: Sheet) -> Iterator[Block]:
    speaker = given.speaker
    yield Heading(speaker.say(Message(sheet.title)))
    facts: list[Runs] = [
        speaker.emphasised(fact_words(given.content, given.policy, sheet, sheet.first))
    ]
    drawing = ""
    for part in sheet.parts:
        facts += _facts(given, sheet, part).items
        drawing = drawing or (part.drawing if part.in_class() else "")
    items = Items(tuple(facts))
    if drawing:
        yield drawn(drawing, speaker, share=HANDOUT_SHARE, beside=(items,))
    else:
        yield items


# ---- both ------------------------------------------------------------------------------------


def _diapers(given: ParentsClass) -> Table:
    """What the first days ask for, by the norm in force."""
    speaker = given.speaker
    norms = parameters_of(given.content).output_norms
    words = given.content.wordings.get(COLOURS)
    rows = []
    for day in DAYS:
        colours = words.at(day) if words is not None and words.covers(day) else ()
        colour = speaker.say(colours_words(colours))[0]
        patterns = tuple(one for one in PATTERNS if one in colours)
        wets = norms["wet"].wets_count_per_day
        stools = norms["stool"].stools_count_per_day
        rows.append(
            (
                speaker.say(_day(day), bold=True),
                *(
                    speaker.say(_least(one.at(day).value if one.covers(day) else None))
                    for one in (wets, stools)
                ),
                (msgspec.structs.replace(colour, swatches=patterns),),
            )
        )
    heads = (
        message("Day"),
        message("Wet diapers"),
        message("Dirty diapers"),
        message("Color of the dirty ones"),
    )
    return Table(
        head=tuple(speaker.say(one) for one in heads),
        rows=tuple(rows),
        widths=(1.2, 1.0, 1.0, 1.9),
        smaller_pt=1.8,
    )


def _day(day: int) -> Message:
    if day == DAYS[-1]:
        return message("Day {day} and later", day=Number(day, 0))
    return message("Day {day}", day=Number(day, 0))


def _least(count: float | None) -> Words:
    return "–" if count is None else message("at least {count}", count=Number(count, 0))


def _framed(
    given: ParentsClass, title: Message, blocks: tuple[Block, ...], *, is_shown: bool
) -> Paper:
    speaker, policy = given.speaker, given.policy
    day = given.made_at.astimezone(ZoneInfo(policy.zone)).date()
    foot: list[Words] = [
        message(
            "{clinic}. Content {content}, template {template}, made {day}.",
            clinic=policy.clinic_name or FILL_IN,
            content=given.content.version,
            template=TEMPLATE_VERSION,
            day=Day(day, year=True),
        )
    ]
    if unreviewed(policy.language) != "none":
        foot.append(message("Translation not reviewed by a qualified reader."))
    return Paper(
        title=plain(speaker.text(title)),
        clinic=plain(speaker.text(policy.clinic_name)),
        language=policy.language,
        size=given.size,
        as_of=given.made_at,
        head_left=speaker.say(policy.clinic_name),
        head_right=(Run(speaker.text(title)),),
        foot=speaker.sentences(foot),
        page_words=page_words_of(speaker),
        blocks=blocks,
        body_pts=DECK_PTS if is_shown else HANDOUT_PTS,
        title_pt=DECK_TITLE_PT if is_shown else HANDOUT_TITLE_PT,
        most_pages=1 + sum(isinstance(one, PageBreak) for one in blocks) if is_shown else 2,
        is_shown=is_shown,
    )
