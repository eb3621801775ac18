"""Growth of one infant against the standard that applies: scores, centiles, velocity, fall."""

from __future__ import annotations

from functools import partial

import numpy as np

from suffice.assess.case import Case, Review
from suffice.assess.parameters import CareParameters
from suffice.assess.results import WeightRow
from suffice.assess.review.weight import NO_WEIGHT_AFTER_BIRTH, usable
from suffice.clinical.age import corrected_age_d
from suffice.clinical.entry import Birth, Size, Weight
from suffice.clinical.growth import assess as score
from suffice.clinical.growth import assess_fall, assess_gain
from suffice.clinical.growth.centile import centile_of_z
from suffice.clinical.growth.choice import choose, cohort_z
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.change import changes_percent, early_reference
from suffice.clinical.weight.weighing import Weighing
from suffice.clinical.working import Figure
from suffice.errors import InputError, RefusalError
from suffice.message import Words, message

NO_SIZE = {
    "length": message("No length is known."),
    "head": message("No head size is known."),
}
GROWTH_FIGURES = (
    "z",
    "centile",
    "birth_z",
    "velocity_z",
    "centile_fall_spaces",
    "length_z",
    "head_z",
    "weight_for_length_z",
)


def weight_rows(
    case: Case, parameters: CareParameters, p_wrong: dict[str, float]
) -> tuple[WeightRow, ...]:
    """Every weight with its change, score and centile, by age; the birth weight is the first.

    Args:
        case: The infant.
        parameters: Parameters and standards.
        p_wrong: Entry id to the engine's probability that the weight is wrong.
    """
    if case.born_at is None or not case.weighings:
        return ()
    weights_g = np.array([one.weight_g for one in case.weighings])
    ages_d = np.array([one.age_h / HOURS_PER_DAY for one in case.weighings])
    birth_g = case.birth.birth_weight_g if case.birth else None
    change = changes_percent(weights_g, np.nan if birth_g is None else birth_g)
    early = early_reference(usable(case), parameters.weight_change)
    z = _scores(case, parameters, ages_d, weights_g)
    centile = centile_of_z(z)
    feed_states = {entry.id: fact.feed_state for entry, fact in case.facts(Weight)}
    rows = []
    for place, one in enumerate(case.weighings):
        from_24h = None
        if early is not None and one.age_h >= early.age_h:
            from_24h = float(changes_percent(one.weight_g, early.weight_g))
        has_z = bool(np.isfinite(z[place]))
        rows.append(
            WeightRow(
                entry_id=one.entry_id or case.infant.id,
                at=case.at_age(one.age_h),
                age_h=one.age_h,
                weight_g=one.weight_g,
                change_percent=None if birth_g is None or one.is_birth else float(change[place]),
                change_from_24h_percent=from_24h,
                z=float(z[place]) if has_z else None,
                centile=float(centile[place]) if has_z else None,
                standard=_standard_name(case, parameters, ages_d[place]) if has_z else "",
                clothing=one.clothing,
                feed_state=feed_states.get(one.entry_id) if one.entry_id else None,
                scale=one.scale,
                p_wrong=p_wrong.get(str(one.entry_id)),
            )
        )
    return tuple(rows)


