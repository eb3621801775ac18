"""The counters of the reading level, against words and texts counted by hand."""

from __future__ import annotations

import pytest

from reading_level import level_of, syllables_en, syllables_es


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("baby", 2),
        ("feed", 1),
        ("awake", 2),
        ("swallow", 2),
        ("little", 2),
        ("hospital", 3),
        ("express", 2),
        ("asked", 1),
        ("wanted", 2),
        ("diaper", 3),
        ("mL", 1),
        ("30", 1),
        ("times", 1),
    ],
)
def test_english_syllables(word: str, count: int) -> None:
    assert syllables_en(word) == count


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("bebé", 2),
        ("leche", 2),
        ("una", 2),
        ("día", 2),
        ("país", 2),
        ("pañales", 3),
        ("guía", 2),
        ("quiere", 2),
        ("ahora", 3),
        ("pingüino", 3),
        ("hoy", 1),
        ("limpio", 2),
        ("construcción", 3),
    ],
)
def test_spanish_syllables(word: str, count: int) -> None:
    assert syllables_es(word) == count


def test_the_formulas_by_hand() -> None:
    english = level_of(["Feed your baby now. Call us."], "en")
    assert english[:3] == (6, 2, 7)
    assert english.grade == pytest.approx(0.39 * 3 + 11.8 * 7 / 6 - 15.59)
    spanish = level_of(["Dé leche ahora", "Llame hoy"], "es")
    assert spanish[:3] == (5, 2, 9)
    assert spanish.perspicuity == pytest.approx(206.835 - 62.3 * 9 / 5 - 2.5)


def test_a_hard_text_is_found_hard() -> None:
    hard = (
        "Supplementation necessitates individualised consideration of physiological requirements."
    )
    assert level_of([hard], "en").grade > 12
    dura = (
        "La suplementación requiere una consideración individualizada de necesidades fisiológicas."
    )
    assert level_of([dura], "es").perspicuity < 40
