"""The cohort's intake beside the engine asked one by one, and why an infant is told none."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from suffice.assess.engine.question import AskedOf, question_of
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.cohort.intake import SCHEMA, intake_of
from suffice.cohort.part import assess_part, gather
from suffice.cohort.rows import checked
from suffice.cohort.stages import setting
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.answer import preview
from suffice.knowledge.store import load

SETTING = setting()


def part(**columns):
    limits = PlausibilityLimits.from_content(load().flat, load().series)
    rows = pl.DataFrame(columns).with_row_index("row", offset=1)
    kept, _ = checked(rows, limits, SETTING.reference.last_day)
    return gather(kept, SETTING, None)


def one(infant, **changed):
    """Four weights of an infant of 12 days."""
    given = {
        "infant_id": [infant] * 4,
        "age_h": [24.0, 72.0, 168.0, 288.0],
        "weight_g": [3200.0, 3150.0, 3260.0, 3450.0],
        "birth_weight_g": [3300.0] * 4,
        "sex": ["male"] * 4,
        "gestation_days": [280] * 4,
        "mode": ["vaginal"] * 4,
        "clothing": ["naked"] * 4,
    }
    return pl.DataFrame({**given, **{name: [value] * 4 for name, value in changed.items()}})


def told(*infants):
    rows = pl.concat(infants, how="vertical_relaxed")
    found = intake_of(part(**rows.to_dict(as_series=False)), SETTING.intake).columns
    assert found.schema == SCHEMA
    return found


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({}, None),
        ({"gestation_days": 237}, "preterm"),
        ({"gestation_days": 238}, None),
        ({"birth_weight_g": 1400.0}, "low-birth-weight"),
        ({"gestation_days": 230, "birth_weight_g": 1400.0}, "preterm"),
        ({"gestation_days": None}, None),
        ({"birth_weight_g": None}, None),
        ({"sex": None}, None),
        ({"mode": None}, None),
        ({"mode": "assisted vaginal"}, None),
        ({"clothing": "clothed"}, None),
        ({"clothing": None}, None),
        ({"clothing": "dry diaper"}, None),
    ],
)
def test_one_infant_is_told_what_the_engine_says_of_it_alone(changed, reason):
    given = one("a", **changed)
    row = told(given).row(0, named=True)
    facts = given.row(0, named=True)
    evidence = Evidence(
        now_d=12.0,
        birth_weight_g=facts["birth_weight_g"],
        sex=facts["sex"],
        gestation_days=facts["gestation_days"],
        mode=facts["mode"],
        weights=tuple(
            WeightReading(
                id=str(k), age_d=r["age_h"] / 24, weight_g=r["weight_g"], clothing=r["clothing"]
            )
            for k, r in enumerate(given.iter_rows(named=True))
        ),
    )
    who = AskedOf(12.0, 12.0, facts["sex"], facts["gestation_days"])
    question = question_of(SETTING.intake.question, who, SETTING.intake.parameters)
    alone = preview(evidence, SETTING.intake.population, question)
    refused = next((c.code for c in alone.cautions if c.severity == "refusal"), None)
    assert row["intake_not_told"] == refused == reason
    numbers = list(row.values())[:-1]
    if reason is not None:
        assert numbers == [None] * 5
        return
    intake = alone.total_intake
    expected = [
        intake.median,
        intake.low_80,
        intake.high_80,
        alone.requirement.median,
        alone.intake_short_probability,
    ]
    np.testing.assert_allclose(numbers, expected, atol=1e-3)


def test_the_reasons_stand_beside_the_infants_who_are_told():
    young = one("young").with_columns(pl.col("age_h") / 24)
    old = one("old").with_columns(pl.col("age_h") + 24 * 300)
    found = told(one("a"), young, old, one("early", gestation_days=231))
    assert found["intake_not_told"].to_list() == [
        None,
        "preterm",
        "older-than-the-engine",
        "too-young-to-judge",
    ]
    assert found["intake_ml_per_day"].null_count() == 3


def test_the_same_bits_whoever_else_is_in_the_part():
    infants = [one(f"i{k}", birth_weight_g=3000.0 + 40 * k) for k in range(12)]
    whole = told(*infants).sort("intake_ml_per_day")
    alone = pl.concat([told(infant) for infant in infants]).sort("intake_ml_per_day")
    assert whole.equals(alone)


@pytest.mark.parametrize(("birth_g", "is_unfit"), [(2700.0, True), (3300.0, False)])
def test_a_birth_weight_that_does_not_fit_is_said_and_the_intake_told_without_it(birth_g, is_unfit):
    def assessed(birth_weight_g):
        rows = one("a", birth_weight_g=birth_weight_g).with_columns(
            pl.Series("weight_g", [3180.0, 3140.0, 3230.0, 3440.0])
        )
        limits = PlausibilityLimits.from_content(load().flat, load().series)
        numbered = rows.with_row_index("row", offset=1)
        kept, _ = checked(numbered, limits, SETTING.reference.last_day)
        return assess_part(kept, SETTING, None)[0]

    said, without = assessed(birth_g), assessed(None)
    assert ("birth-weight-unfit" in said["cautions"][0].to_list()) is is_unfit
    is_same = said["intake_ml_per_day"].to_list() == without["intake_ml_per_day"].to_list()
    assert is_same is is_unfit
