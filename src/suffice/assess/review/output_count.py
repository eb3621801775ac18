"""A count of wets or stools as a figure and in words, and what it says where another entry differs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from suffice.clinical.output_count import Count, Observation, OutputKind
from suffice.clinical.working import Figure, Quantity, Working
from suffice.message import Instant, Message, Words, message

CERTAIN: Final[dict[OutputKind, Message]] = {
    "wet": message("wets that are certain in the 24 hours that end with the count"),
    "stool": message("stools that are certain in the 24 hours that end with the count"),
}
DIFFERS: Final[dict[OutputKind, Message]] = {
    "wet": message("But a wet is noted {at}: the two differ, ask."),
    "stool": message("But a stool is noted {at}: the two differ, ask."),
}
"""What a count of none says beside one that was seen in those hours."""


def counted_words(kind: OutputKind, count: int) -> Message:
    """So many wets, or stools."""
    if kind == "wet":
        return message("{count} wet", plural="{count} wets", count=count)
    return message("{count} stool", plural="{count} stools", count=count)


def differing_words(
    kind: OutputKind, disputed: Iterable[Observation], start: datetime, end: datetime
) -> tuple[Words, ...]:
    """What is said of the latest that was seen in hours counted as none; nothing without one.

    Args:
        kind: Of what.
        disputed: What was seen in hours counted as none.
        start: Begin of the stretch that is spoken of.
        end: Its end.
    """
    within = [one.true_at for one in disputed if start < one.true_at <= end]
    return (DIFFERS[kind].with_params(at=Instant(max(within))),) if within else ()


def counted_figure(seen: Count, kind: OutputKind) -> Figure:
    """The count that is certain, with its bounds; no upper one where diapers may be missing."""
    missing = message("Not every diaper of the day was written down.")
    notes = () if seen.high is not None else (missing,)
    return Figure(
        value=float(seen.low),
        unit="{#}/d",
        low=float(seen.low),
        high=None if seen.high is None else float(seen.high),
        working=Working(
            formula=CERTAIN[kind],
            inputs=(
                Quantity(name=message("hours"), value=seen.window_h, unit="h"),
                Quantity(
                    name=message("share of them covered"), value=seen.covered_fraction, unit="1"
                ),
            ),
            notes=notes,
        ),
    )
