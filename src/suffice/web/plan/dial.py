"""A day on the clock as a page shows it: the dial, and each stretch of acts in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from django.utils.safestring import SafeString

from suffice.clinical.entry.clock import Act
from suffice.documents.clock import clock_drawing, stretches
from suffice.web.shown.wording import as_heading, in_words


class Dial(NamedTuple):
    """The dial and its rows: from when to when, and what."""

    drawing: SafeString
    rows: tuple[tuple[str, str], ...]


def dial_shown(acts: Sequence[Act], key: str) -> Dial | None:
    """A day; None where there is none. `key` sets its ids apart from those of another dial on the page."""
    if not acts:
        return None
    return Dial(
        # Every word of the drawing has been escaped by it.
        drawing=SafeString(clock_drawing(acts, in_words, f"clock-{key}")),
        rows=tuple((one.hours, as_heading(one.says)) for one in stretches(acts)),
    )
