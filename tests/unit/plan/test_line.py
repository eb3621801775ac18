"""The lines of a proposal: one a part, each says something, each value with its source."""

from __future__ import annotations

from typing import get_args

import pytest

from plan_case import SLOW, WEIGHED, WELL, proposed
from suffice.clinical.entry import Entry
from suffice.plan.line import Line, Part


@pytest.mark.parametrize("entries", [WELL, (*SLOW, *WEIGHED)], ids=["well", "short"])
def test_each_part_is_said_once_with_where_its_values_come_from(
    entries: tuple[Entry, ...],
) -> None:
    lines: tuple[Line, ...] = proposed(*entries, day=21.5 if entries is WELL else 15.2).lines
    parts = [one.part for one in lines]
    assert len(set(parts)) == len(parts)
    assert set(parts) <= set(get_args(Part))
    assert all(one.says for one in lines)
    used = [constant for one in lines for working in one.workings for constant in working.constants]
    assert used
    assert all(constant.source for constant in used)
