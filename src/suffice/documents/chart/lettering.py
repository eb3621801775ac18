"""How much room a label takes, and where it is broken into lines.

A drawing is laid out on the server and shown in whatever face the reader has, so widths are
estimated from above: each letter as wide as the widest of the common plain faces draws it.
"""

from __future__ import annotations

from typing import Final

import msgspec

FONT_PX: Final = 12.5
"""Height of the type in a drawing; no drawing is shown so small that it falls below 12 px."""
LINE_PX: Final = 15.0
EM_OF: Final = {
    **dict.fromkeys("iljI|'.,:;!", 0.34),
    **dict.fromkeys("ftr()[]/ \N{NO-BREAK SPACE}-", 0.42),
    **dict.fromkeys("mwMW%@", 1.00),
    **dict.fromkeys("0123456789", 0.64),
}
"""Width of letters in parts of the height of the type."""
CAPITAL_EM: Final = 0.79
LETTER_EM: Final = 0.64
WIDE_EM: Final = 1.05
FIRST_WIDE: Final = "\u1100"
"""Scripts from here on write letters as wide as they are high."""


class Label(msgspec.Struct, frozen=True):
    """A label as it is set: its lines, from the top."""

    lines: tuple[str, ...]

    @property
    def width_px(self) -> float:
        """Width of its widest line."""
        return max(width_px(line) for line in self.lines)

    @property
    def height_px(self) -> float:
        """Height of all its lines."""
        return LINE_PX * len(self.lines)


def width_px(text: str) -> float:
    """The most that a text takes in one line."""
    return FONT_PX * sum(_em(letter) for letter in text)


def set_within(text: str, most_px: float) -> Label:
    """A text broken at its spaces so that each line takes `most_px`; a word is never broken."""
    lines: list[str] = []
    for word in text.split(" "):
        together = f"{lines[-1]} {word}" if lines else word
        if lines and width_px(together) <= most_px:
            lines[-1] = together
        else:
            lines.append(word)
    return Label(tuple(lines))


def _em(letter: str) -> float:
    if letter in EM_OF:
        return EM_OF[letter]
    if letter >= FIRST_WIDE and not letter.isascii():
        return WIDE_EM if letter.isalpha() else LETTER_EM
    return CAPITAL_EM if letter.isupper() else LETTER_EM
