"""The parameters of the population model, as the content store holds them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import ClassVar

from suffice.errors import ContentError, Problem
from suffice.message import message


@dataclass(frozen=True, slots=True, kw_only=True)
class Population:
    """The population of newborns and of the errors made in weighing them.

    Every field is one constant of the topic `population`; the equations that use them are in
    :mod:`suffice.inference.infant.model` and docs/reference/inference.md. Logarithms are natural; a
    spread called `log_sd` is the SD of the logarithm.

    Attributes:
        energy_log: Natural logarithm of the energy supplied at the breast, kcal per kg of
            birth weight and day, at full lactation and birth weight 3.4 kg. Symbol lE.
        birth_weight_reference_kg: Birth weight at which the supply equation is anchored
            (kg). Symbol bw0.
        supply_sd: Scale of the lasting difference of supply between parents (log). Symbol
            sA.
        supply_tail: Skewness of the lasting difference: long tail of low supply. Symbol kA.
        supply_birth_weight_slope: Change of log supply per kg of birth weight with log
            birth weight. Symbol bW.
        supply_boy: Log supply of boys above girls. Symbol bSex.
        supply_follows_need: How far supply follows the infant's own expenditure. Symbol bE.
        maturation_fraction: Part of the full supply still missing at birth, after
            lactogenesis. Symbol m1.
        maturation_d: Time constant of maturation (d). Symbol tm.
        onset_vaginal_d: Age at half of lactogenesis, vaginal birth (d). Symbol t50v.
        onset_caesarean_d: Age at half of lactogenesis, caesarean birth (d). Symbol t50c.
        onset_log_sd: Spread of the age at half of lactogenesis (log). Symbol st.
        onset_width_d: Width of lactogenesis (d). Symbol wd.
        onset_width_log_sd: Spread of the width (log). Symbol sw.
        colostrum_fraction: Part of full supply that is there at birth. Symbol l0.
        excess_vaginal: Excess fluid and meconium at birth per kg of birth weight, vaginal
            birth. Symbol fv.
        excess_caesarean: Excess fluid and meconium at birth per kg of birth weight,
            caesarean birth. Symbol fc.
        fluids_much_ml: Intravenous fluids in labour above which the birth weight is more
            inflated by water (mL). Symbol vf.
        excess_few_fluids_log: What at most that much fluid adds to the log of the excess,
            vaginal birth. Symbol ffew.
        excess_much_fluids_log: What more fluid adds to it. Symbol fmuch.
        excess_log_sd: Spread of the excess (log). Symbol sf.
        excess_d: Time constant with which the excess is lost (d). Symbol tau.
        excess_d_log_sd: Spread of that time constant (log). Symbol stau.
        content_fraction: Content of gut and bladder, as part of the intake of 24 h. Symbol
            kap.
        expenditure_birth: Energy expenditure at birth per kg of present weight (kcal/kg/d).
            Symbol h0.
        expenditure_later: Energy expenditure that is approached (kcal/kg/d). Symbol h1.
        expenditure_d: Time constant of expenditure (d). Symbol th.
        expenditure_log_sd: Spread of expenditure between infants (log). Symbol se.
        density_birth: Metabolisable energy of colostrum (kcal/mL). Symbol rho0.
        density_later: Metabolisable energy of mature milk (kcal/mL). Symbol rho1.
        density_d: Time constant of the change of milk energy (d). Symbol tr.
        density_log_sd: Spread of milk energy between parents (log). Symbol sr.
        given_milk_density: Energy of milk given other than at the breast (kcal/mL). Symbol
            rhos.
        displaced_fraction: Part of an unseen change of milk given that the breast makes good, on average.
        displaced_sd_fraction: SD of that part.
        tissue_cost: Energy per gram of tissue gained; agrees with 607 kJ at 34 g a day
            (Salazar 2000) (kcal/g). Symbol c0.
        tissue_cost_log_sd: Spread of that energy (log). Symbol sc.
        drift_sd: Spread of the slow drift of supply within a parent (log). Symbol sAR.
        drift_start_sd: Additional spread while feeding is being established (log). Symbol
            sAR0.
        drift_d: Time constant of the drift (d). Symbol tAR.
        drift_knot_d: Distance of the knots of the drift (d). Symbol dk.
        birth_weight_mean_kg: Median birth weight where none is known (term singletons)
            (kg). Symbol mbw.
        birth_weight_log_sd: Spread of birth weight where none is known (log). Symbol sbw.
        caesarean_fraction: Share of caesarean births where the mode is not known. Symbol
            pc.
        noise_birth_weight_g: Error of a measured birth weight (SD) (g). Symbol sBW.
        noise_physiological_g: What feeds, urine and stool do to one weight (SD). Two
            readings of the literature imply 35 g and, at 2 to 10 months, 82 g; a site
            should estimate its own (g). Symbol sphys.
        noise_log_sd: How far the noise of weighing differs between families and sites
            (log); it is learnt from the scatter of the weights. Two readings of the
            literature lie a factor of 2.3 apart. Symbol sn.
        noise_scale_g: Repeatability of a clinic scale (SD) (g). Symbol sscale.
        noise_resolution_g: Step of the display of a clinic scale (g). Symbol res.
        outlier_fraction: Share of weights that are wrong beyond ordinary noise. Symbol po.
        outlier_sd_g: Size of such errors (SD) (g). Symbol so.
        gross_error_fraction: Share of weights that are gross slips of any size. Symbol pg.
        gross_error_range_g: Range over which a gross slip may lie (g). Symbol rg.
        clothes_fraction: Share of weights taken in clothes where the state is not known.
            Symbol pk.
        clothes_g: What clothes and a diaper weigh (g). Symbol mk.
        clothes_sd_g: Spread of that weight (SD) (g). Symbol sk.
        dry_diaper_g: What a dry diaper weighs (g). Symbol md.
        dry_diaper_sd_g: Spread of that weight (SD) (g). Symbol smd.
        sitting_h: Time between two weighings up to which they share their error (h).
        sitting_shared_fraction: Part of the variance of noise_physiological_g that weights of
            one sitting share.
        scale_offset_sd_g: Difference of a second scale from the first (SD) (g). Symbol sd2.
        day_log_sd: Day-to-day spread of intake (log); within-infant 8.9 % in all (DARLING
            1991). Symbol sday.
        feed_log_sd: Spread of single feeds of one infant (log of a coefficient of variation
            of 0.45). Symbol sfeed.
        feeds_per_day: Feeds at the breast per day ({#}/d). Symbol nf.
        feeds_per_day_log_sd: Spread of that number between infants where it was not counted
            (log). Symbol snf.
        test_weighing_sd_g: SD of one weighed transfer (g). Symbol stw.
        evaporation_fraction: Loss by evaporation during a weighed feed, part of the
            transfer (1 to 5 %). Symbol ev.
        wet_intercept: Wet diapers a day without intake ({#}/d). Symbol w0.
        wet_slope: Wet diapers a day per mL/kg of intake ({#}.kg/mL). Symbol w1.
        stool_intercept: Soiled diapers a day without intake ({#}/d). Symbol s0.
        stool_slope: Soiled diapers a day per mL/kg of intake ({#}.kg/mL). Symbol s1.
        diaper_dispersion: Negative binomial dispersion of counts. Symbol phi.
        diaper_habit_log_sd: Spread of the habit of one infant (log). Symbol sh.
        gain_window_d: Span over which the present gain is measured (d).
        gain_asked_from_d: Age before which the present gain is still the early loss and
            says nothing about slow growth (d).
        old_evidence_d: Age of the last weight from which the answer is rather a forecast
            (d).
        last_weight_noted_sd: How far the last weight may lie from what the evidence without
            it leads to expect before a caution, in SDs of that forecast.
        scatter_noted: Probability below which the scatter of the weights is no chance.
        standing_until_d: Age up to which the weight change is placed among others (d).
        age_limit_d: Age beyond which no answer is given (d).
        age_checked_d: Age up to which the model was checked by simulation (d).
        gestation_refused_d: Gestation below which no answer is given (34 weeks) (d).
        gestation_term_d: Gestation below which the answer carries a warning (37 weeks) (d).
        birth_weight_refused_low_g: Birth weight below which no answer is given (g).
        birth_weight_low_g: Birth weight below which the answer carries a warning (g).
        birth_weight_high_g: Birth weight above which the answer carries a warning (g).
        formula_share_refused: Share of the requirement met by given milk above which intake
            at the breast is not given.
        formula_share_noted: Share of the requirement met by given milk above which the
            answer carries a caution.
        scale_bias_noted_g: Uncertainty of a scale's bias from which the answer carries a
            caution (g).
        noise_noted_g: Noise of a weight from which the answer carries a caution (g).
        suspect_noted_probability: Probability from which a doubtful weight is mentioned.
        effective_draws_least: Effective draws below which the full answer is not relied on.
        preview_shift_noted_sd: Difference of preview and full answer, in SD of the answer,
            from which it is said.
    """

    energy_log: float
    birth_weight_reference_kg: float
    supply_sd: float
    supply_tail: float
    supply_birth_weight_slope: float
    supply_boy: float
    supply_follows_need: float
    maturation_fraction: float
    maturation_d: float
    onset_vaginal_d: float
    onset_caesarean_d: float
    onset_log_sd: float
    onset_width_d: float
    onset_width_log_sd: float
    colostrum_fraction: float
    excess_vaginal: float
    excess_caesarean: float
    fluids_much_ml: float
    excess_few_fluids_log: float
    excess_much_fluids_log: float
    excess_log_sd: float
    excess_d: float
    excess_d_log_sd: float
    content_fraction: float
    expenditure_birth: float
    expenditure_later: float
    expenditure_d: float
    expenditure_log_sd: float
    density_birth: float
    density_later: float
    density_d: float
    density_log_sd: float
    given_milk_density: float
    displaced_fraction: float
    displaced_sd_fraction: float
    tissue_cost: float
    tissue_cost_log_sd: float
    drift_sd: float
    drift_start_sd: float
    drift_d: float
    drift_knot_d: float
    birth_weight_mean_kg: float
    birth_weight_log_sd: float
    caesarean_fraction: float
    noise_birth_weight_g: float
    noise_physiological_g: float
    noise_log_sd: float
    noise_scale_g: float
    noise_resolution_g: float
    outlier_fraction: float
    outlier_sd_g: float
    gross_error_fraction: float
    gross_error_range_g: float
    clothes_fraction: float
    clothes_g: float
    clothes_sd_g: float
    dry_diaper_g: float
    dry_diaper_sd_g: float
    sitting_h: float
    sitting_shared_fraction: float
    scale_offset_sd_g: float
    day_log_sd: float
    feed_log_sd: float
    feeds_per_day: float
    feeds_per_day_log_sd: float
    test_weighing_sd_g: float
    evaporation_fraction: float
    wet_intercept: float
    wet_slope: float
    stool_intercept: float
    stool_slope: float
    diaper_dispersion: float
    diaper_habit_log_sd: float
    gain_window_d: float
    gain_asked_from_d: float
    old_evidence_d: float
    last_weight_noted_sd: float
    scatter_noted: float
    standing_until_d: float
    age_limit_d: float
    age_checked_d: float
    gestation_refused_d: float
    gestation_term_d: float
    birth_weight_refused_low_g: float
    birth_weight_low_g: float
    birth_weight_high_g: float
    formula_share_refused: float
    formula_share_noted: float
    scale_bias_noted_g: float
    noise_noted_g: float
    suspect_noted_probability: float
    effective_draws_least: float
    preview_shift_noted_sd: float

    ELSEWHERE: ClassVar[dict[str, str]] = {
        "displaced_fraction": "forecast.displaced_fraction",
        "displaced_sd_fraction": "forecast.displaced_sd_fraction",
    }
    """Fields whose constant stands in another topic, since the growth prior's fan asks for it too."""

    @classmethod
    def key_of(cls, name: str) -> str:
        """The key of the constant of a field."""
        return cls.ELSEWHERE.get(name, f"population.{name}")

    @classmethod
    def from_constants(cls, values: Mapping[str, float]) -> Population:
        """The population from constants by key (:meth:`key_of`); other keys are not read.

        Raises:
            ContentError: INFER-201 when a constant is missing or not a finite number.
        """
        numbers: dict[str, float] = {}
        for field in fields(cls):
            key = cls.key_of(field.name)
            value = values.get(key, math.nan)
            if not math.isfinite(value):
                raise ContentError(
                    Problem(
                        code="INFER-201",
                        what=message("The constant {key} is missing or not a number.", key=key),
                        why=message("The engine owns no values of its own."),
                        fix=message("Give it in the content store."),
                    )
                )
            numbers[field.name] = float(value)
        return cls(**numbers)
