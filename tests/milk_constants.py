"""Energy and intake of the tests' own, near the published ones."""

from __future__ import annotations

from clinical_constants import Steps, constant
from suffice.clinical.milk.observed_intake import IntakeNorms
from suffice.clinical.milk.requirement import EnergyParameters

ENERGY = EnergyParameters(
    breastfed_slope_kcal_per_kg_per_day=constant(90),
    breastfed_intercept_kcal_per_day=constant(-150),
    formula_slope_kcal_per_kg_per_day=constant(80),
    formula_intercept_kcal_per_day=constant(-30),
    all_slope_kcal_per_kg_per_day=constant(85),
    all_intercept_kcal_per_day=constant(-100),
    deposition_boys_kcal_per_day=Steps({0: 200, 31: 180}, until=366),
    deposition_girls_kcal_per_day=Steps({0: 160, 31: 150}, until=366),
    between_infants_cv_fraction=constant(0.1),
    level_fraction=constant(0.8),
    refuse_before_d=constant(14),
    caution_before_d=constant(30),
    preterm_before_d=constant(259),
    low_weight_g=constant(2500),
    solids_from_d=constant(183),
    milk_need_until_d=constant(213),
    milk_energy_kj_per_g=constant(2.6),
    milk_density_g_per_ml=constant(1.03),
)


NORMS = IntakeNorms(
    early_g_per_kg_per_day=Steps({1: 13, 3: 98, 5: 155}, until=6, linear=True),
    early_sd_g_per_kg_per_day=Steps({1: 16, 3: 47, 5: 29}, until=6, linear=True),
    early_g_per_day=Steps({1: 37, 3: 408, 5: 705}, until=6, linear=True),
    later_ml_per_kg_per_day=Steps({30: 135, 91: 126}, until=366, linear=True),
    later_ml_per_day=Steps({30: 624, 91: 735}, until=366, linear=True),
    early_per_kg_infants_count=constant(11),
    early_infants_count=constant(9),
    early_until_d=constant(14),
    allotment_ml_per_kg_per_day=constant(150),
    allotment_from_d=constant(5, "d"),
    allotment_until_d=constant(42, "d"),
    dri_slope_kcal_per_kg_per_day=constant(89),
    dri_intercept_kcal_per_day=constant(-100),
    dri_deposition_kcal_per_day=Steps({0: 175}, until=366),
)
