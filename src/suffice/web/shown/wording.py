"""Numbers and times as the clinic reads them: its units, its time zone, its language.

Nothing here computes; a value goes in as it is stored (g, mL, °C, UTC) and comes out as words.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextvars import ContextVar
from datetime import datetime
from decimal import Decimal
from typing import Final
from zoneinfo import ZoneInfo

import msgspec
from django.utils.formats import date_format
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from suffice.clinical.reading.numeral import DecimalMark
from suffice.clinical.reading.writing import (
    NO_BREAK_SPACE,
    gestation_text,
    length_text,
    number_text,
    temperature_text,
    volume_text,
    weight_text,
)
from suffice.clinical.units import DAYS_PER_WEEK, HOURS_PER_DAY
from suffice.knowledge.policy import Language, Policy
from suffice.language.amounts import decimals_said
from suffice.language.catalogue import decimal_mark
from suffice.language.text import text_of, upper_first
from suffice.message import Words

MINUS: Final = "\N{MINUS SIGN}"
HOURS_SAID_UNTIL: Final = 72
"""Ages are told in hours up to here: a convention of speech, not a clinical limit."""
WEEKS_SAID_FROM_D: Final = 42

UNIT_WORDS: Final = {
    "Cel": "°C",
    "d": "days",
    "/d": "a day",
    "{#}/d": "",
    "count": "",
    "1": "",
    "percent": "%",
    "g/d": "g/day",
    "g/kg/d": "g/kg/day",
    "mL/kg/d": "mL/kg/day",
    "kcal/d": "kcal/day",
    "kcal/kg/d": "kcal/kg/day",
}
STEPS: Final = (Decimal(1), Decimal("0.1"), Decimal("0.01"))


def page_language() -> Language:
    """The language of the page that is being written, as far as there are sentences in it."""
    return "es" if (get_language() or "en").partition("-")[0] == "es" else "en"


_speaking: ContextVar[Policy] = ContextVar("policy of the page that is being written")


def speak_as(policy: Policy) -> None:
    """Say from now on, in this request, what the inner rooms say as this clinic reads it."""
    _speaking.set(policy)


def in_words(words: Words) -> str:
    """What the inner rooms say, in the language of the page and the units of the clinic."""
    policy = _speaking.get(Policy())
    if policy.language != page_language():
        policy = msgspec.structs.replace(policy, language=page_language())
    return text_of(words, policy)


def in_sentences(parts: Sequence[Words]) -> str:
    """Several of them one after another."""
    return " ".join(upper_first(in_words(part)) for part in parts if part)


def called(name: Words) -> str:
    """What somebody is called: as typed, or what stands in for a name."""
    return name if isinstance(name, str) else in_words(name)


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """A number as it is read, and its unit."""

    number: str
    unit: str = ""

    def __str__(self) -> str:
        """Both, kept together."""
        return f"{self.number}{NO_BREAK_SPACE}{self.unit}" if self.unit else self.number


class Wording(msgspec.Struct, frozen=True, kw_only=True):
    """How one clinic reads numbers and times."""

    policy: Policy

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
        return _minus(number_text(value, step=STEPS[digits], decimal_mark=self.mark))

    def change(self, value: float, digits: int = 1) -> str:
        """A change: with its sign, unless it is zero."""
        text = self.number(value, digits)
        return f"+{text}" if value > 0 and any(digit in text for digit in "123456789") else text

    def weight(self, weight_g: float) -> Said:
        """A weight, or a difference of weights, in the clinic's unit."""
        unit = self.policy.weight_unit
        if unit == "kg":
            # Whole grams are what a scale shows: two decimals of a kilogram would hide ten of them.
            return _split(weight_text(weight_g, "g", decimal_mark=self.mark))
        return _split(weight_text(weight_g, unit, decimal_mark=self.mark))

    def volume(self, volume_ml: float, per: str = "") -> Said:
        """A volume, or a volume per something, in the clinic's unit."""
        said = _split(volume_text(volume_ml, self.policy.volume_unit, decimal_mark=self.mark))
        return Said(number=said.number, unit=in_words(f"{said.unit}{per}"))

    def temperature(self, temperature_c: float) -> Said:
        """A body temperature in the clinic's unit."""
        unit = self.policy.temperature_unit
        return _split(temperature_text(temperature_c, unit, decimal_mark=self.mark))

    def length(self, length_cm: float) -> Said:
        """A length in cm."""
        return _split(length_text(length_cm, "cm", decimal_mark=self.mark))

    def quantity(self, value: float, unit: str) -> Said:
        """A value in any unit of the content store; a bare number keeps two decimals."""
        if unit == "g":
            return self.weight(value)
        if unit == "mL":
            return self.volume(value)
        if unit in {"mL/d", "mL/day"}:
            return self.volume(value, "/day")
        if unit in {"Cel", "°C"}:
            return self.temperature(value)
        return Said(
            number=self.number(value, decimals_said(value, unit)),
            unit=in_words(UNIT_WORDS.get(unit, unit)),
        )

    # ---- times ------------------------------------------------------------------------------

    def local(self, instant: datetime) -> datetime:
        """An instant on the clinic's clock."""
        return instant.astimezone(self.zone)

    def field(self, instant: datetime) -> str:
        """An instant as a field for date and time holds it."""
        return f"{self.local(instant):%Y-%m-%dT%H:%M}"

    def when(self, instant: datetime) -> str:
        """Weekday, date and time on the clinic's clock; the zone's name when the hour repeats."""
        return self._said(instant, f"D j {self._month} Y, H:i")

    def short_when(self, instant: datetime) -> str:
        """Weekday, day, month and time, for narrow columns."""
        return self._said(instant, f"D j {self._month}, H:i")

    def day(self, instant: datetime) -> str:
        """Weekday and date on the clinic's clock."""
        return date_format(self.local(instant), f"D j {self._month} Y", use_l10n=False)

    @property
    def _month(self) -> str:
        """The pattern of a short month: only English begins it with a capital."""
        return "M" if self.policy.language == "en" else "b"

    def _said(self, instant: datetime, pattern: str) -> str:
        local = self.local(instant)
        text = date_format(local, pattern, use_l10n=False)
        return f"{text} {local.tzname()}" if _repeats(local) else text

    def age(self, age_h: float) -> str:
        """An age as the trade says it: hours, then days, then weeks and days."""
        if age_h < HOURS_SAID_UNTIL:
            hours = int(age_h)
            return ngettext("%(n)s hour", "%(n)s hours", hours) % {"n": hours}
        days = int(age_h // HOURS_PER_DAY)
        if days < WEEKS_SAID_FROM_D:
            return ngettext("%(n)s day", "%(n)s days", days) % {"n": days}
        weeks, rest = divmod(days, DAYS_PER_WEEK)
        return _("%(weeks)s weeks %(days)s d") % {"weeks": weeks, "days": rest}

    def gestation(self, gestation_days: int) -> str:
        """A gestation in weeks and days: 38+2."""
        return gestation_text(gestation_days)


def _minus(text: str) -> str:
    return text.replace("-", MINUS)


def _split(text: str) -> Said:
    """A written quantity parted at its last no-break space."""
    number, _space, unit = _minus(text).rpartition(NO_BREAK_SPACE)
    return Said(number=number, unit=unit)


def _repeats(local: datetime) -> bool:
    """Whether the clock shows this time twice, because it is set back."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
