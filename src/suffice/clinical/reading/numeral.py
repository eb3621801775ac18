"""Numbers as people write them, read without guessing.

``3,28``, ``3.28``, ``3 280``, ``1.234,5``, ``4 1/2``, ``4½``, ``٣٢٨٠``: a mark before exactly
three digits may part thousands or begin decimals. Which it does depends on who writes, so such a
numeral has two readings, the one of the reader's own language first, and the caller decides with
the unit and the possible range beside it.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from typing import Literal

import msgspec

DecimalMark = Literal[".", ","]

NUMERAL = r"-?(?:\d(?:\d|[.,' ](?=\d))*(?:/\d+)?|[.,]\d+)"
"""What may be a numeral in tidied text; whether it is one is for :func:`readings` to say."""

LONGEST = 100
"""Characters of the longest text that is still read as a value."""

_FRACTION = re.compile(r"(?:(\d+) )?(\d+)/(\d+)")
_GROUPED = re.compile(r"(\d{1,3}(?:[ ']\d{3})+)(?:[.,](\d+))?")
_TWO_MARKS = re.compile(r"\d{1,3}(?:([.,])\d{3})(?:\1\d{3})*([.,])\d+")
_MANY_GROUPS = re.compile(r"\d{1,3}(?:([.,])\d{3})(?:\1\d{3})+")
_ONE_MARK = re.compile(r"(\d*)([.,])(\d+)")


class NumeralReading(msgspec.Struct, frozen=True, kw_only=True):
    """One value that a numeral may have; `is_usual` where it is what the reader's marks say."""

    value: Decimal
    is_usual: bool


def tidy(text: str) -> str:
    """The text in lower case, with plain digits, single spaces and spelt-out fractions.

    A text longer than any value comes back empty: it is none, and reading it would take long.
    """
    if len(text) > LONGEST:
        return ""
    plain = "".join(_plain(character) for character in text.strip())
    spaced = re.sub(r"(\d)\s*(?=[½¼¾⅓⅔⅛⅜⅝⅞])", r"\1 ", plain)
    compatible = unicodedata.normalize("NFKC", spaced).replace("\N{FRACTION SLASH}", "/")
    return re.sub(r"\s+", " ", compatible).strip().casefold()


def _plain(character: str) -> str:
    """A digit of any script as 0 to 9, and the Arabic and typographic marks as ours."""
    marks = {
        "\N{ARABIC DECIMAL SEPARATOR}": ".",
        "\N{ARABIC THOUSANDS SEPARATOR}": "'",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{MINUS SIGN}": "-",
    }
    if character in marks:
        return marks[character]
    value = unicodedata.decimal(character, None)
    return character if value is None else str(value)


def readings(numeral: str, decimal_mark: DecimalMark) -> tuple[NumeralReading, ...]:
    """All values a tidied numeral may have, the usual one first; empty when it is not a number.

    Args:
        numeral: Tidied text of the numeral alone.
        decimal_mark: Mark that begins decimals in the reader's language.
    """
    written = numeral.strip()
    if written.startswith("-"):
        return tuple(
            NumeralReading(value=-one.value, is_usual=one.is_usual)
            for one in readings(written[1:], decimal_mark)
        )
    if written.isdecimal():
        return (_unambiguous(written),)
    if fraction := _FRACTION.fullmatch(written):
        return _fraction(*fraction.groups())
    if grouped := _GROUPED.fullmatch(written):
        whole = re.sub(r"[ ']", "", grouped[1])
        return (_unambiguous(f"{whole}.{grouped[2] or 0}"),)
    if (two := _TWO_MARKS.fullmatch(written)) and two[1] != two[2]:
        return (_unambiguous(written.replace(two[1], "").replace(two[2], ".")),)
    if many := _MANY_GROUPS.fullmatch(written):
        return (_unambiguous(written.replace(many[1], "")),)
    if one := _ONE_MARK.fullmatch(written):
        return _one_mark(one[1], one[2], one[3], decimal_mark)
    return ()


def _unambiguous(digits: str) -> NumeralReading:
    return NumeralReading(value=Decimal(digits), is_usual=True)


def _fraction(whole: str | None, over: str, under: str) -> tuple[NumeralReading, ...]:
    if int(under) == 0:
        return ()
    return (
        NumeralReading(value=Decimal(whole or 0) + Decimal(over) / Decimal(under), is_usual=True),
    )


def _one_mark(
    before: str, mark: str, after: str, decimal_mark: DecimalMark
) -> tuple[NumeralReading, ...]:
    """Decimals, or thousands where exactly three digits follow up to three that do not begin 0."""
    decimals = Decimal(f"{before or 0}.{after}")
    group = "000"
    may_be_thousands = (
        len(after) == len(group) and 0 < len(before) <= len(group) and not before.startswith("0")
    )
    if not may_be_thousands:
        return (NumeralReading(value=decimals, is_usual=True),)
    thousands = Decimal(before + after)
    usual_is_decimal = mark == decimal_mark
    both = (
        NumeralReading(value=decimals, is_usual=usual_is_decimal),
        NumeralReading(value=thousands, is_usual=not usual_is_decimal),
    )
    return both if usual_is_decimal else both[::-1]
