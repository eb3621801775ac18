"""The form of the end of a contact begins with the date of the next one that the plan has."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from paper_source import NOW, folder_of_record, records, visited
from suffice.clinical.entry import Plan
from suffice.web.contact.ending import next_due


@pytest.mark.parametrize(("days", "due"), [(2, "2026-11-30T10:00"), (-1, None), (None, None)])
def test_the_form_of_the_end_begins_with_the_date_of_the_plan(
    days: int | None, due: str | None
) -> None:
    """One that has passed, or none, leaves the day on which it is weighed again."""
    before = records()["thriving"]
    at = None if days is None else NOW + timedelta(days=days)
    record = visited(before, (Plan(move="first", contact_at=at), before.infants[-1].id))
    assessment = folder_of_record(record).source.assessment
    local = NOW.astimezone(ZoneInfo("Europe/London"))
    bare = next_due(assessment, before, local)
    assert next_due(assessment, record, local) == (bare if due is None else {"next_due_at": due})
    assert bare != {"next_due_at": "2026-11-30T10:00"}
