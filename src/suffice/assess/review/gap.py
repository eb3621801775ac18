"""What nobody knows of an infant, as signs: silence is no good news.

A family is settled only where somebody has looked lately and found nothing amiss: a weight, in the
first week wets, stools and feeds too, each not older than its age asks for. A planned contact does not
make up for it. What has been unknown since an age counts as at that age: growing older calms nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final, Literal, get_args

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters, Horizons
from suffice.assess.review.result import Reviewed, sign, together
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Sign
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import (
    Basis,
    Expression,
    Feed,
    FeedCount,
    Stool,
    TestWeight,
    WatchedFeed,
    Weight,
    Wet,
)
from suffice.clinical.output import day_count
from suffice.clinical.output_count import KIND_OF, OutputKind
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.message import Ago, Amount, Instant, Param, message

TELLING = (Weight, TestWeight, Wet, Stool)
"""Kinds of facts that say something of whether milk goes in."""
FEEDS = (Feed, FeedCount, Expression, TestWeight)
"""Kinds of facts that say how an infant is fed."""
FED = (*FEEDS, WatchedFeed)
"""Kinds of facts that say that somebody asked how an infant is fed."""
OUTPUT = (Wet, Stool)
Unasked = Literal["output", "feeds"]
"""What was not asked beside a weight."""
WEIGHT: Final = ("weight_not_known", "last_weight_is_told")
COUNTS: Final = ("output_not_known", "feeds_not_known")
"""Signs that what is known is too old."""
BOTH: Final = message("Wets and stools")
UNKNOWN: Final = {
    (True, False): message("Wets"),
    (False, True): message("Stools"),
    (True, True): BOTH,
    (False, False): BOTH,
}
"""What of an infant's output is not known, by whether wets, and stools, are lacking."""


def review_gaps(case: Case, *, weight_is_judged: bool) -> Reviewed:
    """What cannot be judged for want of facts.

    Args:
        case: The infant.
        weight_is_judged: Whether a loss or a gain is put before the table of flags.
    """
    signs = [
        sign("asked_before_birth", case.is_before_birth),
        sign("birth_is_not_known", case.born_at is None and not case.is_before_birth),
    ]
    if case.born_at is None:
        return together(signs)
    is_telling = [getattr(one.fact, "count", 1) != 0 for one in case.of_kinds(*TELLING)]
    is_weighed = any(not one.is_birth for one in case.weighings)
    is_usable = any(not one.is_birth for one in usable(case))
    return together(
        [
            *signs,
            sign("nothing_seen", not any(is_telling)),
            sign("only_clothed_weights", is_weighed and not is_usable),
            sign("weight_cannot_be_judged", is_weighed and not weight_is_judged),
            sign("birth_facts_missing", _lacks_birth_facts(case)),
        ]
    )


def stands_until(case: Case, reviewed: Reviewed, names: Iterable[str]) -> datetime | None:
    """When the first of what is known of the infant will be too old; None where none of it will be.

    Args:
        case: The infant.
        reviewed: What :func:`review_horizons` found, among the rest.
        names: The signs that say that it is.
    """
    ages_h = [
        one.age_h
        for name in names
        for one in reviewed.signs.get(name, ())
        if one.present is Truth.FALSE and one.age_h is not None
    ]
    return case.at_age(min(ages_h)) if ages_h else None


def _lacks_birth_facts(case: Case) -> bool:
    """Whether gestation or birth weight, by which limits are chosen, is not on the record."""
    birth = case.birth
    return birth is not None and None in (birth.gestation_days, birth.birth_weight_g)


