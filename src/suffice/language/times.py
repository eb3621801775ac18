"""Ages, lengths of time and instants as people say them, on one clinic's clock.

The one place where h and UTC become text. Two instants are compared twice: by what has elapsed
between them for minutes and hours, which no change of clocks bends, and by their dates on the
clinic's clock for today, yesterday and tomorrow. Words of this kind grow old while a page stays
open, so a page shows the exact instant with them (``shown/time.html``).
"""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from suffice.clinical.units import (
    DAYS_PER_MONTH,
    DAYS_PER_WEEK,
    HOURS_PER_DAY,
    MINUTES_PER_HOUR,
    SECONDS_PER_HOUR,
)
from suffice.knowledge.policy import DateOrder, Language
from suffice.language.catalogue import translated
from suffice.message import Message, message

MINUS: Final = "\N{MINUS SIGN}"

HOURS_SHOWN_UNTIL: Final = 72
DAYS_SHOWN_UNTIL_D: Final = 42
WEEKS_SHOWN_UNTIL_D: Final = 183
"""An age is said in hours for a newborn, then in days, in weeks and days, and in months: a
convention of speech, not a clinical limit."""

# ---- ages ------------------------------------------------------------------------------------

DAYS: Final = message("{count} day", plural="{count} days")
WEEKS: Final = message("{count} week", plural="{count} weeks")
MONTHS_LONG: Final = message("{count} month", plural="{count} months")
MINUTES_AGO: Final = message("{count} min ago", plural="{count} min ago")
HOUR_AGO: Final = message("an hour ago")
LONG_AGO: Final = message("{age} ago")


def age_text(age_h: float, language: Language = "en") -> str:
    """An age or a length of time, in completed units as people count them.

    '71 h' for a newborn, then '19 days', '7 weeks 2 days', '8 months'.
    """
    if age_h < HOURS_SHOWN_UNTIL:
        return f"{math.floor(age_h)} h".replace("-", MINUS)
    days = math.floor(age_h / HOURS_PER_DAY)
    if days < DAYS_SHOWN_UNTIL_D:
        return _counted(DAYS, days, language)
    if days >= WEEKS_SHOWN_UNTIL_D:
        return _counted(MONTHS_LONG, math.floor(days / DAYS_PER_MONTH), language)
    weeks, rest = divmod(days, DAYS_PER_WEEK)
    text = _counted(WEEKS, weeks, language)
    return f"{text} {_counted(DAYS, rest, language)}" if rest else text


def between_h(hours: float) -> float:
    """A length of time between two weights, to be said: hours up to three days, then the nearest whole days.

    An age is said in completed days; of how long a change took all sentences say the same.
    """
    days = math.floor(hours / HOURS_PER_DAY + 0.5)
    return hours if hours < HOURS_SHOWN_UNTIL else float(days * HOURS_PER_DAY)


def ago_text(hours: float, language: Language = "en") -> str:
    """How long ago: in minutes up to an hour, then in the units of an age."""
    if hours < 1:
        minutes = max(0, math.floor(hours * MINUTES_PER_HOUR))
        return _counted(MINUTES_AGO, minutes, language)
    if hours < 2:
        return translated(HOUR_AGO.template, language)
    return _filled(LONG_AGO, language, age=age_text(hours, language))


# ---- instants --------------------------------------------------------------------------------

WEEKDAYS: Final = (
    *(message("Mon"), message("Tue"), message("Wed"), message("Thu")),
    *(message("Fri"), message("Sat"), message("Sun")),
)
MONTHS: Final = (
    *(message("Jan"), message("Feb"), message("Mar"), message("Apr")),
    *(message("May"), message("Jun"), message("Jul"), message("Aug")),
    *(message("Sep"), message("Oct"), message("Nov"), message("Dec")),
)
NOW: Final = message("now")
TODAY: Final = message("today {time}")
YESTERDAY: Final = message("yesterday {time}")
TOMORROW: Final = message("tomorrow")
TOMORROW_AT: Final = message("tomorrow {time}")
DUE_YESTERDAY: Final = message("yesterday")
IN_DAYS: Final = message("in {count} day", plural="in {count} days")
DAYS_BEFORE: Final = message("{count} day ago", plural="{count} days ago")
IN_A_WEEK: Final = message("in a week")
A_WEEK_AGO: Final = message("a week ago")
DATE_FROM_D: Final = 14
"""From so many days on a date says more than a count of days."""


def day_text(
    day: date, language: Language = "en", *, year: bool = False, order: DateOrder = "day first"
) -> str:
    """A local date in the clinic's order: 'Wed 25 Nov' or 'Wed Nov 25'.

    With its year 'Wed 25 Nov 2026', 'Wed Nov 25, 2026' or 'Wed 2026 Nov 25'.
    """
    weekday = translated(WEEKDAYS[day.weekday()].template, language)
    month = translated(MONTHS[day.month - 1].template, language)
    if order == "day first":
        return f"{weekday} {day.day} {month}{f' {day.year}' if year else ''}"
    if order == "month first":
        return f"{weekday} {month} {day.day}{f', {day.year}' if year else ''}"
    return f"{weekday} {f'{day.year} ' if year else ''}{month} {day.day}"


