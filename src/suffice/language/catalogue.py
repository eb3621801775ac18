"""What the rooms say in English, in another language: one catalogue a language, as gettext reads it.

The clinical and inference rooms speak English and know no settings. :mod:`suffice.language.text`
looks up the template of each message here; what is not in the catalogue stays as it is, for an
English sentence is better than none.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path
from typing import Final, Literal

from suffice.clinical.reading.numeral import DecimalMark

FOLDER: Final = Path(__file__).parent / "locale"
SOURCE: Final = "en"
MARKS: Final[Mapping[str, DecimalMark]] = {"en": ".", "es": ","}

Unreviewed = Literal["none", "part", "all"]


def decimal_mark(language: str) -> DecimalMark:
    """The mark before decimals."""
    return MARKS.get(language, ".")


def translated(template: str, language: str, *, plural: str = "", count: int = 1) -> str:
    """The template of a message in a language; the English one where the catalogue lacks it.

    Args:
        template: The English template.
        language: The language.
        plural: The English template of more than one; empty where there is only one form.
        count: How many there are, which decides on the form.
    """
    found = catalogue(language)
    return found.ngettext(template, plural, count) if plural else found.gettext(template)


def unreviewed(language: str) -> Unreviewed:
    """How much of a translation no qualified reader has reviewed; none of the source language."""
    head = catalogue(language).info()
    count, whole = (int(head.get(name, 0)) for name in ("x-unreviewed", "x-messages"))
    return "none" if not count else "all" if count == whole else "part"


@lru_cache(maxsize=8)
def catalogue(language: str) -> NullTranslations:
    """The compiled catalogue of a language; an empty one for the source language."""
    path = FOLDER / language / "LC_MESSAGES" / "django.mo"
    if language == SOURCE or not path.exists():
        return NullTranslations()
    with path.open("rb") as compiled:
        return GNUTranslations(compiled)
