"""Sessions that have ended are deleted, and no others; looking for them writes nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test.utils import CaptureQueriesContext

from suffice.care import upkeep
from suffice.care.clinic.sessions import forget_ended

NOW = datetime(2026, 11, 29, 9, 0, tzinfo=UTC)


def kept(*hours: float) -> None:
    for hour in hours:
        Session.objects.create(
            session_key=f"of {hour}", session_data="", expire_date=NOW + timedelta(hours=hour)
        )


@pytest.mark.django_db
def test_only_ended_ones_go() -> None:
    kept(-48, -0.1, 0.1, 12)
    assert forget_ended(now=NOW) == 2
    assert sorted(Session.objects.values_list("session_key", flat=True)) == ["of 0.1", "of 12"]


@pytest.mark.django_db
def test_nothing_is_written_where_none_has_ended() -> None:
    kept(12)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert forget_ended(now=NOW) == 0
    assert [query["sql"].split()[0] for query in asked] == ["SELECT"]


@pytest.mark.django_db
def test_upkeep_forgets_them() -> None:
    kept(-100_000)
    upkeep.sweep()
    assert not Session.objects.exists()
