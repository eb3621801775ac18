"""Birth facts and names: each value's limits from both sides, and what a birth can be."""

from __future__ import annotations

import msgspec
import pytest

from clinical_constants import birth_entry
from entry_limits import LIMITS, read
from spoken import text
from suffice.clinical.entry.birth import Birth, Identity
from suffice.clinical.entry.field import fields_of
from suffice.clinical.plausibility import check_entry


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("gestation_days", 146, "BIRTH-001"),
        ("gestation_days", 147, "BIRTH-002"),
        ("gestation_days", 160, "BIRTH-002"),
        ("gestation_days", 161, None),
        ("gestation_days", 301, None),
        ("gestation_days", 302, "BIRTH-002"),
        ("gestation_days", 315, "BIRTH-002"),
        ("gestation_days", 316, "BIRTH-001"),
        ("birth_weight_g", 299, "BIRTH-003"),
        ("birth_weight_g", 300, "BIRTH-004"),
        ("birth_weight_g", 999, "BIRTH-004"),
        ("birth_weight_g", 1000, None),
        ("birth_weight_g", 5500, None),
        ("birth_weight_g", 5501, "BIRTH-004"),
        ("birth_weight_g", 8000, "BIRTH-004"),
        ("birth_weight_g", 8001, "BIRTH-003"),
        ("intrapartum_fluids_ml", -1, "BIRTH-005"),
        ("intrapartum_fluids_ml", 0, None),
        ("intrapartum_fluids_ml", 6000, None),
        ("intrapartum_fluids_ml", 6001, "BIRTH-006"),
        ("intrapartum_fluids_ml", 20000, "BIRTH-006"),
        ("intrapartum_fluids_ml", 20001, "BIRTH-005"),
        ("multiple", 0, "BIRTH-007"),
        ("multiple", 1, None),
        ("multiple", 3, None),
        ("multiple", 4, "BIRTH-008"),
        ("multiple", 9, "BIRTH-008"),
        ("multiple", 10, "BIRTH-007"),
    ],
)
def test_each_birth_fact_at_its_limits(field, value, code):
    found = check_entry(birth_entry(**{field: value}), (), LIMITS)
    assert [(one.code, one.where) for one in found] == ([] if code is None else [(code, field)])
    # Even codes are questions: the value may be true.
    assert all(one.doubtful == (int(code[-1]) % 2 == 0) for one in found)


def test_a_birth_weight_with_a_zero_too_many_is_refused_and_the_slip_named():
    (problem,) = check_entry(birth_entry(birth_weight_g=32500), (), LIMITS)
    assert "one zero too many: 3250 g" in text(problem.fix)


def test_a_birth_needs_its_zone_and_nothing_else():
    birth = Birth(zone="Europe/Madrid")
    others = [name for name in fields_of(Birth) if name != "zone"]
    assert {getattr(birth, name) for name in others} == {None}
    with pytest.raises(msgspec.ValidationError, match="zone"):
        read(kind="birth")


@pytest.mark.parametrize(
    "fields",
    [
        {"sex": "unknown"},
        {"mode": "forceps"},
        {"gestation_days": 266.5},
        {"gestation_weeks": 38},
        {"multiple": "twins"},
    ],
)
def test_what_is_no_birth_fact_is_refused(fields):
    with pytest.raises(msgspec.ValidationError):
        read(kind="birth", zone="UTC", **fields)


@pytest.mark.parametrize("mode", ["vaginal", "assisted vaginal", "caesarean"])
@pytest.mark.parametrize("sex", ["female", "male"])
def test_every_mode_and_sex_is_taken(mode, sex):
    assert read(kind="birth", zone="UTC", mode=mode, sex=sex) == Birth(
        zone="UTC", mode=mode, sex=sex
    )


def test_a_name_is_of_an_infant_or_of_the_parent_and_must_be_said():
    assert Identity.declared.about == "either"
    assert read(kind="identity", name="A. Example") == Identity(name="A. Example")
    with pytest.raises(msgspec.ValidationError, match="name"):
        read(kind="identity")