def review_horizons(
    case: Case,
    parameters: CareParameters,
    output: Reviewed,
    gain: Figure | None,
    *,
    is_discharged: bool,
) -> Reviewed:
    """What was known once and is too old to be calm by, or was never known.

    Args:
        case: The infant.
        parameters: How old a weight, a count and a feed may be.
        output: What was found of wets and stools.
        gain: The gain that is judged; None where there is none.
        is_discharged: Whether the family was discharged from care and nothing was seen since.
    """
    if case.born_at is None or case.age_h is None or is_discharged:
        return Reviewed()
    horizons = parameters.horizons
    counted_h = _counted_until_h(case, case.born_at, parameters)
    is_enough = [_is_enough(output, name) for name in ("wets_24h", "stools_24h")]
    output_h = case.age_h if all(is_enough) else min(counted_h)
    stale_h = case.age_h - horizons.first_week_h.value
    lacks_wets, lacks_stools = (
        not enough and known_h <= stale_h
        for enough, known_h in zip(is_enough, counted_h, strict=True)
    )
    feeds = case.of_kinds(*FEEDS)
    fed_h = (case.age_at(feeds[-1].true_at) or 0.0) if feeds else 0.0
    week_h = _hours(horizons.first_week_until_d)
    birth_g = case.birth.birth_weight_g if case.birth else None
    # A weight after the first week answers for it only where loss or gain can be told by it.
    is_judged = birth_g is not None or gain is not None
    is_weighed_later = is_judged and any(one.age_h >= week_h for one in usable(case))
    is_gaining = gain is not None and (gain.low or 0.0) > 0
    return together(
        [
            _weight(case, horizons, is_gaining=is_gaining),
            _reported_only(case, horizons, is_gaining=is_gaining),
            _first_week(
                case,
                horizons,
                "output",
                output_h,
                is_weighed_later=is_weighed_later,
                unknown=UNKNOWN[lacks_wets, lacks_stools],
            ),
            _first_week(
                case,
                horizons,
                "feeds",
                fed_h,
                is_weighed_later=is_weighed_later,
            ),
        ]
    )


def not_asked(case: Case, parameters: CareParameters) -> tuple[Unasked, ...]:
    """What nobody asked of an infant past its first week whose weight is judged.

    A weight that rises answers for both after that week (ladder of levels, docs/decisions/0012), so it makes
    nobody 'not known'; but it is said what the calm rests on. What was asked counts as long before the last
    weight as a weight of that age stands: the clock alone changes nothing.
    """
    horizons = parameters.horizons
    last = usable(case)[-1:]
    if case.born_at is None or not last or last[0].age_h < _hours(horizons.first_week_until_d):
        return ()
    is_young = last[0].age_h < _hours(horizons.older_from_age_d)
    stands = horizons.weight_young_d if is_young else horizons.weight_older_d
    since = case.at_age(last[0].age_h - _hours(stands))
    facts = [one.fact for one in case.entries if one.true_at >= since]
    asked = {"output": OUTPUT, "feeds": FED}
    return tuple(
        name
        for name in get_args(Unasked)
        if not any(isinstance(fact, asked[name]) for fact in facts)
    )


def weighed_lately(case: Case, parameters: CareParameters) -> Reviewed:
    """Whether the last weight after birth is too old to be set against wets that are too few.

    Two days; past the weeks of the daily norms, as long as a weight of that age stands.
    """
    horizons = parameters.horizons
    age_h = case.age_h or 0.0
    weights = [one.age_h for one in usable(case) if not one.is_birth]
    since_h = age_h - max(weights, default=0.0)
    lately = within = horizons.weight_first_week_h
    if age_h >= _hours(parameters.output.norm_until_d):
        is_young = age_h < _hours(horizons.older_from_age_d)
        within = horizons.weight_young_d if is_young else horizons.weight_older_d
    return together(
        [
            sign("no_weight_lately", since_h > _hours(lately)),
            sign("no_weight_for_long", since_h > _hours(within)),
        ]
    )


def _weight(case: Case, horizons: Horizons, *, is_gaining: bool) -> Reviewed:
    """Whether the last weight without clothes is too old for the age at which it was taken."""
    age_h = case.age_h or 0.0
    series = usable(case)
    last_h = max((one.age_h for one in series), default=0.0)
    ago = Ago(age_h - last_h)
    weighed = (
        message("Last weighed {ago}", ago=ago)
        if any(not one.is_birth for one in series)
        else message("Not weighed since birth")
    )
    horizon = _horizon_of_weight(case, horizons, is_gaining=is_gaining)
    until_h = last_h + _hours(horizon)
    found = Sign(
        present=truth_of(age_h >= until_h),
        age_h=until_h,
        lasts=True,
        gaps=(("weighed", weighed),),
        working=Working(
            formula=message(
                "age now - age at the last weight, against the longest time between two"
            ),
            constants=(horizon,),
        ),
    )
    return Reviewed(signs={"weight_not_known": (found,)})


