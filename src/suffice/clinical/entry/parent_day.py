"""The parent's day: when to sleep, when away, who helps; a plan is fitted into it."""

from __future__ import annotations

from typing import Annotated, ClassVar

from suffice.clinical.entry.field import Answered, Fact, Kind, Limits, Measured, Written
from suffice.message import Message, message


def _hours(label: Message, help_text: Message, phrase: Message) -> Written:
    return Written(label=label, help=help_text, phrase=phrase, longest_characters=200)


class ParentDay(Fact, tag="parent day", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a day has room for, as the parent says; a later one takes its place.

    Hours are texts such as '22:00-06:00, 13-14', on the family's clock
    (`suffice.clinical.reading.hours`). What is left open is not asked.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("parent's day"),
        title=message("The parent's day"),
        about="parent",
        basis="reported",
        when=message("From when"),
    )

    sleep_h: Annotated[
        float | None,
        Measured(
            quantity="hours",
            label=message("Unbroken sleep wished for"),
            help=message("Hours in one piece, for example 5"),
            phrase=message("{value} h of unbroken sleep wished for"),
            limits=Limits(
                unit=message("h of sleep"),
                low=("schedule.refused_low_sleep_h", "schedule.doubtful_low_sleep_h"),
                high=("schedule.doubtful_high_sleep_h", "schedule.refused_high_sleep_h"),
            ),
        ),
    ] = None
    sleep_between: Annotated[
        str | None,
        _hours(
            message("Sleep between"),
            message("For example 21:00-07:00"),
            message("sleep between {value}"),
        ),
    ] = None
    away: Annotated[
        str | None,
        _hours(
            message("Away: at work or on the way"),
            message("With the way there and back, for example 8:30-17:00"),
            message("away {value}"),
        ),
    ] = None
    expresses_away: Annotated[
        bool | None,
        Answered(
            label=message("Can express there"),
            yes=message("can express there"),
            no=message("cannot express there"),
        ),
    ] = None
    helpers: Annotated[
        str | None,
        _hours(
            message("Somebody helps"),
            message("Who can give a feed, and when: for example 18-24, 5-7"),
            message("somebody helps {value}"),
        ),
    ] = None
    is_on_unit: Annotated[
        bool,
        Answered(
            label=message("The infant is on a unit, which feeds it"),
            yes=message("the infant is on a unit, which feeds it"),
            no="",
            is_box=True,
        ),
    ] = False
    feeds_together: Annotated[
        bool,
        Answered(
            label=message("Twins are fed together"),
            yes=message("twins are fed together"),
            no="",
            is_box=True,
        ),
    ] = False
