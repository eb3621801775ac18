from decimal import Decimal

import pytest

from clinical_constants import constant
from spoken import text
from suffice.clinical.reading.numeral import readings
from suffice.clinical.reading.reading import (
    Habits,
    ReadingLimits,
    read_duration,
    read_gestation,
    read_length,
    read_quantity,
    read_temperature,
    read_volume,
    read_weight,
)
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


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("7 lb 4.5 oz", 3302.7194440625),
        ("7lb 4½oz", 3302.7194440625),
        ("7 lb 4 1/2 oz", 3302.7194440625),
        ("7lb4", 3288.5446825),
        ("8lb", 3628.73896),
        ("8 libras", 3628.73896),
        ("115 oz", 3260.195159375),
        ("3,28 kg", 3280),
        ("3.28 kg", 3280),
        ("3280", 3280),
        ("3 280 g", 3280),
        ("3\N{NO-BREAK SPACE}280\N{NARROW NO-BREAK SPACE}g", 3280),
        ("1.234,5 g", 1234.5),
        ("1,234.5 g", 1234.5),
        ("3,280 g", 3280),
        ("3280 gramos", 3280),
        ("٣٢٨٠", 3280),
        (" 3280 G ", 3280),
    ],
)
def test_weights_that_are_clear(text, grams):
    reading = read_weight(text, LIMITS)
    assert reading.is_clear
    assert reading.accept() == pytest.approx(grams, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "options", "code", "candidates"),
    [
        ("3.28", {}, "READ-003", [3280, 1487.7829736]),
        ("115", {}, "READ-003", [3260.195159375]),
        (
            "7.4",
            {"reader_unit": "lb oz"},
            "READ-003",
            [3288.5446825, 7400, 3356.583538, 209.786471125],
        ),
        ("3.280 g", {}, "READ-004", [3280]),
        ("3,280 g", {"decimal_mark": ","}, "READ-004", [3280]),
        ("7 lb 16 oz", {}, "READ-005", [3628.73896]),
    ],
)
def test_weights_that_are_asked_about(text, options, code, candidates):
    reading = read_weight(text, LIMITS, **options)
    assert [one.value for one in reading.candidates] == pytest.approx(candidates)
    assert [problem.code for problem in reading.doubts] == [code]
    assert all(problem.doubtful for problem in reading.doubts)
    with pytest.raises(InputError, match=code):
        reading.accept()


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "READ-001"),
        ("heavy", "READ-001"),
        ("1/0 kg", "READ-001"),
        ("3.2.8 kg", "READ-001"),
        ("3280 mL", "READ-001"),
        ("-3280", "READ-002"),
        ("0", "READ-002"),
        ("328 kg", "READ-002"),
        ("7.5 lb 4 oz", "READ-006"),
    ],
)
def test_weights_that_are_refused(text, code):
    with pytest.raises(InputError, match=code):
        read_weight(text, LIMITS)


def test_a_digit_too_many_is_named_but_not_removed():
    with pytest.raises(InputError, match="Perhaps one digit too many: 3280 g"):
        read_weight("32800", LIMITS)


def test_a_candidate_is_taken_only_when_it_is_the_one_confirmed():
    reading = read_weight("3.28", LIMITS)
    assert reading.accept(value=reading.candidates[1].value) == pytest.approx(1487.78, abs=0.01)
    with pytest.raises(InputError, match="READ-003"):
        reading.accept(value=3000.0)


def test_a_bare_number_is_clear_in_the_readers_own_unit():
    assert read_weight("3.28", LIMITS, reader_unit="kg").accept() == 3280


@pytest.mark.parametrize(
    ("text", "options", "ml"),
    [
        ("60ml", {}, 60),
        ("60 cc", {}, 60),
        ("60", {}, 60),
        ("2 oz", {}, 59.147059125),
        ("2", {"reader_unit": "fl oz"}, 59.147059125),
        ("2½ fl oz", {}, 73.93382390625),
        ("0", {}, 0),
        ("62,5", {}, 62.5),
    ],
)
def test_volumes_that_are_clear(text, options, ml):
    assert read_volume(text, LIMITS, **options).accept() == pytest.approx(ml, abs=1e-9)


def test_a_volume_with_two_possible_readings_is_asked_about():
    reading = read_volume("1,200 mL", LIMITS)
    assert [one.value for one in reading.candidates] == [1200, 1.2]
    assert not reading.is_clear


@pytest.mark.parametrize(
    ("text", "celsius"), [("38.4", 38.4), ("38,4 °C", 38.4), ("101.1F", 38.38889), ("98.6 °f", 37)]
)
def test_temperatures_that_are_clear(text, celsius):
    assert read_temperature(text, LIMITS).accept() == pytest.approx(celsius, abs=1e-5)


def test_a_bare_temperature_possible_only_in_the_other_unit_is_asked_about():
    reading = read_temperature("101.1", LIMITS)
    assert not reading.is_clear
    assert reading.candidates[0].value == pytest.approx(38.38889, abs=1e-5)


