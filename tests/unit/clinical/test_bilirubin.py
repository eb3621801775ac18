"""Bilirubin in either unit: 1 mg/dL is 17.1 µmol/L, by its molar mass of 584.67 g/mol."""

import pytest

from csv_case import LIMITS, facts, table
from suffice.clinical.entry.body import Bilirubin
from suffice.clinical.reading.reading import Habits, read_quantity


@pytest.mark.parametrize(("text", "umol"), [("12 mg/dL", [205.2]), ("9", [9, 153.9])])
def test_a_number_without_its_unit_is_asked_about(text, umol):
    reading = read_quantity("bilirubin", text, LIMITS, Habits())
    assert [one.value for one in reading.candidates] == pytest.approx(umol)
    assert reading.is_clear == (len(umol) == 1)


def test_a_table_tells_how_it_was_measured():
    told = facts(table("TcB (mg/dL),bilirubin method,phototherapy", "10,skin,no"))
    assert told == [Bilirubin(bilirubin_umol_per_l=171, method="skin", under_light=False)]
