"""Papers in a language that is not offered to clinics yet: a proof, marked as such in two languages.

A draft has its own small catalogue (``language/locale/<language>``), of exactly what its papers say. It shows
that a paper reads from the right; it is not handed to a family.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from suffice.documents.page import Box, Paragraph, Run
from suffice.documents.speaker import Speaker
from suffice.message import message

DRAFTS: Final[Mapping[str, frozenset[str]]] = {"ar": frozenset({"waking"})}
"""Language to the keys of the teaching sheets that it has."""
NAMES: Final[Mapping[str, str]] = {"ar": "العربية"}
"""What each of them is called by who reads it."""
MARK: Final = message("Draft, not reviewed. Do not give it to a family.")


def is_draft(language: str) -> bool:
    """Whether a language is a draft."""
    return language in DRAFTS


def drafts_of(sheet: str) -> tuple[tuple[str, str], ...]:
    """The drafts that there are of a sheet: each language with its name."""
    return tuple((one, NAMES[one]) for one, sheets in DRAFTS.items() if sheet in sheets)


def draft_mark(speaker: Speaker) -> Box:
    """That a paper is a draft, in its own language and in English."""
    english = Run(MARK.template, bold=True, language="en")
    return Box((Paragraph(speaker.say(MARK, bold=True)), Paragraph((english,))), heavy=True)