def test_a_temperature_without_its_mark_is_refused_with_a_hint():
    with pytest.raises(InputError, match=r"Perhaps one digit too many: 38.4 Cel"):
        read_temperature("384", LIMITS)


@pytest.mark.parametrize(
    ("text", "cm"),
    [("50 cm", 50), ("19.7 in", 50.038), ("505 mm", 50.5), ('20"', 50.8), ("50", 50)],
)
def test_lengths(text, cm):
    assert read_length(text, LIMITS).accept() == pytest.approx(cm, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["38+2", "38w2d", "38 weeks 2 days", "38 2/7", "38+2/40", "268 days", "38 semanas y 2 días"],
)
def test_gestations_that_are_clear(text):
    assert read_gestation(text, LIMITS).accept() == 268


@pytest.mark.parametrize("text", ["38", "38 weeks", "38/40", "38.0"])
def test_whole_weeks_of_gestation(text):
    assert read_gestation(text, LIMITS).accept() == 266


def test_a_decimal_gestation_is_asked_about():
    reading = read_gestation("38.5", LIMITS)
    assert [one.value for one in reading.candidates] == [271, 269]
    assert not reading.is_clear


def test_a_decimal_that_can_only_be_a_share_of_a_week_is_asked_about_too():
    reading = read_gestation("38.7", LIMITS)
    assert [one.value for one in reading.candidates] == [270]
    assert not reading.is_clear


@pytest.mark.parametrize(
    ("text", "code"), [("38+7", "READ-007"), ("10 weeks", "READ-002"), ("term", "READ-001")]
)
def test_gestations_that_are_refused(text, code):
    with pytest.raises(InputError, match=code):
        read_gestation(text, LIMITS)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("20", 20), ("20 min", 20), ("90'", 90), ("1 h 30", 90), ("1.5 h", 90), ("90 s", 1.5)],
)
def test_durations_that_are_clear(text, minutes):
    assert read_duration(text, LIMITS).accept() == minutes


def test_a_clock_like_duration_is_asked_about():
    reading = read_duration("1:30", LIMITS)
    assert [one.value for one in reading.candidates] == [90, 1.5]
    assert not reading.is_clear


def test_a_duration_whose_mark_may_part_thousands_is_asked_about():
    reading = read_duration("1,250 min", LIMITS)
    assert [one.value for one in reading.candidates] == [1.25]
    assert [doubt.code for doubt in reading.doubts] == ["READ-004"]


@pytest.mark.parametrize(
    ("numeral", "values"),
    [
        ("123,456", [123456, "123.456"]),
        ("1,234", [1234, "1.234"]),
        ("0,234", ["0.234"]),
        ("1234,567", ["1234.567"]),
        ("1,23", ["1.23"]),
        (",5", ["0.5"]),
    ],
)
def test_a_mark_before_three_digits_has_two_readings(numeral, values):
    found = readings(numeral, ".")
    assert [one.value for one in found] == [Decimal(value) for value in values]
    assert [one.is_usual for one in found] == [True, False][: len(values)]


def test_how_a_text_was_read_is_always_said():
    assert text(read_weight("8lb", LIMITS).read_as) == "8 lb = 3628.74 g"


def test_a_bare_number_too_large_for_weeks_may_be_days_and_is_asked_about():
    reading = read_gestation("250", LIMITS)
    assert [one.value for one in reading.candidates] == [250]
    assert not reading.is_clear


@pytest.mark.parametrize(
    ("name", "typed", "stored"),
    [
        ("weight", "3,28", 3280),
        ("volume", "2,0", 59.147059125),
        ("temperature", "98,6", 37),
        ("length", "50,5", 50.5),
        ("gestation", "38+2", 268),
        ("duration", "1,5 h", 90),
    ],
)
def test_every_quantity_is_read_with_the_readers_habits(name, typed, stored):
    habits = Habits(decimal_mark=",", weight_unit="kg", volume_unit="fl oz", temperature_unit="F")
    assert read_quantity(name, typed, LIMITS, habits).accept() == pytest.approx(stored)


def test_an_impossible_bare_number_is_told_as_read_in_the_readers_own_unit():
    with pytest.raises(InputError, match=r"read as 5000 US fl oz"):
        read_volume("5000", LIMITS, reader_unit="fl oz")
    with pytest.raises(InputError, match=r"read as 900 °F"):
        read_temperature("900", LIMITS, reader_unit="F")


@pytest.mark.parametrize(("typed", "may_be_ounces"), [("7.15", True), ("7.16", False)])
def test_sixteen_ounces_are_no_ounces_beside_pounds_typed_without_units(typed, may_be_ounces):
    found = read_weight(typed, LIMITS, reader_unit="lb oz").candidates
    assert any(str(one.read_as).startswith("7 lb 1") for one in found) is may_be_ounces


@pytest.mark.parametrize("typed", ["", "a while", "20 weeks"])
def test_a_duration_that_is_none_is_refused(typed):
    with pytest.raises(InputError) as refused:
        read_duration(typed, LIMITS)
    assert [one.code for one in refused.value.problems] == ["READ-001"]
