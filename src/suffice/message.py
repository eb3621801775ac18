"""How the inner rooms speak: a template with what fills its gaps, put into words by `language`.

A room that computes knows no language, no units of a clinic and no clock. It says
``message("{weight} is above {limit}.", weight=Amount(5200, "g"), limit=Amount(4600, "g"))``; the
page, the paper and the shell each have it put into words (:mod:`suffice.language.text`). Nothing
is ever parsed back.

What fills a gap says what it is: an :class:`Amount` gets the reader's unit, an :class:`Instant`
the clinic's clock, another :class:`Message` its own translation. A plain ``str`` stands as it is
in every language: a name, a code, what somebody typed.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import lru_cache
from string import Formatter
from typing import Literal

import msgspec


class Amount(msgspec.Struct, frozen=True, tag="amount"):
    """A value with its unit, as stored (g, mL, Cel, %, h, ...).

    Attributes:
        value: The value.
        unit: Its unit, as in the content store.
        decimals: Decimals to show; None leaves it to the reader's unit.
        signed: Whether a rise is shown with its plus sign.
    """

    value: float
    unit: str
    decimals: int | None = None
    signed: bool = False

    def __str__(self) -> str:
        digits = f"{self.value:g}" if self.decimals is None else f"{self.value:.{self.decimals}f}"
        sign = "+" if self.signed and self.value > 0 else ""
        return f"{sign}{digits} {self.unit}"


class Number(msgspec.Struct, frozen=True, tag="number"):
    """A bare number; `decimals` None shows the digits it has."""

    value: float
    decimals: int | None = None

    def __str__(self) -> str:
        return f"{self.value:g}" if self.decimals is None else f"{self.value:.{self.decimals}f}"


class Instant(msgspec.Struct, frozen=True, tag="instant"):
    """An aware instant, shown on the clinic's clock; with its year where `year` says so.

    With its year it is never shortened to 'today', because the date itself may be the slip.
    """

    at: datetime
    year: bool = False

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M %Z}"


class Day(msgspec.Struct, frozen=True, tag="day"):
    """A local date; with its year where `year` says so."""

    on: date
    year: bool = False

    def __str__(self) -> str:
        return self.on.isoformat()


class Age(msgspec.Struct, frozen=True, tag="age"):
    """An age, or how long something has lasted, in hours."""

    hours: float

    def __str__(self) -> str:
        return f"{self.hours:g} h"


class Ago(msgspec.Struct, frozen=True, tag="ago"):
    """How long ago, in hours."""

    hours: float

    def __str__(self) -> str:
        return f"{self.hours:g} h ago"


class Chance(msgspec.Struct, frozen=True, tag="chance"):
    """A probability (0 to 1), shown in whole percent and never as certain."""

    fraction: float

    def __str__(self) -> str:
        return f"{100 * self.fraction:.0f} %"


class Listed(msgspec.Struct, frozen=True, tag="listed"):
    """Several things one after another; `word` stands before the last, a semicolon between all of them."""

    parts: tuple[Param, ...]
    word: Literal["and", "or", ";", ""] = ""

    def __str__(self) -> str:
        texts = [str(part) for part in self.parts]
        if self.word == ";":
            return "; ".join(texts)
        if not self.word or len(texts) < 2:
            return ", ".join(texts)
        return f"{', '.join(texts[:-1])} {self.word} {texts[-1]}"


class Message(msgspec.Struct, frozen=True, tag="message"):
    """A sentence or a fragment: an English template and what fills its named gaps.

    Attributes:
        template: English, with gaps such as ``{weight}``; the key of its translations.
        params: Name of a gap to what fills it, in the order given.
        plural: The template where the gap ``count`` is not one; empty where there is only one form.
    """

    template: str
    params: tuple[tuple[str, Param], ...] = ()
    plural: str = ""

    @property
    def values(self) -> dict[str, Param]:
        """What fills the gaps, by name."""
        return dict(self.params)

    @property
    def count(self) -> int:
        """What decides between its two forms: the gap ``count``; one, where there is only one."""
        count = self.values.get("count", 1) if self.plural else 1
        return count if isinstance(count, int) else 0

    def __str__(self) -> str:
        """Plain English in stored units, for a traceback or a log of our own; pages say it well."""
        template = self.template if self.count == 1 else self.plural
        return template.format(**{name: str(value) for name, value in self.params})

    def with_params(self, **params: Param) -> Message:
        """The same sentence with more gaps filled."""
        return msgspec.structs.replace(self, params=(*self.params, *params.items()))


Param = str | int | Amount | Number | Instant | Day | Age | Ago | Chance | Listed | Message

Words = Message | str
"""A message, or a text that stands as it is in every language because somebody typed it."""


def joined(*parts: Words) -> Words:
    """Several texts as one, parted by spaces; empty ones are left out."""
    kept = [part for part in parts if part]
    if len(kept) < 2:
        return kept[0] if kept else ""
    names = [f"part{number}" for number in range(len(kept))]
    return Message(
        template=" ".join(f"{{{name}}}" for name in names),
        params=tuple(zip(names, kept, strict=True)),
    )


def message(template: str, /, *, plural: str = "", **params: Param) -> Message:
    """A message; every gap of the template is named among `params`.

    >>> str(message("{weight} at {age}.", weight=Amount(3280, "g"), age=Age(30)))
    '3280 g at 30 h.'
    """
    if not params:
        return _plain(template, plural)
    return Message(template, tuple(params.items()), plural)


@lru_cache(maxsize=4096)
def _plain(template: str, plural: str) -> Message:
    """A message without gaps: one for all who say it, since most are names said again and again."""
    return Message(template, (), plural)


def holds_instant(value: Param) -> bool:
    """Whether an instant fills a gap of it: said to be read now, it may be said otherwise than on paper."""
    match value:
        case Instant():
            return True
        case Message():
            return any(holds_instant(filling) for _, filling in value.params)
        case Listed():
            return any(map(holds_instant, value.parts))
    return False


def filled(template: str, gaps: Mapping[str, Param]) -> Message:
    """A template of the content with what fills the gaps that it names, once each.

    >>> str(filled("{weight}, {loss} below.", {"at": 3, "loss": "8 %", "weight": "3010 g"}))
    '3010 g, 8 % below.'

    Raises:
        KeyError: For a gap that nothing fills.
    """
    named = (gap for _, gap, _, _ in Formatter().parse(template) if gap)
    return Message(template, tuple((gap, gaps[gap]) for gap in dict.fromkeys(named)))


def dated(instant: datetime) -> Words:
    """An instant with its year, for what may be a slip of the date."""
    return message("{at}", at=Instant(instant, year=True))
