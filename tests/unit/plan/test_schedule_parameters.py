"""The values of a schedule come from the content."""

from __future__ import annotations

import pytest

from suffice.errors import ContentError
from suffice.knowledge.store import load
from suffice.plan.schedule_parameters import ScheduleParameters, schedule_parameters


def test_each_value_is_in_the_content_and_kept() -> None:
    found = schedule_parameters(load())
    assert found.start_minutes.value % found.step_minutes.value == 0
    assert schedule_parameters(load()) is found


def test_a_set_of_the_past_without_them_is_refused() -> None:
    held = {key: one for key, one in load().flat.items() if not key.startswith("schedule.")}
    with pytest.raises(ContentError):
        ScheduleParameters.from_content(held)
