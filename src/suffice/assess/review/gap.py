"""What nobody knows of an infant, as signs: silence is no good news.

A family is settled only where somebody has looked lately and found nothing amiss: a weight, in the
first week wets, stools and feeds too, each not older than its age asks for. A planned contact does not
make up for it. What has been unknown since an age counts as at that age: growing older calms nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters, Horizons
from suffice.assess.review.result import Reviewed, sign, together
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Sign
from suffice.assess.rules.truth import truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Expression, Feed, Stool, TestWeight, Weight, Wet
from suffice.clinical.output import day_count
from suffice.clinical.output_count import OutputKind
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.message import Ago, message

TELLING = (Weight, TestWeight, Wet, Stool)
"""Kinds of facts that say something of whether milk goes in."""
COUNTED = ("wets_counted", "stools_counted")
"""Signs that a day of the last 24 hours was counted."""
FEEDS = (Feed, Expression, TestWeight)
"""Kinds of facts that say how an infant is fed."""


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
    is_telling = [isinstance(entry.fact, TELLING) for entry in case.entries]
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
    if case.age_h is None or is_discharged:
        return Reviewed()
    horizons = parameters.horizons
    is_counted = _is_counted(case, parameters, output)
    return together(
        [
            _weight(case, horizons, is_gaining=gain is not None and (gain.low or 0.0) > 0),
            *_first_week(case, horizons, "output", (Wet, Stool), is_known=is_counted),
            *_first_week(case, horizons, "feeds", FEEDS, is_known=False),
        ]
    )


def _weight(case: Case, horizons: Horizons, *, is_gaining: bool) -> Reviewed:
    """Whether the last weight without clothes is too old for the age at which it was taken."""
    age_h = case.age_h or 0.0
    series = usable(case)
    last_h = max((one.age_h for one in series), default=0.0)
    horizon = _horizon_of_weight(case, horizons, is_gaining=is_gaining)
    until_h = last_h + _hours(horizon)
    found = Sign(
        present=truth_of(age_h > until_h),
        age_h=until_h,
        lasts=True,
        gaps=(("ago", Ago(age_h - last_h)),),
        working=Working(
            formula=message(
                "age now - age at the last weight, against the longest time between two"
            ),
            constants=(horizon,),
        ),
    )
    return Reviewed(signs={"weight_not_known": (found,)})


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
    kinds: tuple[type, ...],
    *,
    is_known: bool,
) -> Iterator[Reviewed]:
    """Whether nothing is known of the last day, of an infant in its first week.

    Once it has been unknown since the first week it stays so until it is known, or until a weight
    taken after that week.
    """
    age_h = case.age_h or 0.0
    horizon = horizons.first_week_h
    seen_h = [
        case.age_at(one.true_at) or 0.0 for one in case.entries if isinstance(one.fact, kinds)
    ]
    last_h = max(seen_h, default=None)
    if name == "feeds":
        is_known = last_h is not None and age_h - last_h <= horizon.value
    since_h = max(horizon.value, (last_h or 0.0) + horizon.value)
    week_h = _hours(horizons.first_week_until_d)
    is_weighed_later = any(one.age_h >= week_h for one in usable(case))
    is_missing = not is_known and horizon.value <= age_h and since_h < week_h
    yield Reviewed(
        signs={
            f"{name}_not_known": (
                Sign(
                    present=truth_of(is_missing and not is_weighed_later),
                    age_h=min(since_h, age_h),
                    lasts=True,
                    working=Working(
                        formula=message("nothing known of the last day"), constants=(horizon,)
                    ),
                ),
            )
        }
    )


def _is_counted(case: Case, parameters: CareParameters, output: Reviewed) -> bool:
    """Whether wets and stools are known lately: a full day of each, or as many as are expected."""
    born_at, horizon_h = case.born_at, parameters.horizons.first_week_h.value
    if born_at is None:
        return False
    stale_h = msgspec.structs.replace(parameters.output.stale_h, value=case.age_h or 0.0)
    limits = msgspec.structs.replace(parameters.output, stale_h=stale_h)
    kinds: tuple[tuple[OutputKind, str], ...] = (("wet", "wets_24h"), ("stool", "stools_24h"))
    for kind, name in kinds:
        figure, expected = output.figures.get(name), output.figures.get(f"{name}_expected")
        if figure is not None and expected is not None and figure.value >= expected.value:
            continue
        seen = day_count(
            case.entries, case.infant.id, kind, born_at=born_at, as_of=case.as_of, limits=limits
        )
        if seen.high is None or elapsed_h(seen.until, case.as_of) > horizon_h:
            return False
    return True


def _hours(constant: Constant) -> float:
    return constant.value * (HOURS_PER_DAY if constant.unit == "d" else 1)
