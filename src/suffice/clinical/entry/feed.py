"""Milk: what an infant was given, and what the parent expressed."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import (
    Chosen,
    Counted,
    Fact,
    Kind,
    Limits,
    Measured,
    OneOf,
)
from suffice.clinical.entry.side import MINUTES, SIDE, Side
from suffice.message import Message, message

MOST_COUNT = 99
"""What a form takes; how many can be is asked of the content."""


def _one_side(label: Message, phrase: Message, help_text: Message | str = "") -> Measured:
    return Measured(
        quantity="volume",
        label=label,
        help=help_text,
        phrase=phrase,
        limits=Limits(
            codes=("VOLUME-003", "VOLUME-004"),
            unit=message("mL from one side"),
            high=("expression_volume_doubtful_high_ml", "expression_volume_refused_high_ml"),
        ),
    )


class Feed(Fact, tag="feed", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One feed, or one part of a feed: at the breast, or a measured volume of one milk."""

    declared: ClassVar[Kind] = Kind(name=message("feed"), title=message("Feed"))

    milk: Annotated[
        Literal["breast", "expressed", "donor", "formula"],
        Chosen(
            label=message("What"),
            column="milk|feed|feed type|type of feed|feed kind|leche|toma",
            choices=(
                ("breast", message("at the breast")),
                ("expressed", message("expressed milk")),
                ("donor", message("donor milk")),
                ("formula", message("formula")),
            ),
        ),
    ]
    side: Annotated[Side | None, SIDE] = None
    volume_ml: Annotated[
        float | None,
        Measured(
            quantity="volume",
            label=message("Volume"),
            help=message("For example 45 or 1.5 oz; leave empty when not known"),
            column="volume|vol|feed volume|amount|taken|volumen",
            limits=Limits(
                codes=("VOLUME-001", "VOLUME-002"),
                unit=message("mL in one feed"),
                high=("feed_volume_doubtful_high_ml", "feed_volume_refused_high_ml"),
            ),
        ),
    ] = None
    minutes: Annotated[
        float | None,
        Measured(
            quantity="duration",
            label=message("How long"),
            help=message("Minutes"),
            column=MINUTES,
            limits=Limits(
                codes=("DURATION-001", "DURATION-002"),
                unit=message("min of feeding"),
                high=("feed_doubtful_high_minutes", "feed_refused_high_minutes"),
            ),
        ),
    ] = None


class FeedCount(Fact, tag="feed count", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How many feeds there were in the 24 hours that end at `true_at` (0 = none)."""

    declared: ClassVar[Kind] = Kind(
        name=message("feeds in 24 h"), title=message("Feeds in 24 h"), basis="reported"
    )

    count: Annotated[
        int,
        Counted(
            label=message("At the breast or bottle, how many in 24 h"),
            help=message("All feeds of the last 24 hours; 0 when there was none"),
            column="feed count",
            least_count=0,
            most_count=MOST_COUNT,
            limits=Limits(
                unit=message("feeds in 24 h"),
                high=("feeding.doubtful_count_per_day", "feeding.refused_count_per_day"),
            ),
        ),
    ]


class Expression(Fact, tag="expression", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One expression session of the parent."""

    declared: ClassVar[Kind] = Kind(
        name=message("expression session"),
        title=message("Expression session"),
        about="parent",
        basis="reported",
        needs=OneOf(
            fields=("left_ml", "right_ml"),
            why=message("No volume is written."),
            fix=message("Enter that of one side at least; 0 when nothing came."),
        ),
    )

    left_ml: Annotated[
        float | None,
        _one_side(
            message("Left"),
            message("left {value}"),
            message("Write 0 when nothing came; leave empty when not expressed"),
        ),
    ] = None
    right_ml: Annotated[float | None, _one_side(message("Right"), message("right {value}"))] = None
    minutes: Annotated[
        float | None,
        Measured(
            quantity="duration",
            label=message("How long"),
            help=message("Minutes"),
            limits=Limits(
                codes=("DURATION-003", "DURATION-004"),
                unit=message("min of expressing"),
                high=("expression_doubtful_high_minutes", "expression_refused_high_minutes"),
            ),
        ),
    ] = None
    method: Annotated[
        Literal["hand", "pump", "hand and pump"] | None,
        Chosen(
            label=message("How"),
            choices=(
                ("hand", message("by hand")),
                ("pump", message("pump")),
                ("hand and pump", message("hand and pump")),
            ),
        ),
    ] = None
    hours_since_last: Annotated[
        float | None,
        Measured(
            quantity="hours",
            label=message("Hours since the last milk removal"),
            phrase=message("{value} h since the last"),
            limits=Limits(
                codes=("DURATION-005", "DURATION-006"),
                unit=message("h since the last session"),
                high=("interval_doubtful_high_h", "interval_refused_high_h"),
            ),
        ),
    ] = None
