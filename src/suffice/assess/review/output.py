"""Wets and stools of one infant in the last 24 hours, against the norm that the clinic chose."""

from __future__ import annotations

from typing import Final, Literal

import msgspec

from suffice.assess.case import Case, Measure, Review
from suffice.assess.parameters import CareParameters
from suffice.clinical.output import OutputJudgement, day_count, flags, judge
from suffice.clinical.output_count import Count, OutputKind
from suffice.clinical.working import Figure, Quantity, Working
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


SAME_DAY: Final = message("physician, the same day")

FLAG_CODES: dict[str, tuple[str, Literal["red", "amber"], Words]] = {
    "no wet": ("no-wet", "red", SAME_DAY),
    "no first wet": ("no-first-wet", "red", SAME_DAY),
    "no first stool": ("no-first-stool", "red", SAME_DAY),
    "pale stool": ("pale-stool", "red", SAME_DAY),
    "red stool": ("red-stool", "red", SAME_DAY),
    "late meconium": ("late-meconium", "amber", ""),
    "urates": ("urates", "amber", ""),
}
"""Flag to the code and level of its finding, and who else must know."""


def review_output(case: Case, review: Review, parameters: CareParameters) -> None:
    """Write the counts of the last 24 hours, and what to act on, into the review."""
    if case.born_at is None:
        for plural in PLURAL.values():
            review.missing(f"{plural}_24h", case.no_birth)
        return
    judged = {kind: _judged(kind, case, parameters) for kind in PLURAL}
    for kind, one in judged.items():
        name = f"{PLURAL[kind]}_24h"
        if one.seen.high is None and one.seen.low == 0:
            review.missing(name, NOT_COUNTED)
        else:
            review.figures[name] = _counted(one.seen, kind)
        if one.seen.high is not None:
            review.measures[f"{PLURAL[kind]}_count_per_day"] = Measure(
                value=float(one.seen.high),
                age_h=case.age_at(one.seen.until) or 0.0,
                figure=review.figures[name],
            )
        if one.expected is not None:
            review.figures[f"{name}_expected"] = one.expected
        else:
            review.missing(f"{name}_expected", message("The norm says nothing about this day."))
    _find_flags(case, review, parameters)
    if judged["stool"].seen.high:
        # No stool at all is a rule of the ranking table, as are too few wets.
        _find_too_few(judged["stool"], "few-stools", "amber", review)
    for kind, one in judged.items():
        if one.seen.high is None:
            _ask_to_count_again(kind, case, review, parameters)


def _judged(kind: OutputKind, case: Case, parameters: CareParameters) -> OutputJudgement:
    if case.born_at is None:
        raise ValueError("output cannot be judged without an instant of birth")
    seen = day_count(
        case.entries,
        case.infant.id,
        kind,
        born_at=case.born_at,
        as_of=case.as_of,
        limits=parameters.output,
    )
    return judge(seen, kind, parameters.output_norms[kind], born_at=case.born_at)


def _ask_to_count_again(
    kind: OutputKind, case: Case, review: Review, parameters: CareParameters
) -> None:
    """Ask for a new count where the last full one was too few, and no weight has risen since.

    A red count does not become a calm one by growing old.
    """
    if case.born_at is None or case.age_h is None:
        return
    whenever = msgspec.structs.replace(
        parameters.output,
        stale_h=msgspec.structs.replace(parameters.output.stale_h, value=case.age_h),
    )
    seen = day_count(
        case.entries,
        case.infant.id,
        kind,
        born_at=case.born_at,
        as_of=case.as_of,
        limits=whenever,
    )
    judged = judge(seen, kind, parameters.output_norms[kind], born_at=case.born_at)
    weighed_h = max((one.age_h for one in case.weighings), default=0.0)
    has_risen = "gain_since_nadir_g_per_day" in review.figures and weighed_h > (
        case.age_at(seen.until) or 0.0
    )
    if judged.verdict != "too few" or judged.expected is None or has_risen:
        return
    review.find(
        f"count-{PLURAL[kind]}-again",
        "amber",
        message(
            "{counted} in 24 h up to {at}, and none counted since: count again.",
            counted=counted_words(kind, seen.high or 0),
            at=Instant(seen.until),
        ),
        working=judged.expected.working,
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


def _find_flags(case: Case, review: Review, parameters: CareParameters) -> None:
    if case.born_at is None:
        return
    at_entry = {entry.id: entry for entry in case.entries}
    for flag in flags(
        case.entries,
        case.infant.id,
        born_at=case.born_at,
        as_of=case.as_of,
        limits=parameters.output,
    ):
        if flag.name not in FLAG_CODES:
            continue
        code, level, to_whom = FLAG_CODES[flag.name]
        seen = [at_entry[one] for one in flag.entry_ids if one in at_entry]
        at = message("Seen {at}.", at=Instant(seen[-1].true_at)) if seen else ""
        said = (flag.sentence, at) if at else (flag.sentence,)
        review.find(code, level, *said, working=flag.working, to_whom=to_whom)


def _find_too_few(
    judged: OutputJudgement,
    code: str,
    level: Literal["red", "amber"],
    review: Review,
) -> None:
    if judged.verdict != "too few" or judged.expected is None:
        return
    high = judged.seen.high or 0
    counted: Words = counted_words(judged.kind, high)
    if high != judged.seen.low:
        counted = message("At most {counted}", counted=counted)
    review.find(
        code,
        level,
        message(
            "{counted} in 24 h up to {at}; at least {expected} are expected on day {day}.",
            counted=counted,
            at=Instant(judged.seen.until),
            expected=Number(judged.expected.value, 0),
            day=judged.day,
        ),
        working=judged.expected.working,
    )
