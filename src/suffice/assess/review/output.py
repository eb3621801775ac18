"""Wets and stools of one infant in the last 24 hours, against the norm that the clinic chose."""

from __future__ import annotations

from datetime import datetime
from typing import Final

import msgspec

from suffice.assess.case import Case, Review
from suffice.assess.parameters import CareParameters
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


def review_output(case: Case, review: Review, parameters: CareParameters) -> None:
    """Write the counts of the last 24 hours, and what was seen or missed, into the review."""
    born_at, limits = case.born_at, parameters.output
    if born_at is None:
        for plural in PLURAL.values():
            review.missing(f"{plural}_24h", case.no_birth)
        return
    for kind, plural in PLURAL.items():
        judged = _judged(kind, case, parameters.output_norms[kind], limits, born_at)
        name = f"{plural}_24h"
        if judged.seen.high is None and judged.seen.low == 0:
            review.missing(name, NOT_COUNTED)
        else:
            review.figures[name] = _counted(judged.seen, kind)
        if judged.seen.high is not None:
            found = _measure(judged, review.figures[name], born_at)
            review.measure(f"{plural}_count_per_day", found)
        else:
            _review_old_count(kind, case, review, parameters, born_at)
        if judged.expected is not None:
            review.figures[f"{name}_expected"] = judged.expected
        else:
            review.missing(f"{name}_expected", message("The norm says nothing about this day."))
    _review_diapers(case, review, limits)
    _review_absence(case, review, limits, born_at)


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
    kind: OutputKind, case: Case, review: Review, parameters: CareParameters, born_at: datetime
) -> None:
    """Put the latest full count before the table however old, and whether weight has risen since.

    A red count does not become a calm one by growing old.
    """
    age_h = elapsed_h(born_at, case.as_of)
    stale_h = msgspec.structs.replace(parameters.output.stale_h, value=age_h)
    whenever = msgspec.structs.replace(parameters.output, stale_h=stale_h)
    judged = _judged(kind, case, parameters.output_norms[kind], whenever, born_at)
    if judged.seen.high is None:
        return
    found = _measure(judged, _counted(judged.seen, kind), born_at)
    review.measure(f"old_{PLURAL[kind]}_count_per_day", found)
    weighed_h = max((one.age_h for one in case.weighings), default=0.0)
    has_risen = "gain_since_nadir_g_per_day" in review.figures and weighed_h > found.age_h
    review.sign(f"weight_risen_since_{PLURAL[kind]}", has_risen)


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


def _review_diapers(case: Case, review: Review, limits: OutputLimits) -> None:
    """Put before the table what was seen in diapers: the latest of each."""
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
        review.sign(
            name,
            True,  # noqa: FBT003
            age_h=case.age_at(entry.true_at),
            entry_ids=(entry.id,),
            working=look_back,
            at=Instant(entry.true_at),
        )


def _review_absence(case: Case, review: Review, limits: OutputLimits, born_at: datetime) -> None:
    """Put before the table which diapers are known to be missing, and for how long."""
    age_h = elapsed_h(born_at, case.as_of)
    windows: tuple[tuple[str, OutputKind, float, tuple[Constant, ...]], ...] = (
        ("no_wet_since_birth", "wet", age_h, ()),
        ("no_wet_in_shorter_time", "wet", limits.no_wet_h.value, (limits.no_wet_h,)),
        ("no_wet_in_longer_time", "wet", limits.no_wet_older_h.value, (limits.no_wet_older_h,)),
        ("no_stool_since_birth", "stool", age_h, ()),
    )
    for name, kind, window_h, constants in windows:
        is_none = is_none_in(
            case.entries,
            case.infant.id,
            kind,
            window_h=window_h,
            born_at=born_at,
            as_of=case.as_of,
            limits=limits,
        )
        working = Working(formula=message("none counted in that time"), constants=constants)
        review.sign(name, is_none, working=working, hours=Number(window_h, 0))
