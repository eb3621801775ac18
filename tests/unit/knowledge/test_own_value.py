"""How far a clinic's own value may go: by one rule, or as the entry says."""

from __future__ import annotations

import msgspec
import pytest

from suffice.knowledge.own_value import Limits, limits_of
from suffice.knowledge.schema import NumberEntry, SeriesEntry, Unit
from suffice.knowledge.store import load

CONTENT = load()
PERCENT = {"%": Unit(says="percent", ucum="%", endings=("percent",), least=0, most=100)}


def number(**changed: object) -> NumberEntry:
    entry = CONTENT.entries["gain.slow_g_per_day"]
    assert isinstance(entry, NumberEntry)
    bare = msgspec.structs.replace(entry, low=None, high=None, least=None, most=None, unit="g/d")
    return msgspec.structs.replace(bare, **changed)


@pytest.mark.parametrize(
    ("key", "written", "expected"),
    [
        ("gain.a_g_per_day", {"value": 15}, (3, 75)),
        ("gain.a_g_per_day", {"value": 15, "low": 10, "high": 20}, (2, 100)),
        ("gain.a_g_per_day", {"value": 15, "low": 0, "high": 20}, (0, 100)),
        ("gain.a_g_per_day", {"value": -15}, (-75, 75)),
        ("gain.a_g_per_day", {"value": 1, "low": -2, "high": 3}, (-15, 15)),
        ("gain.a_g_per_day", {"value": 0}, (0, 0)),
        ("gain.a_g_per_day", {"value": 15, "least": 10}, (10, 75)),
        ("gain.a_g_per_day", {"value": 15, "least": 15, "most": 15}, (15, 15)),
        ("gain.a_fraction", {"value": 0.9, "low": 0.8, "high": 0.95}, (0.16, 0.99)),
        ("gain.a_fraction", {"value": 0.05}, (0.01, 0.25)),
        ("gain.a_fraction", {"value": 1.2}, (0.24, 6)),
        ("gain.a_percent", {"value": 40, "unit": "%"}, (8, 100)),
        ("population.a_log", {"value": 3}, (2, 4.5)),
        ("temperature.a_c", {"value": 38, "low": 37.5, "high": 38, "unit": "Cel"}, (37, 38.5)),
        ("storage.a_c", {"value": -18, "unit": "Cel"}, (-18.5, -17.5)),
    ],
)
def test_limits_follow_from_what_is_written(
    key: str, written: dict[str, object], expected: tuple[float, float]
) -> None:
    assert limits_of(key, number(**written), PERCENT) == expected


def test_all_points_of_a_series_have_the_same_limits() -> None:
    entry = CONTENT.entries["intake.later_ml_per_day"]
    assert isinstance(entry, SeriesEntry)
    written = [point for one in entry.points for point in one[1:]]
    assert limits_of("intake.later_ml_per_day", entry, {}) == Limits(
        float(f"{min(written) / 5:.4g}"), float(f"{max(written) * 5:.4g}")
    )


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1, 101])
def test_what_is_beyond_is_not_held(value: float) -> None:
    assert not Limits(0, 100).hold(value)
    assert Limits(0, 100).hold(0)
    assert Limits(0, 100).hold(100)
