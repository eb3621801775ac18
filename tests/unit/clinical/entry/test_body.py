"""Temperature, bilirubin, signs and illnesses: limits from both sides, and what each can say.

Bilirubin in either unit: 1 mg/dL is 17.1 µmol/L, by its molar mass of 584.67 g/mol.
"""

from __future__ import annotations

from typing import get_args

import msgspec
import pytest

from clinical_constants import entry, hours
from csv_case import facts, table
from entry_limits import BIRTH, LIMITS, codes, found, read
from spoken import text
from suffice.clinical.entry import KINDS
from suffice.clinical.entry.body import AnyOfBody, Bilirubin, Illness, Sign, Temperature
from suffice.clinical.plausibility import check_entry


@pytest.mark.parametrize(
    ("temperature_c", "code"),
    [
        (29.9, "TEMPERATURE-001"),
        (30, "TEMPERATURE-002"),
        (34.4, "TEMPERATURE-002"),
        (34.5, None),
        (40.5, None),
        (40.6, "TEMPERATURE-002"),
        (43, "TEMPERATURE-002"),
        (43.1, "TEMPERATURE-001"),
        (float("nan"), "TEMPERATURE-001"),
        (float("inf"), "TEMPERATURE-001"),
    ],
)
def test_a_temperature_at_its_limits(temperature_c, code):
    asked = code == "TEMPERATURE-002"
    expected = [] if code is None else [(code, "temperature_c", asked)]
    assert found(Temperature(temperature_c=temperature_c)) == expected


@pytest.mark.parametrize(
    ("temperature_c", "slip"), [(98.2, "36.8 °C?"), (104, "40.0 °C?"), (95, "35.0 °C?")]
)
def test_fahrenheit_taken_for_celsius_is_named(temperature_c, slip):
    (problem,) = check_entry(entry(Temperature(temperature_c=temperature_c), 72), (BIRTH,), LIMITS)
    assert f"Perhaps °F taken for °C: {slip}" in text(problem.fix)


@pytest.mark.parametrize("temperature_c", [29, 44, 93, 106])
def test_fahrenheit_is_not_named_where_it_would_be_as_odd(temperature_c):
    (problem,) = check_entry(entry(Temperature(temperature_c=temperature_c), 72), (BIRTH,), LIMITS)
    assert "Perhaps" not in text(problem.fix)


@pytest.mark.parametrize(
    ("umol_per_l", "code"),
    [
        (-1, "VALUE-001"),
        (0, None),
        (430, None),
        (431, "VALUE-002"),
        (1000, "VALUE-002"),
        (1001, "VALUE-001"),
    ],
)
def test_bilirubin_at_its_limits(umol_per_l, code):
    asked = code == "VALUE-002"
    expected = [] if code is None else [(code, "bilirubin_umol_per_l", asked)]
    assert found(Bilirubin(bilirubin_umol_per_l=umol_per_l)) == expected


def test_a_doubtful_bilirubin_is_said_with_the_unit_in_which_it_is_kept():
    (problem,) = check_entry(entry(Bilirubin(bilirubin_umol_per_l=1001), 72), (BIRTH,), LIMITS)
    assert text(problem.what) == "1001 µmol/L"


def test_light_treatment_that_nobody_asked_about_is_neither_yes_nor_no():
    assert Bilirubin(bilirubin_umol_per_l=200).under_light is None
    assert Bilirubin(bilirubin_umol_per_l=200).method is None


@pytest.mark.parametrize(
    ("header", "umol_per_l"),
    [("TcB (mg/dL)", 171), ("TSB (µmol/L)", 10), ("bilirrubina (mg/dL)", 171)],
)
def test_a_table_tells_the_unit_in_its_header(header, umol_per_l):
    told = facts(table(header, "10"))
    assert told == [Bilirubin(bilirubin_umol_per_l=pytest.approx(umol_per_l))]


def test_a_table_tells_how_bilirubin_was_measured():
    told = facts(table("TcB (mg/dL),bilirubin method,phototherapy", "10,skin,no"))
    assert told == [Bilirubin(bilirubin_umol_per_l=171, method="skin", under_light=False)]


@pytest.mark.parametrize(
    ("since_h", "expected"), [(None, []), (71, []), (72, []), (72.1, ["TIME-004"])]
)
def test_a_sign_did_not_begin_after_it_was_seen(since_h, expected):
    since = None if since_h is None else hours(since_h)
    assert codes(Sign(sign="limp", present=True, since=since)) == expected


def test_a_sign_is_said_to_be_present_or_absent_and_never_taken_for_either():
    with pytest.raises(msgspec.ValidationError, match="present"):
        read(kind="sign", sign="limp")
    assert read(kind="sign", sign="limp", present=False) == Sign(sign="limp", present=False)


def test_an_illness_is_present_until_it_is_said_to_be_over():
    assert read(kind="illness", what="thrush") == Illness(what="thrush", present=True)
    assert Illness(what="thrush", present=False).present is False


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "temperature"},
        {"kind": "temperature", "temperature_c": "warm"},
        {"kind": "temperature", "temperature_c": 37, "site": "armpit"},
        {"kind": "bilirubin", "bilirubin_mg_per_dl": 12},
        {"kind": "bilirubin", "bilirubin_umol_per_l": 200, "method": "eye"},
        {"kind": "bilirubin", "bilirubin_umol_per_l": 200, "under_light": "maybe"},
        {"kind": "sign", "present": True},
        {"kind": "illness"},
    ],
)
def test_what_is_none_of_these_is_refused(fields):
    with pytest.raises(msgspec.ValidationError):
        read(**fields)


def test_whose_each_can_be():
    assert Bilirubin.declared.about == "infant"
    assert {kind.declared.about for kind in (Temperature, Sign, Illness)} == {"either"}


def test_every_kind_of_the_body_can_be_entered():
    assert set(get_args(AnyOfBody)) <= set(KINDS.values())
    assert set(get_args(AnyOfBody)) == {Temperature, Bilirubin, Sign, Illness}
