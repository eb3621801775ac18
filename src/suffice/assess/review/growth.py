"""Growth of one infant against the standard that applies: scores, centiles, velocity, fall."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from typing import TypeAlias

import numpy as np

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.results import WeightRow
from suffice.assess.review.gain import NO_WEIGHT_AFTER_BIRTH
from suffice.assess.review.result import (
    Reviewed,
    computed,
    figures,
    measure,
    missing,
    sign,
    together,
)
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Measure as TableMeasure
from suffice.assess.rules.table import hours_of, limit_of
from suffice.clinical.age import corrected_age_d
from suffice.clinical.entry import Birth, Entry, Sex, Size, Weight
from suffice.clinical.growth import assess as score
from suffice.clinical.growth import assess_fall, assess_gain, who
from suffice.clinical.growth.centile import centile_of_z
from suffice.clinical.growth.choice import choose, cohort_z
from suffice.clinical.growth.intergrowth import newborn_z
from suffice.clinical.growth.standard import Measure
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.change import changes_percent, early_reference
from suffice.clinical.weight.weighing import Weighing
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, RefusalError
from suffice.message import Amount, Instant, Words, message

Row: TypeAlias = np.ndarray[tuple[int], np.dtype[np.float64]]
Floats: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

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
    from_early = None if early is None else changes_percent(weights_g, early.weight_g)
    z = _scores(case, parameters, ages_d, weights_g)
    for place, one in enumerate(case.weighings):
        if _is_size_at_birth(case, parameters, one):
            z[place] = _size_at_birth_z(case, parameters, one.weight_g)
    centile = centile_of_z(z)
    # At term one standard holds at every age.
    at_term = "" if _is_preterm(case, parameters) else _standard_at(case, parameters, 0.0)
    feed_states = {entry.id: fact.feed_state for entry, fact in case.facts(Weight)}
    rows = []
    for place, one in enumerate(case.weighings):
        from_24h = None
        if early is not None and from_early is not None and one.age_h >= early.age_h:
            from_24h = float(from_early[place])
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
                standard=(at_term or _standard_name(case, parameters, one)) if has_z else "",
                clothing=one.clothing,
                feed_state=feed_states.get(one.entry_id) if one.entry_id else None,
                scale=one.scale,
                p_wrong=p_wrong.get(str(one.entry_id)) if p_wrong else None,
            )
        )
    return tuple(rows)


def _scores(
    case: Case,
    parameters: CareParameters,
    ages_d: Row,
    weights_g: Row,
) -> Floats:
    """Scores of the weights; nan where the sex is not known or no standard covers it."""
    birth = case.birth
    if birth is None or birth.sex is None:
        return np.full(ages_d.shape, np.nan)
    return _scores_as(birth.sex, birth.gestation_days, parameters, ages_d, weights_g)


def _scores_as(
    sex: Sex,
    gestation: float | None,
    parameters: CareParameters,
    ages_d: Row,
    weights_g: Row,
) -> Floats:
    standards, age, is_male = parameters.standards, parameters.age, sex == "male"
    if gestation is None or gestation >= age.preterm_before_days.value:
        return who.weight_for_age_z(standards.who, is_male, ages_d, weights_g)
    return cohort_z(standards, age, "weight", is_male, gestation, ages_d, weights_g)


def _surest_scores(
    case: Case,
    parameters: CareParameters,
    ages_d: Row,
    weights_g: Row,
) -> Floats:
    """Scores of the weights; where the sex is not known those that are sure of either sex."""
    birth = case.birth
    if birth is None or birth.sex is not None:
        return _scores(case, parameters, ages_d, weights_g)
    sexes: tuple[Sex, ...] = ("female", "male")
    either = [_scores_as(sex, birth.gestation_days, parameters, ages_d, weights_g) for sex in sexes]
    return np.fmax(*either)


def _size_at_birth_z(case: Case, parameters: CareParameters, weight_g: float) -> float:
    """The score of a birth weight for gestation; nan where sex or gestation does not allow one."""
    birth = case.birth
    if birth is None or birth.sex is None or birth.gestation_days is None:
        return np.nan
    newborn, is_male = parameters.standards.intergrowth_newborn, birth.sex == "male"
    return float(newborn_z(newborn, "weight", is_male, birth.gestation_days, weight_g))


def _is_size_at_birth(case: Case, parameters: CareParameters, one: Weighing) -> bool:
    """Whether it is the birth weight of an infant born preterm.

    The standard of growth after birth holds for weights after birth; it has no size at birth.
    """
    return one.is_birth and _is_preterm(case, parameters)


def _is_preterm(case: Case, parameters: CareParameters) -> bool:
    gestation = case.birth.gestation_days if case.birth else None
    return gestation is not None and gestation < parameters.age.preterm_before_days.value


def _standard_name(case: Case, parameters: CareParameters, one: Weighing) -> str:
    if _is_size_at_birth(case, parameters, one):
        return "INTERGROWTH-21st newborn"
    return _standard_at(case, parameters, one.age_h / HOURS_PER_DAY)


def _standard_at(case: Case, parameters: CareParameters, age_d: float) -> str:
    gestation = case.birth.gestation_days if case.birth else None
    postnatal = parameters.standards.intergrowth_postnatal
    return choose(postnatal, parameters.age, gestation_days=gestation, age_d=age_d).standard


def review_growth(case: Case, parameters: CareParameters) -> Reviewed:
    """Scores, velocity and the fall through centiles."""
    birth, series = case.birth, [one for one in usable(case) if not one.is_birth]
    if birth is None:
        return missing(*GROWTH_FIGURES, why=case.no_birth)
    size_at_birth = _birth_size(birth, parameters)
    parts = [size_at_birth, *_review_sizes(case, birth, parameters)]
    if not series:
        names = ("z", "centile", "velocity_z", "centile_fall_spaces")
        return together([*parts, missing(*names, why=NO_WEIGHT_AFTER_BIRTH)])
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
        parts.append(missing("z", "centile", "centile_fall_spaces", why=refusal))
        if birth.sex is None:
            parts.extend(_low_weights(case, series, parameters))
    else:
        parts.append(figures(z=found.z, centile=found.centile))
        parts.append(_fall(case, birth, series, parameters, size_at_birth))
        parts.extend(_low_weights(case, series, parameters))
    return together([*parts, _velocity(case, birth, parameters)])


def review_corrected_age(case: Case, parameters: CareParameters) -> Reviewed:
    """The corrected age of an infant born preterm."""
    birth, hours = case.birth, case.age_h
    if birth is None or hours is None:
        return missing("corrected_age_d", why=case.no_birth)
    gestation = birth.gestation_days
    if gestation is None:
        return missing("corrected_age_d", why=message("The gestation at birth is not known."))
    return computed("corrected_age_d", lambda: corrected_age_d(gestation, hours, parameters.age))


def _birth_size(birth: Birth, parameters: CareParameters) -> Reviewed:
    """The score of the birth weight for gestation, or for age 0 where gestation is not known."""
    if birth.birth_weight_g is None:
        return missing("birth_z", why=message("The birth weight is not known."))
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
    size = computed("birth_z", compute)
    return together(
        [
            size,
            *(
                measure("birth_weight_z", TableMeasure(value=one.value, age_h=0.0, figure=one))
                for one in size.figures.values()
            ),
        ]
    )


def _fall(
    case: Case,
    birth: Birth,
    series: list[Weighing],
    parameters: CareParameters,
    size_at_birth: Reviewed,
) -> Reviewed:
    """The fall through the centiles since birth or the first weeks, all weights on one standard."""
    if birth.birth_weight_g is None:
        return missing("centile_fall_spaces", why=size_at_birth.not_computed["birth_z"])
    last, rules = series[-1], parameters.centile_fall
    from_h, until_h = hours_of(rules.settled_from_age_d), hours_of(rules.from_age_d)
    settled = [one for one in series if from_h <= one.age_h <= until_h and one is not last]
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
            settled=(
                (settled[-1].age_h / HOURS_PER_DAY, settled[-1].weight_g) if settled else None
            ),
        )
    except (RefusalError, InputError) as refusal:
        return missing("centile_fall_spaces", why=refusal)
    working = fall.fall.working
    return together(
        [
            figures(centile_fall_spaces=fall.fall),
            sign(
                "centile_fall_is_concern",
                fall.is_fall,
                fall.reason,
                age_h=last.age_h,
                degree=fall.fall.value,
                entry_ids=(last.entry_id,),
                working=working,
                at=Instant(case.at_age(last.age_h)),
            ),
        ]
    )


def _low_weights(
    case: Case, series: list[Weighing], parameters: CareParameters
) -> Iterator[Reviewed]:
    """How low the weight lies, in centile spaces from the median, where no physician knows of it.

    Twice: of the latest weight, and of the lowest since the early weeks, which a later weight does
    not end. A physician knows of it who answered after the weights had come to lie below that line;
    one that crosses a lower line is new, and so is one that lies lower than all that were known by
    more than weighing errs.
    """
    rules = parameters.centile_fall
    judged = [one for one in series if one.age_h >= hours_of(rules.settled_from_age_d)]
    if not judged:
        return
    ages_d = np.array([one.age_h / HOURS_PER_DAY for one in judged])
    grams = np.array([one.weight_g for one in judged])
    noise = (limit_of("weight_change.beyond_noise_g", case.content, one.age_h) for one in judged)
    noise_g = np.array([one.value if one else 0.0 for one in noise])
    z = _surest_scores(case, parameters, ages_d, grams)
    spaces = [float(one) / rules.space_z.value for one in z]
    at_most = _surest_scores(case, parameters, ages_d, grams + noise_g) / rules.space_z.value

    def is_known(place: int, line: Constant) -> bool:
        began = place
        while began and spaces[began - 1] < line.value:
            began -= 1
        known = [one for one in range(began, place + 1) if case.answers.cover_weights(judged[one])]
        lowest = min((spaces[one] for one in known), default=math.inf)
        return place in known or at_most[place] >= lowest

    latest = len(judged) - 1
    severe = [
        place
        for place, one in enumerate(spaces)
        if one < rules.severe_line_spaces.value and not is_known(place, rules.severe_line_spaces)
    ]
    lowest = min(severe, key=lambda place: spaces[place], default=latest)
    if not is_known(latest, rules.floor_line_spaces):
        yield _spaces_of(case, "weight_spaces", judged[latest], spaces[latest])
    if severe or spaces[latest] >= rules.severe_line_spaces.value:
        yield _spaces_of(case, "lowest_weight_spaces", judged[lowest], spaces[lowest])


def _spaces_of(case: Case, name: str, weighing: Weighing, spaces: float) -> Reviewed:
    found = TableMeasure(
        value=spaces,
        age_h=weighing.age_h,
        at=case.at_age(weighing.age_h),
        figure=Figure(
            value=spaces,
            unit="1",
            working=Working(
                formula=message("z of the weight / width of a centile space"),
                inputs=(
                    Quantity(name=message("weight"), value=weighing.weight_g, unit="g"),
                    Quantity(name=message("age"), value=weighing.age_h, unit="h"),
                ),
            ),
        ),
        entry_ids=(weighing.entry_id,),
        gaps=(
            ("weight", Amount(weighing.weight_g, "g")),
            ("until", Instant(case.at_age(weighing.age_h))),
        ),
    )
    return measure(name, found)


def _velocity(case: Case, birth: Birth, parameters: CareParameters) -> Reviewed:
    """The latest gain that fits an interval of the velocity standard."""
    series = usable(case)
    if len(series) < 2:
        return missing("velocity_z", why=message("There are fewer than two weights."))
    last, (standard, asked) = series[-1], (parameters.standards.velocity, parameters.velocity)
    end_d = last.age_h / HOURS_PER_DAY
    why: Words | RefusalError | InputError = ""
    for first in reversed(series[:-1]):
        start_d = first.age_h / HOURS_PER_DAY
        fits = assess_gain.is_near_interval(standard, asked, start_d=start_d, end_d=end_d)
        # Of several refusals the reader gets the last.
        if not fits and first is not series[0]:
            continue
        try:
            velocity_z = assess_gain.velocity_z(
                standard,
                asked,
                birth.sex,
                start_d=start_d,
                end_d=end_d,
                gain_g=last.weight_g - first.weight_g,
            )
        except (RefusalError, InputError) as refusal:
            why = refusal
        else:
            return figures(velocity_z=velocity_z)
    return missing("velocity_z", why=why)


def _review_sizes(case: Case, birth: Birth, parameters: CareParameters) -> Iterator[Reviewed]:
    """Scores of the latest length and head circumference, and of weight for length."""
    sizes = case.facts(Size)
    lengths = [(entry, fact.length_cm) for entry, fact in sizes if fact.length_cm is not None]
    heads = [(entry, fact.head_cm) for entry, fact in sizes if fact.head_cm is not None]
    scored: tuple[tuple[str, Measure, list[tuple[Entry, float]]], ...] = (
        ("length_z", "length", lengths),
        ("head_z", "head", heads),
    )
    for name, measured, found in scored:
        if not found:
            yield missing(name, why=NO_SIZE[measured])
            continue
        entry, value = found[-1]
        compute = partial(
            _size_z,
            birth,
            measured,
            value,
            age_d=(case.age_at(entry.true_at) or 0.0) / HOURS_PER_DAY,
            parameters=parameters,
        )
        yield computed(name, compute)
    series = [one for one in usable(case) if not one.is_birth]
    if not lengths or not series:
        yield missing("weight_for_length_z", why=message("It needs a length and a weight."))
        return
    (_, length_cm), weight_g = lengths[-1], series[-1].weight_g
    yield computed(
        "weight_for_length_z",
        partial(score.weight_for_length, parameters.standards.who, birth.sex, length_cm, weight_g),
    )


def _size_z(
    birth: Birth, measured: Measure, value: float, *, age_d: float, parameters: CareParameters
) -> Figure:
    found = score.for_infant(
        parameters.standards,
        parameters.age,
        measured,
        birth.sex,
        gestation_days=birth.gestation_days,
        age_d=age_d,
        value=value,
    )
    return found.z
