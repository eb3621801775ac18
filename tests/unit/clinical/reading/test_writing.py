import pytest

from suffice.clinical.reading.writing import (
    chance_text,
    gestation_text,
    length_text,
    temperature_text,
    volume_text,
    weight_text,
)


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("grams", "unit", "text"),
    [
        (3302.5, "g", "3303 g"),
        (2.5, "g", "3 g"),
        (3280, "kg", "3.28 kg"),
        (3275, "kg", "3.28 kg"),
        (3302.7194440625, "lb oz", "7 lb 4.5 oz"),
        (3628.7, "lb oz", "8 lb 0.0 oz"),
        (300, "lb oz", "10.6 oz"),
        (-60, "lb oz", "-2.1 oz"),
        (14, "lb oz", "0.5 oz"),
        (-4000, "lb oz", "-8 lb 13.1 oz"),
        (-0.4, "g", "0 g"),
    ],
)
def test_weights_in_the_readers_unit(grams, unit, text):
    assert plain(weight_text(grams, unit)) == text


def test_decimals_stand_behind_the_readers_mark():
    assert plain(weight_text(3280, "kg", decimal_mark=",")) == "3,28 kg"


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (1.0, "> 99 %"),
        (0.9951, "> 99 %"),
        (0.99, "99 %"),
        (0.5, "50 %"),
        (0.01, "1 %"),
        (0.004, "< 1 %"),
        (0.0, "< 1 %"),
    ],
)
def test_a_chance_never_claims_certainty(probability, text):
    assert chance_text(probability) == text


def test_other_kinds():
    assert plain(volume_text(60, "mL")) == "60 mL"
    assert plain(volume_text(60, "fl oz")) == "2.0 fl oz"
    assert plain(temperature_text(38.4, "C")) == "38.4 °C"
    assert plain(temperature_text(38.4, "F")) == "101.1 °F"
    assert plain(length_text(50.04, "cm")) == "50.0 cm"
    assert plain(length_text(50.8, "in")) == "20.0 in"
    assert gestation_text(268) == "38+2"


def test_a_number_never_parts_from_its_unit():
    assert weight_text(3280, "g") == "3280\N{NO-BREAK SPACE}g"
