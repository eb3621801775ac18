"""What is measured: what each quantity is called, stored in and written in, declared once.

Forms, tables, the time line and messages take all this from :data:`QUANTITIES`. Most quantities have
a reader of their own in :mod:`suffice.clinical.reading.reading`; one whose units differ by a factor
alone names its units here, and needs none.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import msgspec

from suffice.message import Message, message


class Unit(msgspec.Struct, frozen=True, kw_only=True):
    """A unit in which a quantity is written.

    Attributes:
        sign: As it is shown, and behind a value that must be read again exactly.
        spellings: How people write it, apart by '|', in small letters.
        factor: Content key of what a value in it is multiplied with to be stored; empty: with 1.
    """

    sign: str
    spellings: str = ""
    factor: str = ""


class Quantity(msgspec.Struct, frozen=True, kw_only=True):
    """One quantity.

    Attributes:
        called: What it is called in a sentence.
        example: How to write it, said where a text cannot be read.
        stored: Code of the unit in which it is stored, as the content store has it.
        units: In which a column of a table may stand; the first is the stored one.
        most: Content key of the highest possible value, where its units differ by a factor alone.
        is_time: Whether it is a length of time, which people write in more ways than one.
    """

    called: Message
    example: Message
    stored: str
    units: tuple[Unit, ...]
    most: str = ""
    is_time: bool = False


def _signs(*signs: str) -> tuple[Unit, ...]:
    return tuple(Unit(sign=sign) for sign in signs)


QUANTITIES: Final[Mapping[str, Quantity]] = {
    "weight": Quantity(
        called=message("weight"),
        example=message("Write it like 3280, 3.28 kg or 7 lb 4.5 oz."),
        stored="g",
        units=_signs("g", "kg", "lb", "oz"),
    ),
    "volume": Quantity(
        called=message("volume"),
        example=message("Write it like 60, 60 mL or 2 oz."),
        stored="mL",
        units=_signs("mL", "oz", "L"),
    ),
    "temperature": Quantity(
        called=message("temperature"),
        example=message("Write it like 36.8 or 98.2F."),
        stored="Cel",
        units=_signs("C", "F"),
    ),
    "length": Quantity(
        called=message("length"),
        example=message("Write it like 50, 50.5 cm or 19.7 in."),
        stored="cm",
        units=_signs("cm", "in", "mm"),
    ),
    "gestation": Quantity(
        called=message("gestation"),
        example=message("Write it like 38+2 or 38 weeks."),
        stored="d",
        units=_signs("days", "weeks"),
        is_time=True,
    ),
    "duration": Quantity(
        called=message("duration"),
        example=message("Write it like 20, 20 min or 1 h 30."),
        stored="min",
        units=_signs("min", "hours"),
        is_time=True,
    ),
    "bilirubin": Quantity(
        called=message("bilirubin"),
        example=message("Write it like 12.3 mg/dL or 210 µmol/L."),
        stored="umol/L",
        units=(
            Unit(sign="µmol/L", spellings="µmol/l|umol/l|µmol|umol"),
            Unit(sign="mg/dL", spellings="mg/dl|mg dl|mgdl", factor="bilirubin.mg_per_dl_factor"),
        ),
        most="bilirubin.refused_umol_per_l",
    ),
}
"""Every quantity by its name in a declaration. Hours, which a form takes as a plain number, are none."""


def keys_asked() -> tuple[str, ...]:
    """The content keys that the quantities name."""
    factors = [unit.factor for one in QUANTITIES.values() for unit in one.units]
    return tuple(key for key in (*factors, *(one.most for one in QUANTITIES.values())) if key)
