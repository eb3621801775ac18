"""Bilirubin in either unit: 1 mg/dL is 17.1 µmol/L, by its molar mass of 584.67 g/mol; and the lines of treatment."""

import pytest

from csv_case import LIMITS, facts, table
from suffice.assess.parameters import parameters_of
from suffice.clinical.bilirubin import clearly_below, treatment_line
from suffice.clinical.entry.body import Bilirubin
from suffice.clinical.reading.reading import Habits, read_quantity
from suffice.knowledge.store import load

LINES = parameters_of(load()).bilirubin


@pytest.mark.parametrize(("text", "umol"), [("12 mg/dL", [205.2]), ("9", [9, 153.9])])
def test_a_number_without_its_unit_is_asked_about(text, umol):
    reading = read_quantity("bilirubin", text, LIMITS, Habits())
    assert [one.value for one in reading.candidates] == pytest.approx(umol)
    assert reading.is_clear == (len(umol) == 1)


def test_a_table_tells_how_it_was_measured():
    told = facts(table("TcB (mg/dL),bilirubin method,phototherapy", "10,skin,no"))
    assert told == [Bilirubin(bilirubin_umol_per_l=171, method="skin", under_light=False)]


@pytest.mark.parametrize(
    ("age_h", "light", "exchange"),
    [
        (0, 100, 100),
        # Half way from birth to 24 h; half way from 24 to 48 h, and from 24 to 42 h 12 / 18 of the way.
        (12, 150, 200),
        (36, 225, 400),
        (42, 237.5, 450),
        (48, 250, 450),
        (72, 300, 450),
        (84, 325, 450),
        (96, 350, 450),
        (60 * 24, 350, 450),
        (400 * 24, 350, 450),
    ],
)
def test_from_38_weeks_on_the_lines_go_by_the_hour(age_h, light, exchange):
    for gestation in (266, 290):
        assert treatment_line(age_h, gestation, LINES, "light").value == pytest.approx(light)
        assert treatment_line(age_h, gestation, LINES, "exchange").value == pytest.approx(exchange)


@pytest.mark.parametrize(
    ("gestation", "age_h", "light", "exchange"),
    [
        # 36 weeks and any day of it: 36 x 10 - 100 and 36 x 10 from 72 h on.
        (36 * 7 + 6, 72, 260, 360),
        (36 * 7, 500, 260, 360),
        (37 * 7 + 6, 96, 270, 370),
        # 60 h is 60 / 72 of the way from 40 to 260, and from 80 to 360.
        (36 * 7 + 1, 60, 40 + 220 * 60 / 72, 80 + 280 * 60 / 72),
        (30 * 7, 0, 40, 80),
        # Not known: as of 35 weeks.
        (None, 96, 250, 350),
    ],
)
def test_born_earlier_each_week_has_its_lines(gestation, age_h, light, exchange):
    assert treatment_line(age_h, gestation, LINES, "light").value == pytest.approx(light)
    assert treatment_line(age_h, gestation, LINES, "exchange").value == pytest.approx(exchange)


@pytest.mark.parametrize("treatment", ["light", "exchange"])
def test_a_line_never_falls_with_age_and_is_lower_the_earlier_an_infant_was_born(treatment):
    for age_h in range(0, 400, 6):
        lines = [
            treatment_line(age_h, weeks * 7, LINES, treatment).value for weeks in range(30, 42)
        ]
        assert lines == sorted(lines)
        later = treatment_line(age_h + 6, 280, LINES, treatment).value
        assert later >= lines[-1]


def test_born_early_or_nobody_knows_when_a_value_must_be_further_below():
    early, term = clearly_below(265, LINES), clearly_below(266, LINES)
    assert early.value > term.value
    assert clearly_below(None, LINES) == early


def test_the_working_names_each_constant():
    line = treatment_line(60, 253, LINES, "light")
    keys = {one.key for one in line.working.constants}
    assert "bilirubin.preterm_exchange_each_week_umol_per_l" in keys
    (at,) = treatment_line(72, 280, LINES, "light").working.constants
    assert at.source
