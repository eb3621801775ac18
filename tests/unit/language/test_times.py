"""Ages, lengths of time and instants as people say them, on each clinic's clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.knowledge.policy import DateOrder, Policy
from suffice.language.text import sentences_of, text_of
from suffice.language.times import (
    age_text,
    ago_text,
    between_h,
    clock_text,
    day_text,
    days_between,
    due_text,
    fitted,
    instant_text,
    near_text,
    past_text,
)
from suffice.message import Day, Instant, Listed, message
from suffice.web.shown.wording import Wording

MADRID = ZoneInfo("Europe/Madrid")
NOW = datetime(2026, 11, 25, 14, 30, tzinfo=UTC)  # Wed, 15:30 in Madrid
ZONES = ("UTC", "Europe/Madrid", "America/St_Johns", "Australia/Lord_Howe", "Pacific/Apia")
zones = st.sampled_from(ZONES).map(ZoneInfo)
instants = st.datetimes(datetime(2015, 1, 1), datetime(2035, 1, 1)).map(  # noqa: DTZ001
    lambda at: at.replace(tzinfo=UTC, microsecond=0)
)
spans = st.integers(0, 40 * 24 * 60).map(lambda minutes: timedelta(minutes=minutes))


@pytest.mark.parametrize(
    ("age_h", "english", "spanish"),
    [
        (0, "0 h", "0 h"),
        (-1.5, "\u22122 h", "\u22122 h"),
        (71.9, "71 h", "71 h"),
        (72, "3 days", "3 días"),
        (41.9 * 24, "41 days", "41 días"),
        (42 * 24, "6 weeks", "6 semanas"),
        (43 * 24, "6 weeks 1 day", "6 semanas 1 día"),
        (182.9 * 24, "26 weeks", "26 semanas"),
        (183 * 24, "6 months", "6 meses"),
        (366 * 24, "12 months", "12 meses"),
    ],
)
def test_an_age_is_said_in_completed_units(age_h: float, english: str, spanish: str) -> None:
    assert age_text(age_h) == english
    assert age_text(age_h, "es") == spanish


@given(st.floats(0, 3 * 365 * 24))
def test_an_age_names_its_largest_unit_and_grows_by_no_smaller_one(age_h: float) -> None:
    """Hours to 72 h, then days, then weeks with days, then months: never two ways for one age."""
    said = age_text(age_h)
    days = age_h / 24
    unit = "h" if days < 3 else "day" if days < 42 else "week" if days < 183 else "month"
    assert said.split()[1].removesuffix("s") == unit
    in_days = {"h": 1 / 24, "day": 1, "week": 7, "month": 30.4375}
    pairs = zip(said.split()[::2], said.split()[1::2], strict=True)
    shown = sum(int(count) * in_days[one.removesuffix("s")] for count, one in pairs)
    step = {"h": 1 / 24, "day": 1, "week": 1, "month": 31}[unit]
    assert shown <= days + 1e-9
    assert days - shown < step + 1e-9


def test_how_long_ago() -> None:
    hours = (0, 0.5, 0.99, 1.5, 2, 47.9, 71.9, 72, 50 * 24)
    assert [ago_text(h) for h in hours] == [
        "0 min ago",
        "30 min ago",
        "59 min ago",
        "an hour ago",
        "2 h ago",
        "47 h ago",
        "71 h ago",
        "3 days ago",
        "7 weeks 1 day ago",
    ]


@pytest.mark.parametrize(
    ("before", "said"),
    [
        (timedelta(0), "now"),
        (timedelta(seconds=59), "now"),
        (timedelta(minutes=1), "1 min ago"),
        (timedelta(minutes=15), "15 min ago"),
        (timedelta(minutes=60), "an hour ago"),
        (timedelta(minutes=119), "an hour ago"),
        (timedelta(hours=2), "today 13:30"),
        (timedelta(hours=15, minutes=30), "today 00:00"),
        (timedelta(hours=15, minutes=31), "yesterday 23:59"),
        (timedelta(hours=39), "yesterday 00:30"),
        (timedelta(hours=40), "Mon 23 Nov, 23:30"),
        (timedelta(days=360), "Sun 30 Nov 2025, 15:30"),
        (-timedelta(hours=2), "today 17:30"),
        (-timedelta(days=1), "Thu 26 Nov, 15:30"),
    ],
)
def test_what_was_is_said_as_people_say_it(before: timedelta, said: str) -> None:
    assert past_text(NOW - before, NOW, MADRID) == said


@pytest.mark.parametrize(
    ("ahead", "said"),
    [
        (timedelta(0), "today 15:30"),
        (timedelta(hours=8), "today 23:30"),
        (timedelta(hours=9), "tomorrow"),
        (timedelta(hours=33), "in 2 days"),
        (timedelta(days=6), "in 6 days"),
        (timedelta(days=7), "in a week"),
        (timedelta(days=8), "in 8 days"),
        (timedelta(days=13), "in 13 days"),
        (timedelta(days=14), "Wed 9 Dec"),
        (timedelta(days=60), "Sun 24 Jan 2027"),
        (-timedelta(hours=1), "today 14:30"),
        (-timedelta(hours=16), "yesterday"),
        (-timedelta(days=2), "2 days ago"),
        (-timedelta(days=7), "a week ago"),
        (-timedelta(days=20), "Thu 5 Nov"),
    ],
)
def test_what_is_due_is_said_as_people_say_it(ahead: timedelta, said: str) -> None:
    assert due_text(NOW + ahead, NOW, MADRID) == said


@given(instants, spans, zones)
def test_today_and_yesterday_are_dates_of_the_clinics_calendar(
    now: datetime, before: timedelta, zone: ZoneInfo
) -> None:
    at = now - before
    said = past_text(at, now, zone)
    days = days_between(at, now, zone)
    if said.startswith("today"):
        assert days == 0
    elif said.startswith("yesterday"):
        assert days == 1
    elif said.endswith(" ago") or said == "now":
        assert before < timedelta(hours=2)
    else:
        assert days >= 2
    if before >= timedelta(hours=2):
        assert f"{at.astimezone(zone):%H:%M}" in said


@given(instants, spans, zones)
def test_a_due_date_counts_midnights_and_says_the_same_wherever_it_was_written(
    now: datetime, ahead: timedelta, zone: ZoneInfo
) -> None:
    at = now + ahead
    said = due_text(at, now, zone)
    assert said == due_text(at.astimezone(ZoneInfo("Asia/Kathmandu")), now, zone)
    days = days_between(now, at, zone)
    assert said.startswith("today") == (days == 0)
    assert (said == "tomorrow") == (days == 1)
    assert (said == "in a week") == (days == 7)


def test_change_of_clocks_bends_neither_minutes_nor_dates() -> None:
    """25 October 2026: 02:30 comes twice in Madrid; 29 March 2026: 02:30 never comes."""
    first, second = (datetime(2026, 10, 25, hour, 30, tzinfo=UTC) for hour in (0, 1))
    assert past_text(first, second, MADRID) == "an hour ago"
    later = datetime(2026, 10, 25, 9, 0, tzinfo=UTC)
    assert [past_text(one, later, MADRID) for one in (first, second)] == [
        "today 02:30 CEST",
        "today 02:30 CET",
    ]
    evening = datetime(2026, 10, 24, 22, 30, tzinfo=UTC)  # 00:30 of the day of 25 hours
    assert due_text(evening + timedelta(hours=24), evening, MADRID) == "today 23:30"
    before = datetime(2026, 3, 28, 22, 30, tzinfo=UTC)  # 23:30 before the day of 23 hours
    assert due_text(before + timedelta(hours=1), before, MADRID) == "tomorrow"
    assert due_text(before + timedelta(hours=24), before, MADRID) == "in 2 days"
    skipped = datetime(2026, 3, 29, 0, 59, tzinfo=UTC)  # 01:59; one minute later it is 03:00
    assert past_text(skipped, skipped + timedelta(minutes=2), MADRID) == "2 min ago"
    assert past_text(skipped, skipped + timedelta(hours=3), MADRID) == "today 01:59"


@pytest.mark.parametrize(
    ("days", "said", "kept"),
    [
        (-7, "Wed 25 Nov, 15:10", "Wed 25 Nov, 15:10"),
        (-6, "Wed 15:10", "Wed 15:10"),
        (-1, "tomorrow 15:10", "Wed 15:10"),
        (0, "today 15:10", "Wed 15:10"),
        (1, "yesterday 15:10", "Wed 15:10"),
        (2, "Wed 15:10", "Wed 15:10"),
        (7, "Wed 25 Nov, 15:10", "Wed 25 Nov, 15:10"),
        (40, "Wed 25 Nov 2026, 15:10", "Wed 25 Nov 2026, 15:10"),
    ],
)
def test_inside_a_sentence_a_near_instant_has_its_day_in_words_unless_it_is_to_keep(
    days: int, said: str, kept: str
) -> None:
    at = NOW - timedelta(minutes=20)
    fever = message("Fever ({when}), {names}.", when=Instant(at), names=Listed((Instant(at),)))
    policy = Policy(zone="Europe/Madrid")
    later = NOW + timedelta(days=days)
    assert text_of(fever, policy) == "Fever (Wed 25 Nov, 15:10), Wed 25 Nov, 15:10."
    assert text_of(fever, policy, later) == f"Fever ({said}), {said}."
    assert sentences_of((fever,), policy, later, keeps=True) == f"Fever ({kept}), {kept}."


def test_no_article_or_preposition_stands_before_a_day_in_words() -> None:
    at = NOW - timedelta(days=2)
    for text, said in (
        ("Tocaba el hoy 09:30", "Tocaba hoy 09:30"),
        ("desde el ayer 21:00 hasta el mié 09:30", "desde ayer 21:00 hasta el mié 09:30"),
        ("antes del mañana 09:30", "antes de mañana 09:30"),
        ("El hoy en día", "El hoy en día"),
    ):
        assert fitted(text, "es") == said
        assert fitted(text, "en") == text
    said = fitted("Handed over at today 09:30, on yesterday 08:00 and at 9:00 on Wed 07:00.", "en")
    assert said == "Handed over today 09:30, yesterday 08:00 and at 9:00 on Wed 07:00."
    assert near_text(at, NOW, MADRID, "es") == "lun 15:30"


@given(instants, st.integers(-6, 6), zones)
def test_a_day_in_words_is_that_of_the_clinics_calendar_and_a_weekday_one_of_the_week(
    now: datetime, days: int, zone: ZoneInfo
) -> None:
    at = now + timedelta(days=days)
    apart = days_between(now, at, zone)
    words = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    weekday = day_text(at.astimezone(zone).date()).split()[0]
    assert near_text(at, now, zone).startswith(f"{words.get(apart, weekday)} ")
    assert near_text(at, now, zone, keeps=True).startswith(f"{weekday} ")
    assert f"{at.astimezone(zone):%H:%M}" in near_text(at, now, zone)


@pytest.mark.parametrize(
    ("order", "short", "whole"),
    [
        ("day first", "Wed 25 Nov", "Wed 25 Nov 2026"),
        ("month first", "Wed Nov 25", "Wed Nov 25, 2026"),
        ("year first", "Wed Nov 25", "Wed 2026 Nov 25"),
    ],
)
def test_a_date_has_the_clinics_order_in_every_form(
    order: DateOrder, short: str, whole: str
) -> None:
    at, on = datetime(2026, 11, 25, 8, 30, tzinfo=UTC), date(2026, 11, 25)
    policy = Policy(zone="Europe/Madrid", date_order=order)
    assert day_text(on, order=order) == short
    assert instant_text(at, MADRID, year=True, order=order) == f"{whole}, 09:30"
    assert past_text(at, at + timedelta(days=9), MADRID, order=order) == f"{short}, 09:30"
    assert past_text(at, at + timedelta(days=60), MADRID, order=order) == f"{whole}, 09:30"
    assert near_text(at, at + timedelta(days=9), MADRID, order=order) == f"{short}, 09:30"
    assert due_text(at, at - timedelta(days=20), MADRID, order=order) == short
    said = message("{day}; {year}; {at}", day=Day(on), year=Day(on, year=True), at=Instant(at))
    assert text_of(said, policy) == f"{short}; {whole}; {short}, 09:30"
    wording = Wording(policy=policy)
    assert wording.when(at) == f"{whole}, 09:30"
    assert wording.short_when(at) == f"{short}, 09:30"
    assert wording.day(at) == whole
    assert wording.past_moment(at, at + timedelta(days=60)).words == f"{whole}, 09:30"
    assert wording.due_moment(at, at - timedelta(days=20)).words == short


def test_an_instant_is_that_of_the_clinics_clock_and_says_which_where_it_comes_twice() -> None:
    at = datetime(2026, 11, 25, 8, 30, tzinfo=UTC)
    assert instant_text(at, MADRID) == "Wed 25 Nov, 09:30"
    assert instant_text(at, MADRID, "es", year=True) == "mié 25 nov 2026, 09:30"
    twice = [datetime(2026, 10, 25, hour, 30, tzinfo=UTC) for hour in (0, 1)]
    assert [clock_text(one, MADRID) for one in twice] == ["02:30 CEST", "02:30 CET"]
    assert day_text(date(2026, 5, 4), "es") == "lun 4 may"


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
def test_a_change_took_the_nearestbetween_h(hours: float, said_h: float) -> None:
    assert between_h(hours) == said_h
