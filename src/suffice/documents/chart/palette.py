"""The colours of charts, the same as the page's custom properties.

A chart that is an image cannot read the page's style sheet, so the few colours it needs stand here
once more; a test compares them with tokens.css.
"""

from __future__ import annotations

from typing import Final

import msgspec


class Palette(msgspec.Struct, frozen=True, kw_only=True):
    """What a chart is drawn with; each field has the name of its custom property."""

    paper: str
    ink: str
    ink_soft: str
    rule: str
    hair: str
    sunken: str
    link: str
    red: str


LIGHT: Final = Palette(
    paper="#fcfbf7",
    ink="#1b2220",
    ink_soft="#3f4945",
    rule="#7c857f",
    hair="#d8d5c9",
    sunken="#f3f1e9",
    link="#0a475f",
    red="#86130f",
)
DARK: Final = Palette(
    paper="#121614",
    ink="#f1efe7",
    ink_soft="#c6cbc5",
    rule="#838d87",
    hair="#38403c",
    sunken="#212725",
    link="#a3d6ec",
    red="#ffb9af",
)
PRINT: Final = Palette(
    paper="#ffffff",
    ink="#000000",
    ink_soft="#2b2b2b",
    rule="#6b6b6b",
    hair="#bdbdbd",
    sunken="#ffffff",
    link="#000000",
    red="#7a0f0b",
)
PALETTES: Final = {"light": LIGHT, "dark": DARK, "print": PRINT}
