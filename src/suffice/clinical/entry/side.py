"""What a feed and a test weight have in common: the side, and how long it took."""

from __future__ import annotations

from typing import Literal

from suffice.clinical.entry.field import Chosen
from suffice.message import message

Side = Literal["left", "right", "both"]
SIDE = Chosen(
    label=message("Side"),
    column="side|breast|lado",
    choices=(
        ("left", message("left")),
        ("right", message("right")),
        ("both", message("both sides")),
    ),
)
MINUTES = "minutes|duration|feed duration|feed minutes|minutos|duracion"
"""What a column with the minutes of a feed may be called."""
