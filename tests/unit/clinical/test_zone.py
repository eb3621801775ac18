"""Which names are time zones, and what is said of one that is none."""

from __future__ import annotations

import pytest

from spoken import text
from suffice.clinical.zone import is_zone, no_zone


@pytest.mark.parametrize("name", ["Europe/Madrid", "America/Chicago", "Asia/Kathmandu", "UTC"])
def test_a_name_of_the_database_is_a_zone(name):
    assert is_zone(name)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "Mars/Crater",
        "Europe",  # a folder of the database
        "../etc/passwd",
        "/etc/passwd",
        "Europe/Madrid\0",
        "UTC+1",
        "x" * 5000,
    ],
)
def test_anything_else_is_none_and_raises_nothing(name):
    assert not is_zone(name)


def test_a_name_that_is_none_is_named_with_its_code_and_place():
    problem = no_zone("Mars/Crater", where="zone")
    assert (problem.code, problem.where, problem.doubtful) == ("CLOCK-005", "zone", False)
    assert text(problem.what) == "'Mars/Crater'"


def test_braces_in_a_name_are_shown_as_they_stand():
    assert text(no_zone("{zone}", where="zone").what) == "'{zone}'"