def instant_text(
    at: datetime,
    zone: ZoneInfo,
    language: Language = "en",
    *,
    year: bool = False,
    order: DateOrder = "day first",
) -> str:
    """A local instant: 'Wed 25 Nov, 09:30'; the zone's name where the clock shows it twice."""
    day = day_text(at.astimezone(zone).date(), language, year=year, order=order)
    return f"{day}, {clock_text(at, zone)}"


def clock_text(at: datetime, zone: ZoneInfo) -> str:
    """The time on the clinic's clock: '09:30'; with the zone's name where the clock shows it twice."""
    local = at.astimezone(zone)
    repeats = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    return f"{local:%H:%M} {local.tzname()}" if repeats else f"{local:%H:%M}"


def past_text(
    at: datetime,
    now: datetime,
    zone: ZoneInfo,
    language: Language = "en",
    order: DateOrder = "day first",
) -> str:
    """When something was: 'now', '15 min ago', 'an hour ago', 'today 09:30', 'yesterday 21:00'.

    Before yesterday, and for what is still to come, the date with its time; with the year where
    it is another one.
    """
    hours = (now - at).total_seconds() / SECONDS_PER_HOUR
    if 0 <= hours * MINUTES_PER_HOUR < 1:
        return translated(NOW.template, language)
    if 0 <= hours < 2:
        return ago_text(hours, language)
    days = days_between(now, at, zone)
    if days in {0, -1}:
        words = YESTERDAY if days else TODAY
        return _filled(words, language, time=clock_text(at, zone))
    return instant_text(at, zone, language, year=_other_year(at, now, zone), order=order)


def near_text(
    at: datetime,
    now: datetime,
    zone: ZoneInfo,
    language: Language = "en",
    order: DateOrder = "day first",
    *,
    keeps: bool = False,
) -> str:
    """An instant inside a sentence: 'today 09:30', 'yesterday 21:00', 'tomorrow 09:30'.

    In the same week 'Wed 09:30', else the date with its time. What `keeps` is read later, as paper
    is: it has no word that means another day tomorrow.
    """
    days = days_between(now, at, zone)
    named = None if keeps else {-1: YESTERDAY, 0: TODAY, 1: TOMORROW_AT}.get(days)
    if named is not None:
        return _filled(named, language, time=clock_text(at, zone))
    if abs(days) < DAYS_PER_WEEK:
        weekday = WEEKDAYS[at.astimezone(zone).weekday()].template
        return f"{translated(weekday, language)} {clock_text(at, zone)}"
    return instant_text(at, zone, language, year=_other_year(at, now, zone), order=order)


def fitted(text: str, language: Language) -> str:
    """A sentence in which a day has no preposition or article before it that does not go with it.

    'Handed over at today 09:30' is 'Handed over today 09:30', '38.6 °C at Mon 06:00' is '38.6 °C Mon
    06:00', 'el hoy 09:30' is 'hoy 09:30'.
    """
    if language == "es":
        return _ARTICLE.sub(lambda found: f"{_BARE[found[1].lower()]}{found[2]}", text)
    return _AT_A_DAY.sub(r"\1", _PREPOSITION.sub(r"\1", text))


_PREPOSITION: Final = re.compile(r"\b(?:at|on) ((?:today|yesterday|tomorrow) \d)")
_AT_A_DAY: Final = re.compile(rf"\bat ((?:{'|'.join(one.template for one in WEEKDAYS)}) )")
_ARTICLE: Final = re.compile(r"\b(el|del|al) ((?:hoy|ayer|mañana) \d)", re.IGNORECASE)
_BARE: Final = {"el": "", "del": "de ", "al": "a "}


def due_text(
    at: datetime,
    now: datetime,
    zone: ZoneInfo,
    language: Language = "en",
    order: DateOrder = "day first",
) -> str:
    """When something is due: 'today 16:00', 'tomorrow', 'in 2 days', 'in a week'; then the date.

    What is past reads the same way: 'yesterday', '3 days ago'.
    """
    days = days_between(now, at, zone)
    if days == 0:
        return _filled(TODAY, language, time=clock_text(at, zone))
    if abs(days) >= DATE_FROM_D:
        on = at.astimezone(zone).date()
        return day_text(on, language, year=_other_year(at, now, zone), order=order)
    named = {
        1: TOMORROW,
        -1: DUE_YESTERDAY,
        DAYS_PER_WEEK: IN_A_WEEK,
        -DAYS_PER_WEEK: A_WEEK_AGO,
    }.get(days)
    if named is not None:
        return translated(named.template, language)
    return _counted(IN_DAYS if days > 0 else DAYS_BEFORE, abs(days), language)


def days_between(first: datetime, second: datetime, zone: ZoneInfo) -> int:
    """How many dates of the clinic's calendar the second instant lies after the first."""
    return (second.astimezone(zone).date() - first.astimezone(zone).date()).days


def _other_year(at: datetime, now: datetime, zone: ZoneInfo) -> bool:
    return at.astimezone(zone).year != now.astimezone(zone).year


def _counted(words: Message, count: int, language: Language) -> str:
    found = translated(words.template, language, plural=words.plural, count=count)
    return found.format(count=count)


def _filled(words: Message, language: Language, **texts: str) -> str:
    return translated(words.template, language).format(**texts)