def _reported_only(case: Case, horizons: Horizons, *, is_gaining: bool) -> Reviewed:
    """Whether the last weight was told, of no known scale, and none that was measured still stands."""
    reported = {
        one.id: one
        for one in case.of_kinds(Weight)
        if one.basis is Basis.REPORTED and not one.device
    }
    latest = case.weighings[-1] if case.weighings else None
    if latest is None or latest.entry_id not in reported:
        return Reviewed()
    measured = tuple(one for one in case.weighings if one.entry_id not in reported)
    known = msgspec.structs.replace(case, weighings=measured)
    horizon = _horizon_of_weight(known, horizons, is_gaining=is_gaining)
    until_h = max((one.age_h for one in usable(known)), default=0.0) + _hours(horizon)
    since_h = max(until_h, latest.age_h)
    found = Sign(
        present=truth_of((case.age_h or 0.0) >= until_h),
        age_h=since_h,
        lasts=True,
        at=case.at_age(since_h),
        entry_ids=(latest.entry_id,),
        gaps=(
            ("weight", Amount(latest.weight_g, "g")),
            ("at", Instant(reported[latest.entry_id].true_at)),
        ),
        working=Working(
            formula=message(
                "age now - age at the last weight, against the longest time between two"
            ),
            constants=(horizon,),
        ),
    )
    return Reviewed(signs={"last_weight_is_told": (found,)})


def _horizon_of_weight(case: Case, horizons: Horizons, *, is_gaining: bool) -> Constant:
    """How long the last weight stands: by its age, and by whether it is known to have turned.

    That is where birth weight was reached, and the gain is one beyond weighing error.
    """
    last = usable(case)[-1:]
    if not last:
        return horizons.weight_first_week_h
    weight, birth = last[0], case.birth
    age_d = weight.age_h / HOURS_PER_DAY
    birth_g = birth.birth_weight_g if birth else None
    is_back = is_gaining and birth_g is not None and weight.weight_g >= birth_g
    if is_back and weight.age_h >= horizons.regained_from_age_h.value:
        is_young = age_d < horizons.older_from_age_d.value
        return horizons.weight_young_d if is_young else horizons.weight_older_d
    if age_d < horizons.first_week_until_d.value:
        return horizons.weight_first_week_h
    if age_d < horizons.second_week_until_d.value:
        return horizons.weight_second_week_d
    if age_d < horizons.newborn_until_d.value:
        return horizons.weight_unregained_d
    is_young = age_d < horizons.older_from_age_d.value
    return horizons.weight_young_d if is_young else horizons.weight_older_d


def _first_week(
    case: Case,
    horizons: Horizons,
    name: str,
    known_until_h: float,
    *,
    is_weighed_later: bool,
    **gaps: Param,
) -> Reviewed:
    """Whether nothing is known of the last day, of an infant in its first week.

    Once it has been unknown since the first week it stays so until it is known, or until a weight
    taken after that week.

    Args:
        case: The infant.
        horizons: How long it stands.
        name: What it is: the sign is this and ``_not_known``.
        known_until_h: The age until which it was known; 0 where it never was.
        is_weighed_later: Whether such a weight was taken.
        gaps: What it fills of the sentence of its row.
    """
    age_h, horizon = case.age_h or 0.0, horizons.first_week_h
    since_h = max(0.0, known_until_h) + horizon.value
    may_be_missing = since_h < _hours(horizons.first_week_until_d) and not is_weighed_later
    found = Sign(
        present=truth_of(may_be_missing and since_h <= age_h),
        age_h=since_h if may_be_missing else None,
        lasts=True,
        gaps=tuple(gaps.items()),
        working=Working(formula=message("nothing known of the last day"), constants=(horizon,)),
    )
    return Reviewed(signs={f"{name}_not_known": (found,)})


def _counted_until_h(
    case: Case, born_at: datetime, parameters: CareParameters
) -> tuple[float, ...]:
    """Up to what age wets, and stools, were fully counted; 0 where they never were."""
    stale_h = msgspec.structs.replace(parameters.output.stale_h, value=case.age_h or 0.0)
    limits = msgspec.structs.replace(parameters.output, stale_h=stale_h)
    kinds: tuple[OutputKind, ...] = ("wet", "stool")
    seen = [
        day_count(
            case.of_kinds(KIND_OF[kind]),
            case.infant.id,
            kind,
            born_at=born_at,
            as_of=case.as_of,
            limits=limits,
        )
        for kind in kinds
    ]
    return tuple(0.0 if one.high is None else elapsed_h(born_at, one.until) for one in seen)


def _is_enough(output: Reviewed, name: str) -> bool:
    """Whether as many as are expected are certain, though more may be missing."""
    figure, expected = output.figures.get(name), output.figures.get(f"{name}_expected")
    return figure is not None and expected is not None and figure.value >= expected.value


def _hours(constant: Constant) -> float:
    return constant.value * (HOURS_PER_DAY if constant.unit == "d" else 1)
