"""What the trail keeps of the reason of an emergency, when the family and the whole reason are erased."""

from __future__ import annotations

import pytest

from suffice.care.caseload.emergency import without_names

NAMES = ("María Inventada-Ruiz", "Li")


@pytest.mark.parametrize(
    ("why", "kept"),
    [
        ("maria inventada phoned, fever", "… … phoned, fever"),
        ("RUIZ's infant, Li, is yellow", "…'s infant, …, is yellow"),
        ("lies awake, listless, 38.5 at 10:30", "lies awake, listless, 38.5 at 10:30"),
        ("call 600 123 456 back", "call … back"),
        ("born 2026-11-03, number 4711234", "born …, number …"),
        ("2640 g on day 9, 12 % lost", "2640 g on day 9, 12 % lost"),
        ("", ""),
    ],
)
def test_names_and_long_numbers_stay_off_the_trail(why: str, kept: str) -> None:
    assert without_names(why, NAMES) == kept
