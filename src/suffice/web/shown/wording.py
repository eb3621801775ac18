"""Numbers and times as the clinic reads them: its units, its time zone, its language.

Nothing here computes; a value goes in as it is stored (g, mL, °C, UTC) and comes out as words.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextvars import ContextVar
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

import msgspec
from django.utils.translation import get_language

from suffice.clinical.reading.numeral import DecimalMark
from suffice.clinical.reading.writing import NO_BREAK_SPACE, chance_text, gestation_text
from suffice.knowledge.policy import DateOrder, Language, Policy
from suffice.language.amounts import AmountText, amount, local_number, signed
from suffice.language.catalogue import decimal_mark
from suffice.language.parent import in_clinics_word
from suffice.language.text import sentences_of, text_of, upper_first
from suffice.language.times import (
    age_text,
    day_text,
    due_text,
    instant_text,
    near_text,
    past_text,
)
from suffice.message import Message, Words


def page_language() -> Language:
    """The language of the page that is being written, as far as there are sentences in it."""
    return "es" if (get_language() or "en").partition("-")[0] == "es" else "en"


MICROSECONDS_PER_MILLISECOND: Final = 1000
_speaking: ContextVar[Policy] = ContextVar("policy of the page that is being written")


def speak_as(policy: Policy) -> None:
    """Say from now on, in this request, what the inner rooms say as this clinic reads it."""
    _speaking.set(policy)


def in_words(words: Words, now: datetime | None = None) -> str:
    """What the inner rooms say, in the language of the page and the units of the clinic."""
    return text_of(words, _policy(), now)


def of_content(text: str) -> str:
    """A sentence that the content holds, in the language of the page."""
    return in_words(Message(text))


def as_heading(words: Words) -> str:
    """The same at the head of a line or a cell: with a capital."""
    return upper_first(in_words(words))


def in_sentences(
    parts: Sequence[Words], now: datetime | None = None, *, keeps: bool = False
) -> str:
    """Several of them one after another; given `now`, a near date is shorter (see `text_of`)."""
    return sentences_of(parts, _policy(), now, keeps=keeps)


def in_clinics_words(text: object) -> str:
    """A text of a page itself, with the clinic's word for the parent."""
    return in_clinics_word(str(text), _policy())


def called(name: Words) -> str:
    """What somebody is called: as typed, or what stands in for a name."""
    return name if isinstance(name, str) else in_words(name)


def _policy() -> Policy:
    policy = _speaking.get(Policy())
    if policy.language != page_language():
        policy = msgspec.structs.replace(policy, language=page_language())
    return policy


def order_of_dates() -> DateOrder:
    """The order of day, month and year in which the clinic of this page writes dates."""
    return _policy().date_order


def day_words(day: date, order: DateOrder) -> str:
    """A date with its weekday and year, in the language of the page: 'Wed 25 Nov 2026'."""
    return day_text(day, page_language(), year=True, order=order)


class Moment(msgspec.Struct, frozen=True, kw_only=True):
    """An instant as people say it, and the exact one behind it: the words grow old on an open page.

    Attributes:
        words: As it is said now: 15 min ago, today 16:00, in a week.
        paper: The same for paper, which is read later: Sat 16:00, Sat 5 Dec, 09:00.
        exact: With date and year.
        iso: As a machine reads it.
    """

    words: str
    paper: str
    exact: str
    iso: str


