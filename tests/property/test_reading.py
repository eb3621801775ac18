"""Units round trip: what is written in the reader's units is read back, to the digits shown."""

from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinical_constants import constant
from suffice.clinical.reading.candidate import Reading
from suffice.clinical.reading.numeral import readings, tidy
from suffice.clinical.reading.reading import (
    Habits,
    ReadingLimits,
    read_gestation,
    read_length,
    read_quantity,
    read_temperature,
    read_volume,
    read_weight,
)
from suffice.clinical.reading.writing import (
    gestation_text,
    length_text,
    temperature_text,
    volume_text,
    weight_text,
)
from suffice.clinical.units import c_from_f, f_from_c
from suffice.errors import InputError

LIMITS = ReadingLimits(
    weight_low_g=constant(200, "g"),
    weight_high_g=constant(30000, "g"),
    volume_high_ml=constant(3000, "mL"),
    temperature_low_c=constant(25, "Cel"),
    temperature_high_c=constant(45, "Cel"),
    length_low_cm=constant(10, "cm"),
    length_high_cm=constant(120, "cm"),
    gestation_low_d=constant(140, "d"),
    gestation_high_d=constant(322, "d"),
    duration_high_minutes=constant(720, "min"),
)
MARKS = st.sampled_from([".", ","])
# Half of the last digit shown, and a hair for the float.
TENTH_OF_AN_OUNCE_G = 28.349523125 / 20 + 1e-9


@given(st.floats(300, 25000), MARKS)
def test_grams_round_trip(weight_g, mark):
    reading = read_weight(weight_text(weight_g, "g"), LIMITS, decimal_mark=mark)
    assert reading.accept() == pytest.approx(weight_g, abs=0.5)


@given(st.floats(500, 25000), MARKS)
def test_kilograms_round_trip(weight_g, mark):
    text = weight_text(weight_g, "kg", decimal_mark=mark)
    assert read_weight(text, LIMITS, decimal_mark=mark).accept() == pytest.approx(
        weight_g, abs=5.000001
    )


@given(st.floats(500, 25000), MARKS)
def test_pounds_and_ounces_round_trip(weight_g, mark):
    text = weight_text(weight_g, "lb oz", decimal_mark=mark)
    assert "16.0" not in text
    reading = read_weight(text, LIMITS, decimal_mark=mark)
    assert reading.accept() == pytest.approx(weight_g, abs=TENTH_OF_AN_OUNCE_G)


@given(st.floats(0, 900))
def test_volumes_round_trip(volume_ml):
    assert read_volume(volume_text(volume_ml, "mL"), LIMITS).accept() == pytest.approx(
        volume_ml, abs=0.5
    )
    ounces = read_volume(volume_text(volume_ml, "fl oz"), LIMITS)
    assert ounces.accept() == pytest.approx(volume_ml, abs=29.5735295625 / 20 + 1e-9)


@given(st.floats(30, 43), MARKS)
def test_temperatures_round_trip(temperature_c, mark):
    for unit, abs_tol in (("C", 0.05), ("F", 0.05 / 1.8)):
        text = temperature_text(temperature_c, unit, decimal_mark=mark)
        reading = read_temperature(text, LIMITS, decimal_mark=mark)
        assert reading.accept() == pytest.approx(temperature_c, abs=abs_tol + 1e-9)


@given(st.floats(20, 110))
def test_lengths_round_trip(length_cm):
    for unit, abs_tol in (("cm", 0.05), ("in", 0.127)):
        reading = read_length(length_text(length_cm, unit), LIMITS)
        assert reading.accept() == pytest.approx(length_cm, abs=abs_tol + 1e-9)


@given(st.integers(140, 322))
def test_gestations_round_trip(days):
    assert read_gestation(gestation_text(days), LIMITS).accept() == days


@given(st.decimals(-40, 140, places=3))
def test_degrees_turn_there_and_back_exactly(celsius):
    assert c_from_f(f_from_c(celsius)) == celsius


@given(st.integers(0, 10**9), st.integers(0, 99), MARKS)
def test_grouped_numerals_mean_the_same_in_every_spelling(whole, cents, mark):
    other = "," if mark == "." else "."
    plain = Decimal(f"{whole}.{cents:02d}")
    for group in ("", " ", "'", other):
        grouped = f"{whole:,}".replace(",", group)
        found = readings(tidy(f"{grouped}{mark}{cents:02d}"), mark)
        assert plain in [one.value for one in found if one.is_usual]


@given(st.text(max_size=20))
def test_any_text_is_read_asked_about_or_refused_but_never_crashes(text):
    for read in (read_weight, read_volume, read_temperature, read_length, read_gestation):
        found: Reading | InputError
        try:
            found = read(text, LIMITS)
        except InputError as refusal:
            found = refusal
        if isinstance(found, InputError):
            assert all(problem.code.startswith("READ-") for problem in found.problems)
        else:
            assert found.candidates


@given(st.from_regex(r"\A\d{1,4}[.,]\d{1,3} ?(g|kg|lb|oz)?\Z"))
def test_what_is_accepted_lies_in_the_possible_range(text):
    try:
        value = read_weight(text, LIMITS).accept()
    except InputError:
        return
    assert 200 <= value <= 30000


DIGITS = st.integers(1, 90).map(lambda count: "9" * count)
SHAPES = (
    "{}", "-{}", "{}.5", "5.{}", "0.{}", "{},{}", "{}.{}.{}", "{}'000", "1/{}", "{}/{}", "{} 1/2", "{} kg",
    "{} lb {} oz", "{} {}", "{} d", "{}+2", "38+{}", "38w{}d", "38 {}/7", "{} wk", "{}:{}", "{}:30", "{} h {}",
    "{} min {}", "{} F", "{} cm",
)  # fmt: skip


@given(
    st.sampled_from(["weight", "volume", "temperature", "length", "gestation", "duration"]),
    st.sampled_from(SHAPES),
    DIGITS,
    st.sampled_from(["g", "kg", "lb oz", "lb"]),
    MARKS,
)
def test_no_number_is_too_long_to_be_refused_in_words(name, shape, digits, unit, mark):
    """More digits than a decimal's context has, in each place of each way to write a value."""
    habits = Habits(weight_unit=unit, decimal_mark=mark)
    with suppress(InputError):
        assert read_quantity(name, shape.replace("{}", digits), LIMITS, habits).candidates
