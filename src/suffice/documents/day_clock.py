"""The day on the clock as a family's paper shows it: the dial beside what to do, each stretch of acts below."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest
from typing import Final

import msgspec

from suffice.clinical.entry import Entry, Plan
from suffice.clinical.entry.clock import Act
from suffice.documents.clock import (
    WIDTH_PX,
    Stretch,
    clock_drawing,
    clock_legend,
    stretches,
)
from suffice.documents.drawn import drawn
from suffice.documents.frame import Source
from suffice.documents.page import Block, Dial, Heading, Items, Paragraph, Run, Runs, Table
from suffice.documents.speaker import Speaker, plain
from suffice.message import Message, Words, message

WIDTH_MM: Final = 63.0
"""With it the letters of the drawing are 8 pt; the table says the same in 10 pt or more."""
PAGE_MM: Final = 180.0
"""Width of the text."""
HELD_SHARE: Final = 0.26
"""Share of the width that the drawing of a position takes where no day is beside it."""
DAY: Final = message("One day on the clock")
TIME: Final = message("Time")
WHAT: Final = message("What")


def clock_of(entries: Iterable[Entry]) -> Sequence[Act]:
    """The day that goes with the plan that was agreed on last, of whichever infant; empty where none does."""
    found = [one.fact for one in entries if isinstance(one.fact, Plan)]
    return found[-1].clock if found else ()


def as_drawn(source: Source, plan: Plan) -> Plan:
    """The plan with no more sessions than its clock has: no paper asks for what gave way there."""
    return drawn_with(clock_of(source.entries), plan)


def drawn_with(acts: Sequence[Act], plan: Plan) -> Plan:
    """The same with the day that is given."""
    sessions = sum(one.what == "express" for one in acts)
    if not sessions or plan.sessions_count is None:
        return plan
    return msgspec.structs.replace(plan, sessions_count=min(plan.sessions_count, sessions))


def beside_the_clock(
    source: Source,
    blocks: Sequence[Block],
    drawing: str | None = None,
    *,
    instead: Message | None = None,
) -> Iterator[Block]:
    """What is to be done, with the dial beside it where a day was agreed on, else with a drawing where one goes.

    A page has no room for both.

    Args:
        source: What the paper is made from.
        blocks: What is to be done.
        drawing: Name of the drawing; None where there is none.
        instead: How much is in a helper's bottle that takes the place of the breast; None where none does.
    """
    acts, speaker = clock_of(source.entries), source.speaker
    beside = tuple(one for one in blocks if isinstance(one, Heading | Paragraph | Items))
    if not acts and drawing and beside:
        yield drawn(drawing, speaker, share=HELD_SHARE, beside=beside)
        return
    if not acts:
        yield from blocks
        return

    def say(words: Words) -> str:
        return plain(speaker.text(words))

    told = [(one, _says(one, instead)) for one in stretches(acts)]
    yield Dial(
        svg=clock_drawing(acts, say, "clock", is_with_legend=False),
        alt=f"{say(DAY)}: {'; '.join(f'{one.hours} {say(says)}' for one, says in told)}",
        width_mm=WIDTH_MM,
        beside=beside,
        table=_table(told, speaker),
        legend=clock_legend(acts, say, PAGE_MM * WIDTH_PX / WIDTH_MM),
    )


def _says(one: Stretch, instead: Message | None) -> Words:
    """What is done in a stretch; with a helper's bottle, how much is in it: the helper reads no other number."""
    if instead is None or not any(act.what == "bottle" for act in one.acts):
        return one.says
    return message("{acts}, {amount}", acts=one.says, amount=instead)


def _table(found: Sequence[tuple[Stretch, Words]], speaker: Speaker) -> Table:
    """The stretches in two columns, the first half of the day in the left one."""
    half = (len(found) + 1) // 2
    rows = zip_longest(found[:half], found[half:])
    head = (speaker.say(TIME), speaker.say(WHAT))
    return Table(
        head=head * 2,
        rows=tuple((*_cells(left, speaker), *_cells(right, speaker)) for left, right in rows),
        widths=(1.05, 2.55, 1.05, 2.55),
        smaller_pt=1.5,
    )


def _cells(told: tuple[Stretch, Words] | None, speaker: Speaker) -> tuple[Runs, Runs]:
    if told is None:
        return (), ()
    one, says = told
    return (Run(one.hours, bold=True),), speaker.say(says)
