"""Wets and stools of one infant in the last 24 hours, against the norm that the clinic chose."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, measure, missing, sign, together
from suffice.assess.rules.table import Measure
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Stool, Wet
from suffice.clinical.output import (
    OutputJudgement,
    OutputLimits,
    OutputNorm,
    current_diapers,
    day_count,
    is_none_in,
    judge,
)
from suffice.clinical.output_count import Count, OutputKind
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.message import Instant, Message, Number, Words, message

PLURAL: dict[OutputKind, str] = {"wet": "wets", "stool": "stools"}
NOT_COUNTED: Final = message(
    "No count over the last 24 hours is known: what was not written down is not none."
)

CERTAIN: Final[dict[OutputKind, Message]] = {
    "wet": message("wets that are certain in the 24 hours that end with the count"),
    "stool": message("stools that are certain in the 24 hours that end with the count"),
}


def counted_words(kind: OutputKind, count: int) -> Message:
    """So many wets, or stools."""
    if kind == "wet":
        return message("{count} wet", plural="{count} wets", count=count)
    return message("{count} stool", plural="{count} stools", count=count)


def review_output(case: Case, parameters: CareParameters, *, weight_has_risen: bool) -> Reviewed:
    """The counts of the last 24 hours, and what was seen or missed.

    Args:
        case: The infant.
        parameters: The norms of the clinic's choice, and the limits of a count.
        weight_has_risen: Whether the latest weight is above the lowest one.
    """
    born_at = case.born_at
    if born_at is None:
        return missing(*(f"{plural}_24h" for plural in PLURAL.values()), why=case.no_birth)
    parts: list[Reviewed] = []
    for kind in PLURAL:
        parts += _review_count(kind, case, parameters, born_at, weight_has_risen=weight_has_risen)
    parts += _review_diapers(case, parameters.output)
    parts += _review_absence(case, parameters.output, born_at)
    return together(parts)


def _review_count(
    kind: OutputKind,
    case: Case,
    parameters: CareParameters,
    born_at: datetime,
    *,
    weight_has_risen: bool,
) -> Iterator[Reviewed]:
    """The count of one kind against its norm, today's and, where that is not full, the latest."""
    judged = _judged(kind, case, parameters.output_norms[kind], parameters.output, born_at)
    name = f"{PLURAL[kind]}_24h"
    figure = _counted(judged.seen, kind)
    if judged.seen.high is None and judged.seen.low == 0:
        yield missing(name, why=NOT_COUNTED)
    else:
        yield Reviewed(figures={name: figure})
    if judged.seen.high is not None:
        yield measure(f"{PLURAL[kind]}_count_per_day", _measure(judged, figure, born_at))
    else:
        yield _review_old_count(kind, case, parameters, born_at, weight_has_risen=weight_has_risen)
    if judged.expected is not None:
        yield Reviewed(figures={f"{name}_expected": judged.expected})
    else:
        yield missing(f"{name}_expected", why=message("The norm says nothing about this day."))


def _judged(
    kind: OutputKind, case: Case, norm: OutputNorm, limits: OutputLimits, born_at: datetime
) -> OutputJudgement:
    seen = day_count(
        case.entries, case.infant.id, kind, born_at=born_at, as_of=case.as_of, limits=limits
    )
    return judge(seen, kind, norm, born_at=born_at)


def _measure(judged: OutputJudgement, figure: Figure, born_at: datetime) -> Measure:
    """A count as the table asks it: the number that is possible, since few must be certain."""
    seen = judged.seen
    high = seen.high or 0
    counted: Words = counted_words(judged.kind, high)
    if high != seen.low:
        counted = message("At most {counted}", counted=counted)
    return Measure(
        value=float(high),
        age_h=elapsed_h(born_at, seen.until),
        at=seen.until,
        figure=figure,
        gaps=(("counted", counted), ("day", judged.day)),
    )


def _review_old_count(
    kind: OutputKind,
    case: Case,
    parameters: CareParameters,
    born_at: datetime,
    *,
    weight_has_risen: bool,
) -> Reviewed:
    """The latest full count however old, and whether weight has risen since.

    A red count does not become a calm one by growing old.
    """
    age_h = elapsed_h(born_at, case.as_of)
    stale_h = msgspec.structs.replace(parameters.output.stale_h, value=age_h)
    whenever = msgspec.structs.replace(parameters.output, stale_h=stale_h)
    judged = _judged(kind, case, parameters.output_norms[kind], whenever, born_at)
    if judged.seen.high is None:
        return Reviewed()
    found = _measure(judged, _counted(judged.seen, kind), born_at)
    weighed_h = max((one.age_h for one in case.weighings), default=0.0)
    has_risen = weight_has_risen and weighed_h > found.age_h
    return together(
        [
            measure(f"old_{PLURAL[kind]}_count_per_day", found),
            sign(f"weight_risen_since_{PLURAL[kind]}", has_risen),
        ]
    )


def _counted(seen: Count, kind: OutputKind) -> Figure:
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


SEEN: Final = {"pale": "pale_stool", "red": "red_stool", "black": "black_stool"}
"""Colour of a stool to the sign that it is."""


def _review_diapers(case: Case, limits: OutputLimits) -> Iterator[Reviewed]:
    """What was seen in diapers: the latest of each."""
    recent = current_diapers(case.entries, case.infant.id, as_of=case.as_of, limits=limits)
    latest: dict[str, Entry] = {}
    for entry in recent:
        fact = entry.fact
        if isinstance(fact, Wet) and fact.urates:
            latest["urates"] = entry
        elif isinstance(fact, Stool) and fact.colour in SEEN:
            latest[SEEN[fact.colour]] = entry
    look_back = Working(
        formula=message("seen since the look-back, or no other colour since"),
        constants=(limits.look_back_h,),
    )
    # What nobody entered is not known to be absent: no sign says so.
    for name, entry in latest.items():
        yield sign(
            name,
            True,  # noqa: FBT003
            age_h=case.age_at(entry.true_at),
            entry_ids=(entry.id,),
            working=look_back,
            at=Instant(entry.true_at),
        )


def _review_absence(case: Case, limits: OutputLimits, born_at: datetime) -> Iterator[Reviewed]:
    """Which diapers were missing, and for how long, when somebody last counted.

    Time answers nothing: what was missing then counts as missing until one is seen.
    """
    last = {
        kind: max((one.true_at for one in case.entries if isinstance(one.fact, fact)), default=None)
        for kind, fact in (("wet", Wet), ("stool", Stool))
    }
    windows: tuple[tuple[str, OutputKind, Constant | None], ...] = (
        ("no_wet_since_birth", "wet", None),
        ("no_wet_in_shorter_time", "wet", limits.no_wet_h),
        ("no_wet_in_longer_time", "wet", limits.no_wet_older_h),
        ("no_stool_since_birth", "stool", None),
    )
    for name, kind, asked in windows:
        until = last[kind]
        age_h = 0.0 if until is None else elapsed_h(born_at, until)
        if until is None or age_h <= 0:
            yield sign(name, None)
            continue
        window_h = asked.value if asked else age_h
        is_none = is_none_in(
            case.entries,
            case.infant.id,
            kind,
            window_h=window_h,
            born_at=born_at,
            as_of=until,
            limits=limits,
        )
        working = Working(
            formula=message("none counted in that time"), constants=(asked,) if asked else ()
        )
        yield sign(
            name,
            is_none,
            age_h=age_h,
            working=working,
            hours=Number(window_h, 0),
            at=Instant(until),
        )
