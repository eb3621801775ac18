"""Times as the clinic's clock shows them, read into instants.

A clock that is set forward skips an hour, one that is set back shows an hour twice. The first is
refused, the second is asked about: an hour more or less is a real difference in a newborn.
"""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import msgspec
from django.utils.dateparse import parse_datetime

from suffice.clinical.structure import EARLIEST, LATEST
from suffice.errors import InputError, Problem


class Moment(msgspec.Struct, frozen=True, kw_only=True):
    """What a local time may mean: one instant, or two when the clock shows it twice."""

    instants: tuple[datetime, ...]
    zone: str

    @property
    def is_ambiguous(self) -> bool:
        """Whether the clock shows this time twice."""
        return len(self.instants) > 1

    def said(self) -> tuple[str, ...]:
        """Each instant with the name of the zone's time and its offset, the earlier first."""
        place = ZoneInfo(self.zone)
        return tuple(
            f"{local:%H:%M} {local.tzname()} (UTC{local:%z})"
            for local in (instant.astimezone(place) for instant in self.instants)
        )


def read_moment(text: str, zone: str) -> Moment:
    """A local time such as ``2026-11-25T14:30`` in an IANA zone.

    Raises:
        InputError: CLOCK-001 when it cannot be read, CLOCK-002 when the clock skipped it,
            CLOCK-004 when its year cannot be.
    """
    written = text.strip().replace(" ", "T")
    try:
        # A bare date would be read as midnight, which nobody wrote.
        local = parse_datetime(written) if "T" in written else None
    except ValueError:
        local = None
    if local is None or local.tzinfo is not None:
        raise InputError(
            Problem(
                code="CLOCK-001",
                what=f"'{text}'",
                why="cannot be read as a date and a time.",
                fix="Write it like 2026-11-25 14:30.",
            )
        )
    if not EARLIEST.year <= local.year < LATEST.year:
        raise InputError(
            Problem(
                code="CLOCK-004",
                what=f"The year {local.year}",
                why=f"is not one from {EARLIEST.year} to {LATEST.year - 1}.",
                fix="Is the year right? Correct it.",
            )
        )
    place = ZoneInfo(zone)
    both = {local.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1)}
    real = sorted(i for i in both if i.astimezone(place).replace(tzinfo=None) == local)
    if not real:
        raise InputError(
            Problem(
                code="CLOCK-002",
                what=f"{local:%Y-%m-%d %H:%M}",
                why=f"did not exist in {zone}: the clocks were set forward over it.",
                fix="Enter the time as the clock showed it after the change.",
            )
        )
    return Moment(instants=tuple(real), zone=zone)
