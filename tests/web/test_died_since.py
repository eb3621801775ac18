"""A page that was open, or waited on a device, while an infant died: what it says is never another one's."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit
from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from web.story import FAMILY, an_id
from web.test_contact import CONTACT, SCRIPT, answers, tap
from web.test_died import HOME, SECOND, has_died
from web.test_drawing import contact
from web.test_watched_feed import WATCH
from web.test_watched_feed import sent as watched

__all__ = ["contact"]

FIRST = an_id("infant 1")


def an_hour_ago() -> datetime:
    """Before it died."""
    return datetime.now(UTC) - timedelta(hours=1)


def entered_since(before: set[UUID], kind: type) -> list[domain.Entry]:
    return [
        one
        for one in record_of(FAMILY).entries
        if one.id not in before and isinstance(one.fact, kind)
    ]


@pytest.fixture
def before(page: Client, family: UUID) -> set[UUID]:
    """The entries that were there; the second infant has died since the page was opened."""
    has_died(SECOND)
    return {one.id for one in record_of(FAMILY).entries}


def test_a_count_of_it_is_not_the_other_ones(page: Client, before: set[UUID]) -> None:
    counted = {
        "entry_id": str(uuid4()),
        "infant": str(SECOND),
        "wets": "1",
        "when": f"{an_hour_ago():%Y-%m-%dT%H:%M}",
    }
    page.post(f"{HOME}enter/day/", counted)
    assert [one.infant_id for one in entered_since(before, domain.Wet)] == [SECOND]
    shown = page.post(f"{HOME}enter/day/", counted | {"wets": "x"})
    assert shown.context["form"]["infant"].value() == str(SECOND)


def test_a_feed_of_it_that_waited_on_a_device_is_not_the_other_ones(
    page: Client, before: set[UUID]
) -> None:
    page.post(WATCH, watched(began=an_hour_ago(), infant=str(SECOND)))
    assert [one.infant_id for one in entered_since(before, domain.WatchedFeed)] == [SECOND]


def test_a_tap_of_it_that_waited_is_taken_and_sent_no_more(page: Client, contact: Visit) -> None:
    has_died(SECOND)
    tapped = an_hour_ago().isoformat()
    sent = tap(contact, "rousing", "not", side=None, infant=str(SECOND), tapped=tapped)
    answer = page.post(f"{CONTACT}state/answer/", sent, headers=SCRIPT)
    assert answer.status_code == 204
    assert "X-Follows" in answer
    assert answers("rousing") == ["not"]


@pytest.mark.parametrize("where", ["contact/score/latch/", "photograph/"])
def test_what_is_not_said_of_whom_is_of_the_one_that_lives(
    page: Client, contact: Visit, where: str
) -> None:
    has_died(FIRST)
    html = page.get(f"{HOME}{where}").content.decode()
    assert str(SECOND) in html
    assert str(FIRST) not in html
