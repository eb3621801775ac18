"""Length and head circumference at their limits from both sides, alone and together."""

from __future__ import annotations

import msgspec
import pytest

from csv_case import facts, table
from entry_limits import found, read
from suffice.clinical.entry.size import Size


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("length_cm", 19.9, "LENGTH-001"),
        ("length_cm", 20, "LENGTH-002"),
        ("length_cm", 37.9, "LENGTH-002"),
        ("length_cm", 38, None),
        ("length_cm", 95, None),
        ("length_cm", 95.1, "LENGTH-002"),
        ("length_cm", 110, "LENGTH-002"),
        ("length_cm", 110.1, "LENGTH-001"),
        ("head_cm", 14.9, "LENGTH-003"),
        ("head_cm", 15, "LENGTH-004"),
        ("head_cm", 27.9, "LENGTH-004"),
        ("head_cm", 28, None),
        ("head_cm", 53, None),
        ("head_cm", 53.1, "LENGTH-004"),
        ("head_cm", 60, "LENGTH-004"),
        ("head_cm", 60.1, "LENGTH-003"),
    ],
)
def test_each_size_at_its_limits(field, value, code):
    asked = code in {"LENGTH-002", "LENGTH-004"}
    assert found(Size(**{field: value})) == ([] if code is None else [(code, field, asked)])


def test_length_and_head_are_judged_each_by_its_own_limits():
    # 35 cm is an ordinary head and a very short infant.
    assert found(Size(length_cm=35, head_cm=35)) == [("LENGTH-002", "length_cm", True)]


def test_a_size_without_either_is_none():
    with pytest.raises(ValueError, match="needs one of length_cm, head_cm"):
        Size()
    with pytest.raises(msgspec.ValidationError, match="needs one of length_cm, head_cm"):
        read(kind="size", length_cm=None)
    assert Size(length_cm=50).head_cm is None
    assert Size(head_cm=35).length_cm is None


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("length,head", Size(length_cm=50, head_cm=35)),
        ("talla,perimetro cefalico", Size(length_cm=50, head_cm=35)),
        ("hc,height", Size(length_cm=35, head_cm=50)),
    ],
)
def test_a_table_tells_length_from_head(header, expected):
    assert facts(table(header, "50,35")) == [expected]
