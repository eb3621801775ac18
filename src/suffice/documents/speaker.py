"""Messages as a paper says them: number and unit together, and nothing turns the direction of its neighbours.

A name in Arabic inside an English sentence would pull the number behind it to its other side. So where
a text holds letters that are read from the right, whatever was typed with them, and each number with its
unit, is set apart by the marks of Unicode for that (UAX 9, isolates). Elsewhere there is nothing to set
apart, and the text of the file stays free of marks.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from typing import Final

import msgspec

from suffice.clinical.reading.writing import NO_BREAK_SPACE
from suffice.documents.page import Run, Runs
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of, upper_first
from suffice.message import Listed, Message, Param, Words

ISOLATED: Final = "\N{FIRST STRONG ISOLATE}{}\N{POP DIRECTIONAL ISOLATE}"
LEFT_TO_RIGHT: Final = "\N{LEFT-TO-RIGHT ISOLATE}{}\N{POP DIRECTIONAL ISOLATE}"
RIGHT_TO_LEFT: Final = "\N{RIGHT-TO-LEFT ISOLATE}{}\N{POP DIRECTIONAL ISOLATE}"
FROM_THE_RIGHT: Final = frozenset({"ar"})
"""Languages that are read from the right."""
MARKS: Final = frozenset("\u2066\u2067\u2068\u2069")
FIRST_FROM_THE_RIGHT: Final = "\u0590"
"""No letter before this one, the first of Hebrew, is read from the right (Unicode, DerivedBidiClass)."""
STAR: Final = "*"
TYPED_STAR: Final = "\ue000"
"""Stands for a star that somebody typed, while ours are looked for; nobody can type it: see `typed`."""
SIGNS: Final = "+\N{MINUS SIGN}"
NUMBER: Final = re.compile(
    # A time of day has no unit: the word behind it may begin the next line.
    rf"[{SIGNS}]?(?<![\w.,])\d+(?::\d+(?::\d+)?|(?:[.,/+]\d+)*"
    rf"(?:[ {NO_BREAK_SPACE}](?:[^\W\d_]|[%°µ])[^\s.,;:!?()،؛؟\u2066-\u2069]*)?)"
)
"""A number, and the word behind it: its unit, or what is counted."""


class Speaker(msgspec.Struct, frozen=True):
    """How one paper speaks.

    Attributes:
        policy: The clinic's policy, in the language of the paper. It is read later: every instant has its date.
    """

    policy: Policy

    def text(self, words: Words) -> str:
        """A message in words; what somebody typed is set apart, numbers keep their units."""
        return self._text(words).replace(TYPED_STAR, STAR)

    def say(self, words: Words, *, bold: bool = False) -> Runs:
        """The same as one piece of text that begins with a capital."""
        return (Run(upper_first(self.text(words)), bold),)

    def emphasised(self, *sentences: Message) -> Runs:
        """Sentences one after another, of which what stands between two stars is read first.

        The stars stand in our own sentence and in its translation; one that somebody typed is a letter
        like any other.
        """
        runs: list[Run] = []
        for one in sentences:
            runs += [Run(" ")] if runs else []
            for place, text in enumerate(self._text(one).split(STAR)):
                if text:
                    runs.append(Run(text.replace(TYPED_STAR, STAR), bold=place % 2 == 1))
        return tuple(runs)

    def _text(self, words: Words) -> str:
        is_turned = self.policy.language in FROM_THE_RIGHT
        isolate = _set_apart if is_turned else _letters
        isolated = isolate(words) if isinstance(words, str) else _isolated(words, isolate)
        return bound(text_of(isolated, self.policy))

    def sentences(self, parts: Iterable[Words]) -> Runs:
        """Several of them one after another."""
        return (Run(" ".join(upper_first(self.text(one)) for one in parts if one)),)


def typed(text: str) -> str:
    """What somebody typed, in one line; where it is read from the right it turns nothing else."""
    kept = "".join(
        " " if letter in "\t\n\r" else letter
        for letter in unicodedata.normalize("NFC", text)
        if letter in "\t\n\r\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}"
        or unicodedata.category(letter) not in {"Cc", "Cf", "Cs", "Co", "Cn"}
    )
    plain = " ".join(kept.split())
    return ISOLATED.format(plain) if turns(plain) else plain


def _letters(text: str) -> str:
    return typed(text).replace(STAR, TYPED_STAR)


def _set_apart(text: str) -> str:
    """What somebody typed, in a text that is read from the right: a number to call keeps its order."""
    letters = _letters(text)
    return letters if turns(text) or not letters else ISOLATED.format(letters)


def turns(text: str) -> bool:
    """Whether a text has letters that are read from the right."""
    if not text or max(text) < FIRST_FROM_THE_RIGHT:
        return False
    return any(unicodedata.bidirectional(letter) in {"R", "AL"} for letter in text)


def plain(text: str) -> str:
    """A text without the marks that set its parts apart."""
    return "".join(letter for letter in text if letter not in MARKS)


def bound(text: str) -> str:
    """A text in which a line never ends between a number and what follows it."""
    if not turns(text):
        return NUMBER.sub(lambda found: found[0].replace(" ", NO_BREAK_SPACE), text)
    return NUMBER.sub(lambda found: _apart(found[0].replace(" ", NO_BREAK_SPACE)), text)


def _apart(number: str) -> str:
    """A number with its unit, in the direction of the unit: hours in Arabic stand to the left of it."""
    return (RIGHT_TO_LEFT if turns(number) else LEFT_TO_RIGHT).format(number)


def _isolated(words: Message, isolate: Callable[[str], str]) -> Message:
    """The same message with all that was typed set apart."""
    params = tuple((name, _param(value, isolate)) for name, value in words.params)
    return msgspec.structs.replace(words, params=params)


def _param(value: Param, isolate: Callable[[str], str]) -> Param:
    if isinstance(value, str):
        return isolate(value)
    if isinstance(value, Message):
        return _isolated(value, isolate)
    if isinstance(value, Listed):
        parts = tuple(_param(one, isolate) for one in value.parts)
        return msgspec.structs.replace(value, parts=parts)
    return value
