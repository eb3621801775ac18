"""Can it be done? The day of a plan on its page: shown, changed by the parent's day, kept with the plan."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.http import HttpResponse
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.plan.schedule_asked import parent_day_of
from web.story import FAMILY, an_id
from web.test_plan import INFANT, PLAN, kept, words

DAY = f"{PLAN}day/"


def say_the_day(page: Client, **fields: str) -> HttpResponse:
    minute_ago = datetime.now(UTC) - timedelta(minutes=1)
    sent = {"entry_id": str(uuid4()), "when": f"{minute_ago:%Y-%m-%dT%H:%M}", "basis": "reported"}
    answer: HttpResponse = page.post(f"/families/{FAMILY}/enter/parent-day/", sent | fields)
    return answer


def test_the_page_of_the_plan_asks_for_its_day_and_links_to_it(page: Client, family: UUID) -> None:
    html = page.get(PLAN).content.decode()
    assert f'hx-get="{DAY}?infant={INFANT}"' in html
    assert f'href="{DAY}?infant={INFANT}"' in html


def test_the_day_is_drawn_and_said_in_a_table(page: Client, family: UUID) -> None:
    html = page.get(DAY).content.decode()
    assert '<svg class="clock"' in html
    assert html.count('<th scope="row">') >= 8
    said = words(page, DAY)
    assert "Can it be done?" in said
    assert "unbroken sleep:" in said
    assert "Nothing is known of the parent's day" in said


def test_a_script_gets_the_part_alone(page: Client, family: UUID) -> None:
    part = page.get(DAY, headers={"hx-request": "true"}).content.decode()
    assert part.lstrip().startswith('<section id="day"')
    assert "<html" not in part


def test_an_infant_of_another_family_is_refused(page: Client, family: UUID) -> None:
    assert page.get(DAY, {"infant": str(an_id("nobody"))}).status_code == 400


def test_the_parents_day_changes_the_clock(page: Client, family: UUID) -> None:
    answer = say_the_day(page, sleep_h="6", sleep_between="21-7", helpers="18-24, 5-7")
    assert answer.status_code == 302
    day = parent_day_of(record_of(FAMILY).entries)
    assert day is not None
    assert (day.sleep_h, day.helpers) == (6, "18-24, 5-7")
    said = words(page, DAY)
    assert "6 h of unbroken sleep wished for, sleep between 21-7, somebody helps" in said


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"helpers": "18-22, 20-24"}, "18:00-22:00 and 20:00-24:00 overlap"),
        ({"sleep_h": "9", "away": "6-3"}, "30 h of sleep and being away are more than the 24 h"),
        ({"sleep_h": "0"}, "cannot be; possible is 1 to 14"),
        ({"away": "office hours"}, "cannot be read as hours of the clock"),
        ({"sleep_h": "8", "sleep_between": "22-4"}, "in one piece there is room for 6 h"),
    ],
)
def test_hours_that_cannot_be_are_refused_with_their_reason(
    page: Client, family: UUID, fields: dict[str, str], says: str
) -> None:
    answer = say_the_day(page, **fields)
    assert says in " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())
    assert parent_day_of(record_of(FAMILY).entries) is None


def test_nobody_who_feeds_is_said_where_the_clock_would_be(page: Client, family: UUID) -> None:
    say_the_day(page, away="8-18")
    said = words(page, DAY)
    assert "No day keeps every rule of this plan." in said
    assert "Nobody feeds 08:00-18:00" in said
    assert "makes it possible" in said


def test_the_day_is_kept_with_the_plan_and_shown_with_it(page: Client, family: UUID) -> None:
    plan = kept(page)
    assert plan.clock
    feeds = [one for one in plan.clock if one.what in {"breast", "bottle"}]
    assert len(feeds) >= (plan.feeds_count or 0)
    assert page.get(PLAN).content.decode().count('<svg class="clock"') == 1


def test_a_day_of_a_changed_plan_is_that_of_the_change(page: Client, family: UUID) -> None:
    plan = kept(page, feeds_count="12", gap_day_h="2.5", gap_night_h="2.5", why="cluster feeds")
    assert len([one for one in plan.clock if one.what == "breast"]) == 12


def test_a_plan_of_which_no_day_is_possible_is_kept_without_one(page: Client, family: UUID) -> None:
    say_the_day(page, away="8-18")
    assert kept(page).clock == ()
    assert '<svg class="clock"' not in page.get(PLAN).content.decode()


@pytest.mark.parametrize(
    ("opened", "leads"),
    [
        (f"of=plan&for={INFANT}", f"{PLAN}?infant={INFANT}"),
        ("of=plan", PLAN),
        ("of=papers", f"/families/{FAMILY}/papers/?kind=note"),
        ("of=nowhere", f"/families/{FAMILY}/"),
        ("of=plan&for=%2F%2Fevil.example", f"{PLAN}?infant=%2F%2Fevil.example"),
    ],
)
def test_the_parents_day_leads_back_to_where_it_was_opened(
    page: Client, family: UUID, opened: str, leads: str
) -> None:
    assert f"of=plan&amp;for={INFANT}" in page.get(f"{DAY}?infant={INFANT}").content.decode()
    sent = {
        "entry_id": str(uuid4()),
        "when": f"{datetime.now(UTC) - timedelta(minutes=1):%Y-%m-%dT%H:%M}",
        "basis": "reported",
        "sleep_h": "5",
    }
    answer = page.post(f"/families/{FAMILY}/enter/parent-day/?{opened}", sent)
    assert (answer.status_code, answer["Location"]) == (302, leads)