class Wording(msgspec.Struct, frozen=True, kw_only=True):
    """How one clinic reads numbers and times.

    Attributes:
        policy: The clinic's policy.
        now: The instant at which it is read: a near time is then 'today 09:30'. None where it is
            read later, as paper is, and where the past is asked.
    """

    policy: Policy
    now: datetime | None = None

    @property
    def zone(self) -> ZoneInfo:
        """The clinic's time zone."""
        return ZoneInfo(self.policy.zone)

    @property
    def mark(self) -> DecimalMark:
        """The mark before decimals in the clinic's language."""
        return decimal_mark(self.policy.language)

    # ---- quantities -------------------------------------------------------------------------

    def number(self, value: float, digits: int = 0) -> str:
        """A number with a true minus sign."""
        return local_number(value, digits, self.policy.language)

    def change(self, value: float, digits: int = 1) -> str:
        """A change: with its sign, unless it is zero."""
        return signed(self.number(value, digits), value)

    def weight(self, weight_g: float) -> AmountText:
        """A weight, or a difference of weights, in the clinic's unit."""
        return amount(weight_g, "g", self.policy)

    def volume(self, volume_ml: float) -> AmountText:
        """A volume in the clinic's unit."""
        return amount(volume_ml, "mL", self.policy)

    def daily(self, volume_ml: float) -> AmountText:
        """A volume a day in the clinic's unit."""
        return amount(volume_ml, "mL/d", self.policy)

    def temperature(self, temperature_c: float) -> AmountText:
        """A body temperature in the clinic's unit."""
        return amount(temperature_c, "Cel", self.policy)

    def length(self, length_cm: float) -> AmountText:
        """A length in the clinic's unit."""
        return amount(length_cm, "cm", self.policy)

    def quantity(self, value: float, unit: str, decimals: int | None = None) -> AmountText:
        """A value in any unit of the content store."""
        return amount(value, unit, self.policy, decimals=decimals)

    def chance(self, probability: float) -> str:
        """A probability (0 to 1) in whole percent that never claims certainty."""
        return chance_text(probability).replace(" ", NO_BREAK_SPACE)

    # ---- times ------------------------------------------------------------------------------

    def local(self, instant: datetime) -> datetime:
        """An instant on the clinic's clock."""
        return instant.astimezone(self.zone)

    def field(self, instant: datetime) -> str:
        """An instant as a field for date and time holds it: to the minute, finer where it is finer.

        A browser takes milliseconds at the most, and shows nothing of a finer time.
        """
        local = self.local(instant).replace(tzinfo=None)
        if local.microsecond >= MICROSECONDS_PER_MILLISECOND:
            return local.isoformat(timespec="milliseconds")
        return local.isoformat(timespec="seconds" if local.second else "minutes")

    def when(self, instant: datetime) -> str:
        """Weekday, date and time on the clinic's clock; the zone's name when the hour repeats."""
        return instant_text(
            instant, self.zone, self.policy.language, year=True, order=self.policy.date_order
        )

    def short_when(self, instant: datetime) -> str:
        """Weekday, day, month and time, for narrow columns."""
        return instant_text(instant, self.zone, self.policy.language, order=self.policy.date_order)

    def near(self, instant: datetime, now: datetime, *, keeps: bool = False) -> str:
        """An instant inside a sentence: today 09:30; Wed 09:30 where it `keeps`, as paper does."""
        policy = self.policy
        return near_text(instant, now, self.zone, policy.language, policy.date_order, keeps=keeps)

    def past_moment(self, instant: datetime, now: datetime) -> Moment:
        """When something was, as people say it: 15 min ago, today 09:30, yesterday 21:00."""
        words = past_text(instant, now, self.zone, self.policy.language, self.policy.date_order)
        return self._moment(instant, words, now)

    def due_moment(self, instant: datetime, now: datetime) -> Moment:
        """When something is due, as people say it: today 16:00, tomorrow, in a week."""
        words = due_text(instant, now, self.zone, self.policy.language, self.policy.date_order)
        return self._moment(instant, words, now)

    def _moment(self, instant: datetime, words: str, now: datetime) -> Moment:
        return Moment(
            words=words,
            paper=self.near(instant, now, keeps=True),
            exact=self.when(instant),
            iso=instant.isoformat(timespec="seconds"),
        )

    def day(self, instant: datetime) -> str:
        """Weekday and date on the clinic's clock."""
        return self.date(self.local(instant).date())

    def date(self, on: date) -> str:
        """Weekday and date of the clinic's calendar."""
        return day_text(on, self.policy.language, year=True, order=self.policy.date_order)

    def age(self, age_h: float) -> str:
        """An age as the trade says it: hours, days, weeks and days, months."""
        return age_text(age_h, self.policy.language)

    def gestation(self, gestation_days: int) -> str:
        """A gestation in weeks and days: 38+2."""
        return gestation_text(gestation_days)
