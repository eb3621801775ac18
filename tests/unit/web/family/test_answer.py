"""The strip of an infant says lengths of time as findings do."""

from __future__ import annotations

import pytest

from suffice.web.family.answer import _whole_days


@pytest.mark.parametrize(
    ("hours", "said_h"),
    [
        (30.5, 30.5),
        (71.9, 71.9),
        (72.0, 72.0),
        (83.9, 72.0),
        (84.0, 96.0),
        (14.6 * 24, 15 * 24),
        (14.4 * 24, 14 * 24),
    ],
)
def test_a_change_took_the_nearest_whole_days(hours: float, said_h: float) -> None:
    assert _whole_days(hours) == said_h