def _scores(
    case: Case,
    parameters: CareParameters,
    ages_d: np.ndarray[tuple[int], np.dtype[np.float64]],
    weights_g: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Scores of the weights; nan where the sex is not known or no standard covers it."""
    birth = case.birth
    if birth is None or birth.sex is None:
        return np.full(ages_d.shape, np.nan)
    gestation = np.nan if birth.gestation_days is None else birth.gestation_days
    is_male = birth.sex == "male"
    return cohort_z(
        parameters.standards, parameters.age, "weight", is_male, gestation, ages_d, weights_g
    )


def _standard_name(case: Case, parameters: CareParameters, age_d: float) -> str:
    gestation = case.birth.gestation_days if case.birth else None
    postnatal = parameters.standards.intergrowth_postnatal
    return choose(postnatal, parameters.age, gestation_days=gestation, age_d=float(age_d)).standard


def review_growth(case: Case, review: Review, parameters: CareParameters) -> None:
    """Write scores, velocity and the fall through centiles into the review."""
    birth, series = case.birth, [one for one in usable(case) if not one.is_birth]
    if birth is None:
        for name in GROWTH_FIGURES:
            review.missing(name, case.no_birth)
        return
    _review_birth_size(case, review, parameters)
    _review_sizes(case, review, parameters)
    if not series:
        for name in ("z", "centile", "velocity_z", "centile_fall_spaces"):
            review.missing(name, NO_WEIGHT_AFTER_BIRTH)
        return
    last = series[-1]
    try:
        found = score.for_infant(
            parameters.standards,
            parameters.age,
            "weight",
            birth.sex,
            gestation_days=birth.gestation_days,
            age_d=last.age_h / HOURS_PER_DAY,
            value=last.weight_g,
        )
    except (RefusalError, InputError) as refusal:
        for name in ("z", "centile", "centile_fall_spaces"):
            review.missing(name, refusal)
    else:
        review.figures["z"], review.figures["centile"] = found.z, found.centile
        _review_fall(review, parameters, birth, last)
    _review_velocity(case, review, parameters)


def review_corrected_age(case: Case, review: Review, parameters: CareParameters) -> None:
    """Write the corrected age of an infant born preterm."""
    birth, hours = case.birth, case.age_h
    if birth is None or hours is None:
        review.missing("corrected_age_d", case.no_birth)
    elif birth.gestation_days is None:
        review.missing("corrected_age_d", message("The gestation at birth is not known."))
    else:
        gestation = birth.gestation_days
        review.figure("corrected_age_d", lambda: corrected_age_d(gestation, hours, parameters.age))


def _review_birth_size(case: Case, review: Review, parameters: CareParameters) -> None:
    """The score of the birth weight for gestation, or for age 0 where gestation is not known."""
    birth = case.birth
    if birth is None or birth.birth_weight_g is None:
        review.missing("birth_z", message("The birth weight is not known."))
        return
    grams = birth.birth_weight_g
    if birth.gestation_days is None:
        compute = partial(score.weight_for_age, parameters.standards.who, birth.sex, 0.0, grams)
    else:
        compute = partial(
            score.newborn_size,
            parameters.standards.intergrowth_newborn,
            "weight",
            birth.sex,
            birth.gestation_days,
            grams,
        )
    review.figure("birth_z", compute)


def _review_fall(review: Review, parameters: CareParameters, birth: Birth, last: Weighing) -> None:
    """The fall through the centiles since birth, both weights on one standard."""
    if birth.birth_weight_g is None:
        review.missing("centile_fall_spaces", review.not_computed["birth_z"])
        return
    try:
        fall = assess_fall.fall_from_birth(
            parameters.standards,
            parameters.age,
            parameters.centile_fall,
            birth.sex,
            gestation_days=birth.gestation_days,
            birth_weight_g=birth.birth_weight_g,
            age_d=last.age_h / HOURS_PER_DAY,
            weight_g=last.weight_g,
        )
    except (RefusalError, InputError) as refusal:
        review.missing("centile_fall_spaces", refusal)
        return
    review.figures["centile_fall_spaces"] = fall.fall
    review.sign("centile_fall_is_concern", fall.is_concern, fall.reason, working=fall.fall.working)


def _review_velocity(case: Case, review: Review, parameters: CareParameters) -> None:
    """The latest gain that fits an interval of the velocity standard."""
    series, birth = usable(case), case.birth
    if birth is None or len(series) < 2:
        review.missing("velocity_z", message("There are fewer than two weights."))
        return
    last = series[-1]
    why: Words | RefusalError | InputError = ""
    for first in reversed(series[:-1]):
        try:
            review.figures["velocity_z"] = assess_gain.velocity_z(
                parameters.standards.velocity,
                parameters.velocity,
                birth.sex,
                start_d=first.age_h / HOURS_PER_DAY,
                end_d=last.age_h / HOURS_PER_DAY,
                gain_g=last.weight_g - first.weight_g,
            )
        except (RefusalError, InputError) as refusal:
            why = refusal
        else:
            return
    review.missing("velocity_z", why)


def _review_sizes(case: Case, review: Review, parameters: CareParameters) -> None:
    """Scores of the latest length and head circumference, and of weight for length."""
    sizes = case.facts(Size)
    lengths = [(entry, fact.length_cm) for entry, fact in sizes if fact.length_cm is not None]
    heads = [(entry, fact.head_cm) for entry, fact in sizes if fact.head_cm is not None]
    birth = case.birth
    for name, measure, found in (("length_z", "length", lengths), ("head_z", "head", heads)):
        if not found or birth is None:
            review.missing(name, NO_SIZE[measure])
            continue
        entry, value = found[-1]
        age_d = (case.age_at(entry.true_at) or 0.0) / HOURS_PER_DAY
        review.figure(
            name,
            lambda measure=measure, age_d=age_d, value=value: (
                score.for_infant(  # type: ignore[misc]
                    parameters.standards,
                    parameters.age,
                    measure,
                    birth.sex,
                    gestation_days=birth.gestation_days,
                    age_d=age_d,
                    value=value,
                ).z
            ),
        )
    _review_weight_for_length(case, lengths[-1] if lengths else None, review, parameters)


def _review_weight_for_length(
    case: Case, length: tuple[object, float] | None, review: Review, parameters: CareParameters
) -> None:
    series = [one for one in usable(case) if not one.is_birth]
    if length is None or not series or case.birth is None:
        review.missing("weight_for_length_z", message("It needs a length and a weight."))
        return
    sex, length_cm, weight = case.birth.sex, length[1], series[-1]

    def compute() -> Figure:
        return score.weight_for_length(parameters.standards.who, sex, length_cm, weight.weight_g)

    review.figure("weight_for_length_z", compute)
