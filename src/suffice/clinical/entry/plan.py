"""What was proposed for the days to come and what was agreed on: one version of a plan."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal
from uuid import UUID

from suffice.clinical.entry.clock import Act
from suffice.clinical.entry.feed import MOST_COUNT
from suffice.clinical.entry.field import (
    Chosen,
    Counted,
    Fact,
    Kept,
    Kind,
    Limits,
    Measured,
    Moment,
    OfContact,
    Written,
)
from suffice.clinical.entry.position import POSITION, Position
from suffice.message import Message, message

Move = Literal["first", "up", "hold", "down", "back", "settle"]
"""What a plan is against the one before: more supplement, as it was, less, again more because gain
fell off, or none any more."""
MOVES = (
    ("first", message("first plan")),
    ("up", message("more supplement")),
    ("hold", message("no change of the supplement")),
    ("down", message("less supplement")),
    ("back", message("back to more supplement")),
    ("settle", message("no supplement any more")),
)

FEEDS_COUNT = Limits(
    unit=message("feeds in 24 h"),
    high=("feeding.doubtful_count_per_day", "feeding.refused_count_per_day"),
)
ONE_FEED = Limits(
    unit=message("mL in one feed"),
    high=("feed_volume_doubtful_high_ml", "feed_volume_refused_high_ml"),
)
PER_DAY = Limits(
    unit=message("mL of supplement a day"),
    high=("plan.doubtful_supplement_ml_per_day", "plan.refused_supplement_ml_per_day"),
)
SESSIONS = Limits(
    unit=message("expression sessions in 24 h"),
    high=("plan.doubtful_sessions_count_per_day", "plan.refused_sessions_count_per_day"),
)


def _feeds(label: Message, phrase: Message, help_text: Message | str = "") -> Counted:
    return Counted(
        label=label,
        help=help_text,
        phrase=phrase,
        least_count=0,
        most_count=MOST_COUNT,
        limits=FEEDS_COUNT,
    )


def _sessions(label: Message, phrase: Message) -> Counted:
    return Counted(
        label=label, phrase=phrase, least_count=0, most_count=MOST_COUNT, limits=SESSIONS
    )


def _gap(label: Message, phrase: Message) -> Measured:
    return Measured(
        quantity="hours",
        label=label,
        help=message("Hours from the start of one feed to the start of the next"),
        phrase=phrase,
        limits=Limits(
            unit=message("h between two feeds"),
            high=("plan.doubtful_gap_h", "plan.refused_gap_h"),
        ),
    )


def _per_day(label: Message, phrase: Message, help_text: Message | str = "") -> Measured:
    return Measured(quantity="volume", label=label, help=help_text, phrase=phrase, limits=PER_DAY)


def _minutes(label: Message, phrase: Message, *high: str) -> Measured:
    return Measured(
        quantity="duration",
        label=label,
        phrase=phrase,
        limits=Limits(unit=message("min"), high=(high[0], high[1])),
    )


def _text(label: Message, help_text: Message, phrase: Message) -> Written:
    return Written(
        label=label, help=help_text, phrase=phrase, longest_characters=2_000, is_long=True
    )


class Plan(Fact, tag="plan", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A plan as it was agreed on, for one infant and the parent who feeds it, from then on.

    A new plan takes the place of the last; the old one stays. What is left open is not part of it.
    `supplement_ml_per_day` 0 means none; `proposed_...` is what the program had proposed.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("plan"), title=message("Plan"), when=message("From when"), is_once=True
    )

    move: Annotated[
        Move,
        Chosen(
            label=message("Against the plan before"),
            choices=MOVES,
        ),
    ]
    goal: Annotated[
        str | None,
        _text(message("Goal"), message("In the family's words"), message("goal: {value}")),
    ] = None
    feeds_count: Annotated[
        int | None,
        _feeds(message("Feeds in 24 h, at least"), message("at least {value} feeds in 24 h")),
    ] = None
    gap_day_h: Annotated[
        float | None,
        _gap(message("Longest gap by day"), message("longest gap {value} h by day")),
    ] = None
    gap_night_h: Annotated[
        float | None, _gap(message("Longest gap at night"), message("{value} h at night"))
    ] = None
    at_breast: Annotated[
        Literal["every feed", "some feeds", "not now"] | None,
        Chosen(
            label=message("At the breast"),
            choices=(
                ("every feed", message("at the breast first, every feed")),
                ("some feeds", message("at the breast at some feeds")),
                ("not now", message("not at the breast for now")),
            ),
        ),
    ] = None
    sides: Annotated[
        Literal["both sides", "one side", "left only", "right only"] | None,
        Chosen(
            label=message("Sides at each feed"),
            choices=(
                ("both sides", message("offer both sides")),
                ("one side", message("one side, the other if still hungry")),
                ("left only", message("left side only")),
                ("right only", message("right side only")),
            ),
        ),
    ] = None
    position: Annotated[Position | None, POSITION] = None
    breast_minutes: Annotated[
        float | None,
        _minutes(
            message("At the breast for at most"),
            message("at most {value} at the breast"),
            "feed_doubtful_high_minutes",
            "feed_refused_high_minutes",
        ),
    ] = None
    each_feed: Annotated[
        str | None,
        _text(
            message("At each feed, in your words"),
            message("Position, when to change sides, how to wake: one step a line"),
            message("each feed: “{value}”"),
        ),
    ] = None
    supplement_ml_per_day: Annotated[
        float | None,
        _per_day(
            message("Supplement in 24 h"),
            message("supplement {value} in 24 h"),
            message("0 for none; leave empty when it is not decided"),
        ),
    ] = None
    supplement_feeds_count: Annotated[
        int | None,
        _feeds(message("At how many feeds"), message("at {count} feed", plural="at {count} feeds")),
    ] = None
    supplement_ml: Annotated[
        float | None,
        Measured(
            quantity="volume",
            label=message("Supplement at one feed"),
            phrase=message("{value} at each"),
            limits=ONE_FEED,
        ),
    ] = None
    supplement_most_ml: Annotated[
        float | None,
        Measured(
            quantity="volume",
            label=message("On cues up to"),
            help=message("The most at one feed where the infant asks for more"),
            phrase=message("up to {value} on cues"),
            limits=ONE_FEED,
        ),
    ] = None
    milk: Annotated[
        Literal["own", "own, donor", "own, formula", "own, donor, formula", "donor", "formula"]
        | None,
        Chosen(
            label=message("Which milk, in this order"),
            choices=(
                ("own", message("own expressed milk")),
                ("own, donor", message("own expressed milk, then donor milk")),
                ("own, formula", message("own expressed milk, then formula")),
                (
                    "own, donor, formula",
                    message("own expressed milk, then donor milk, then formula"),
                ),
                ("donor", message("donor milk")),
                ("formula", message("formula")),
            ),
        ),
    ] = None
    method: Annotated[
        Literal["spoon", "syringe", "cup", "tube", "finger", "bottle"] | None,
        Chosen(
            label=message("How it is given"),
            choices=(
                ("spoon", message("by spoon")),
                ("syringe", message("by syringe")),
                ("cup", message("by cup")),
                ("tube", message("by tube at the breast")),
                ("finger", message("by finger and tube")),
                ("bottle", message("by paced bottle")),
            ),
        ),
    ] = None
    express_for: Annotated[
        Literal["build", "keep", "relieve", "wean"] | None,
        Chosen(
            label=message("Expressing: what for"),
            choices=(
                ("build", message("express to build supply")),
                ("keep", message("express to keep supply")),
                ("relieve", message("express for comfort only")),
                ("wean", message("express less, step by step")),
            ),
        ),
    ] = None
    sessions_count: Annotated[
        int | None,
        _sessions(
            message("Expression sessions in 24 h"),
            message("{count} session in 24 h", plural="{count} sessions in 24 h"),
        ),
    ] = None
    session_minutes: Annotated[
        float | None,
        _minutes(
            message("Minutes of one session"),
            message("{value} each"),
            "expression_doubtful_high_minutes",
            "expression_refused_high_minutes",
        ),
    ] = None
    session_sides: Annotated[
        Literal["together", "in turn", "left", "right"] | None,
        Chosen(
            label=message("Sides expressed"),
            choices=(
                ("together", message("both sides together")),
                ("in turn", message("one side after the other")),
                ("left", message("left")),
                ("right", message("right")),
            ),
        ),
    ] = None
    session_by: Annotated[
        Literal["hand", "pump", "hand and pump"] | None,
        Chosen(
            label=message("How it is expressed"),
            choices=(
                ("hand", message("by hand")),
                ("pump", message("pump")),
                ("hand and pump", message("hand and pump")),
            ),
        ),
    ] = None
    weigh_at: Annotated[
        datetime | None, Moment(label=message("Weigh next"), phrase=message("weigh {value}"))
    ] = None
    contact_at: Annotated[
        datetime | None,
        Moment(label=message("Next contact"), phrase=message("next contact {value}")),
    ] = None
    ends_at: Annotated[
        datetime | None,
        Moment(
            label=message("The plan ends"),
            help=message("It is looked at again by then, whatever happens"),
            phrase=message("ends {value}"),
        ),
    ] = None
    why: Annotated[
        str | None,
        Written(
            label=message("Why it differs from what was proposed"),
            longest_characters=500,
            phrase=message("because {value}"),
        ),
    ] = None
    proposed_move: Annotated[
        Move | None,
        Chosen(
            label=message("Proposed against the plan before"),
            choices=MOVES,
            phrase=message("proposed: {value}"),
        ),
    ] = None
    proposed_feeds_count: Annotated[
        int | None,
        _feeds(message("Feeds in 24 h, proposed"), message("proposed {value} feeds")),
    ] = None
    proposed_ml_per_day: Annotated[
        float | None,
        _per_day(message("Supplement in 24 h, proposed"), message("proposed {value} in 24 h")),
    ] = None
    proposed_sessions_count: Annotated[
        int | None,
        _sessions(
            message("Expression sessions in 24 h, proposed"),
            message("proposed {count} session", plural="proposed {count} sessions"),
        ),
    ] = None
    clock: Annotated[tuple[Act, ...], Kept(label=message("The day on the clock"))] = ()
    """How the plan was fitted into the parent's day when it was agreed on, with the plans of twins."""
    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None
