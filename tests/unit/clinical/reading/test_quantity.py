"""What is measured: each quantity's stored unit comes first, and no spelling means two things."""

from __future__ import annotations

import msgspec
import pytest

from csv_case import LIMITS
from suffice.clinical.reading.quantity import QUANTITIES, keys_asked
from suffice.clinical.reading.reading import Habits, read_quantity
from suffice.errors import InputError
from suffice.knowledge.store import load

FACTOR = [name for name, one in QUANTITIES.items() if one.most]
"""Quantities whose units differ by a factor alone."""


@pytest.mark.parametrize("name", QUANTITIES)
def test_the_stored_unit_is_one_of_the_contents_and_has_no_factor(name):
    quantity = QUANTITIES[name]
    assert quantity.stored in {unit.ucum for unit in load().units.values()}
    assert quantity.units[0].factor == ""
    assert len({unit.sign for unit in quantity.units}) == len(quantity.units)


@pytest.mark.parametrize("name", FACTOR)
def test_each_spelling_of_a_factor_quantity_belongs_to_one_unit_in_small_letters(name):
    spellings = [one for unit in QUANTITIES[name].units for one in unit.spellings.split("|")]
    assert len(set(spellings)) == len(spellings)
    assert [one.lower() for one in spellings] == spellings
    for unit in QUANTITIES[name].units:
        assert unit.sign.lower() in unit.spellings.split("|")


@pytest.mark.parametrize("name", FACTOR)
def test_every_unit_but_the_stored_one_has_a_factor_of_the_content(name):
    for unit in QUANTITIES[name].units[1:]:
        assert load().flat[unit.factor].value > 1


def test_the_keys_asked_are_the_factors_and_the_highest_values_and_none_is_empty():
    assert sorted(keys_asked()) == ["bilirubin.mg_per_dl_factor", "bilirubin.refused_umol_per_l"]


# 1 mg/dL is 17.1 µmol/L: 10 mg/L over the molar mass of bilirubin, 584.67 g/mol.
@pytest.mark.parametrize(
    ("typed", "umol_per_l"),
    [
        ("12 mg/dL", 205.2),
        ("12 MG/DL", 205.2),
        ("12 mg dl", 205.2),
        ("12 mgdl", 205.2),
        ("210 µmol/L", 210),
        ("210 umol", 210),
    ],
)
def test_each_spelling_is_read_in_its_unit(typed, umol_per_l):
    reading = read_quantity("bilirubin", typed, LIMITS, Habits())
    assert reading.is_clear
    assert reading.accept() == pytest.approx(umol_per_l)


def test_the_factor_is_that_of_the_molar_mass():
    factor = load().flat["bilirubin.mg_per_dl_factor"].value
    assert factor == pytest.approx(10 * 1000 / 584.67, abs=0.01)


def test_only_lengths_of_time_are_written_in_more_ways_than_one():
    assert {name for name, one in QUANTITIES.items() if one.is_time} == {"gestation", "duration"}


def test_a_content_set_of_the_past_that_does_not_know_the_quantity_reads_none_of_it():
    past = msgspec.structs.replace(LIMITS, named={})
    with pytest.raises(InputError, match="READ-001"):
        read_quantity("bilirubin", "210 µmol/L", past, Habits())


def test_above_the_highest_possible_value_nothing_is_read():
    most = LIMITS.constant("bilirubin.refused_umol_per_l").value
    assert read_quantity("bilirubin", f"{most:g} umol/L", LIMITS, Habits()).accept() == most
    with pytest.raises(InputError, match="READ-002"):
        read_quantity("bilirubin", f"{most + 1:g} umol/L", LIMITS, Habits())
