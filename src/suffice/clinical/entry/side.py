"""The sides of a pair of breasts."""

from __future__ import annotations

from typing import Literal

from suffice.clinical.entry.field import Chosen
from suffice.message import message

Side = Literal["left", "right", "both"]
SIDE = Chosen(
    label=message("Side"),
    choices=(
        ("left", message("left")),
        ("right", message("right")),
        ("both", message("both sides")),
    ),
)
