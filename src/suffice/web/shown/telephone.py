"""The telephone number of a family, as its page and a handover show it."""

from __future__ import annotations

import re
import unicodedata
from datetime import datetime
from typing import NamedTuple

from suffice.clinical.entry import Record, Telephone
from suffice.clinical.entry.field import Chosen, fields_of
from suffice.web.shown.wording import in_words


class TelephoneShown(NamedTuple):
    """A number as it was written and as it is dialled; whose it is and when to call, in words."""

    number: str
    dialled: str
    says: str


def plain(number: str) -> str:
    """A number in digits of 0 to 9, as it is typed: copied ones bring other hyphens, spaces and marks not seen."""
    return "".join(_plain(one) for one in unicodedata.normalize("NFKC", number)).strip()


def _plain(character: str) -> str:
    digit = unicodedata.decimal(character, None)
    if digit is not None:
        return str(digit)
    # Dashes as one; marks of the direction of writing, which nobody sees, not at all.
    return {"Pd": "-", "Cf": "", "Zs": " "}.get(unicodedata.category(character), character)


def dialled(number: str) -> str:
    """What a telephone dials for a number as it was written; behind a country's the 0 in brackets is not dialled."""
    typed = plain(number)
    if not typed.startswith("+"):
        return re.sub(r"[^0-9]", "", typed)
    return "+" + re.sub(r"[^0-9]", "", re.sub(r"\(\s*0\s*\)", "", typed))


def telephone_of(record: Record, as_of: datetime) -> TelephoneShown | None:
    """The number of the family that is in use, the last one entered; None where there is none.

    Args:
        record: The whole record.
        as_of: The instant: numbers are entries and may be corrected or withdrawn.
    """
    found = [
        (entry.true_at, entry.entered_at, entry.fact)
        for entry in record.entries_at(as_of)
        if isinstance(entry.fact, Telephone)
    ]
    if not found:
        return None
    _, _, last = max(found, key=lambda one: one[:2])
    declared = fields_of(Telephone)["whose"]
    called = dict(declared.choices) if isinstance(declared, Chosen) else {}
    whose = in_words(called[last.whose]) if last.whose else ""
    says = ", ".join(part for part in (whose, last.calling) if part)
    return TelephoneShown(last.number, dialled(last.number), says)
