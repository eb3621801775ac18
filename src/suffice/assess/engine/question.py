"""What the engine is asked about one infant: which gain is too slow, and which is expected.

Both come from the WHO lines of gain by age and sex. Too slow is what lies below the line at which the
plain rules look, at the age of the last weight: the engine and the rules ask one question. Expected is the
median at the present age: the requirement is the intake with which this infant would keep it.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec
import numpy as np

from suffice.assess.parameters import CareParameters
from suffice.clinical.entry import Sex
from suffice.clinical.growth.gain_line import Stretch
from suffice.clinical.weight.gain import GainRules
from suffice.inference.estimate import Question
from suffice.inference.infant.model import Floats
from suffice.inference.many.preview import ManyAsked


class AskedOf(NamedTuple):
    """The infant of whom it is asked.

    Attributes:
        now_d: Age at the question, days.
        last_weight_d: Age at the last weight after birth; None without one.
        sex: None where it is not known: then the higher line of the two sexes counts.
        gestation_days: None where it is not known.
    """

    now_d: float
    last_weight_d: float | None
    sex: Sex | None
    gestation_days: float | None


class ManyAskedOf(NamedTuple):
    """The infants of a cohort of whom it is asked: arrays of one length, as in `AskedOf`.

    `male_share` is 1 for boys, 0 for girls, one half where the sex is not known; each infant has a
    weight after birth; gestation is nan where it is not known.
    """

    now_d: Floats
    last_weight_d: Floats
    male_share: Floats
    gestation_days: Floats


def question_of(base: Question, infant: AskedOf, parameters: CareParameters) -> Question:
    """The question of one infant.

    Args:
        base: What is the same for all; its limit of gain stands where no line holds yet.
        infant: Who is asked about.
        parameters: The lines of gain and the ages from which they hold.
    """
    return msgspec.structs.replace(
        base,
        gain_limit_g_per_day=_limit(base, infant, parameters),
        requirement_gain_g_per_day=_expected(infant, parameters),
    )


def _limit(base: Question, infant: AskedOf, parameters: CareParameters) -> float:
    """The line below which the plain rules look, at the age of the last weight.

    Before the age of those lines what is asked of the first two weeks; before that the engine's own.
    Of an infant born preterm at least what the rules ask until shortly after term age.
    Today's age where there is no weight since birth, or only one before those ages.
    """
    line, rules = parameters.gain_line, parameters.gain_rules
    from_d = rules.first_week_from_age_d.value
    last_d = infant.now_d if infant.last_weight_d is None else infant.last_weight_d
    at_d = last_d if last_d >= from_d else infant.now_d
    if at_d < from_d:
        return base.gain_limit_g_per_day
    stretch = stretch_at(infant, at_d, parameters)
    limit = line.first_days_g_per_day.value
    if at_d >= line.lines_from_age_d.value:
        limit = parameters.gain_lines.line(line.look_fraction.value, stretch)
    if stretch.is_term:
        return limit
    return float(at_least_before_term(np.array(limit), np.array(stretch.last_d), rules))


def at_least_before_term(limit: Floats, corrected_d: Floats, rules: GainRules) -> Floats:
    """Limits of gain, g/day, of infants born preterm: at least what the rules ask until shortly after term age."""
    is_early = corrected_d < rules.late_preterm_until_corrected_d.value
    found: Floats = np.where(is_early, np.maximum(limit, rules.late_preterm_g_per_day.value), limit)
    return found


def _expected(infant: AskedOf, parameters: CareParameters) -> float:
    """The gain of the middle infant of this age and sex; in the first two weeks that at two weeks."""
    stretch = stretch_at(infant, infant.now_d, parameters)
    return parameters.gain_lines.line(parameters.gain_line.expected_fraction.value, stretch)


def stretch_at(infant: AskedOf, at_d: float, parameters: CareParameters) -> Stretch:
    """An age as the lines of gain count it: corrected where born preterm."""
    gestation, age = infant.gestation_days, parameters.age
    is_preterm = gestation is not None and gestation < age.preterm_before_days.value
    before_term_d = age.term_days.value - gestation if gestation and is_preterm else 0.0
    corrected_d = at_d - before_term_d
    return Stretch(corrected_d, corrected_d, infant.sex, is_term=not is_preterm)


def asked_of_many(base: Question, infants: ManyAskedOf, parameters: CareParameters) -> ManyAsked:
    """The lines of gain that :func:`question_of` asks about, for a whole cohort."""
    line, age, rules = parameters.gain_line, parameters.age, parameters.gain_rules
    from_d = rules.first_week_from_age_d.value
    is_term = ~(infants.gestation_days < age.preterm_before_days.value)
    early_d = np.where(is_term, 0.0, age.term_days.value - infants.gestation_days)
    is_male = np.where(infants.male_share == 0.5, np.nan, infants.male_share)

    def lines(fraction: float, at_d: Floats) -> Floats:
        return parameters.gain_lines.lines(fraction, at_d - early_d, is_male, is_term)

    now_d, last_d = infants.now_d, infants.last_weight_d
    at_d = np.where(last_d >= from_d, last_d, now_d)
    limit = np.where(
        at_d < line.lines_from_age_d.value,
        line.first_days_g_per_day.value,
        lines(line.look_fraction.value, at_d),
    )
    limit = np.where(is_term, limit, at_least_before_term(limit, at_d - early_d, rules))
    return ManyAsked(
        gain_limit_g_per_day=np.where(at_d < from_d, base.gain_limit_g_per_day, limit),
        requirement_gain_g_per_day=lines(line.expected_fraction.value, now_d),
    )
