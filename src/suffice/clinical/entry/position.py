"""How an infant is held at the breast, as it is seen at a feed and as a plan has it."""

from __future__ import annotations

from typing import Final, Literal

from suffice.clinical.entry.field import Chosen
from suffice.message import message

Position = Literal["cradle", "cross-cradle", "under the arm", "side-lying", "laid back", "upright"]

POSITION: Final = Chosen(
    label=message("Position"),
    choices=(
        ("cradle", message("cradle")),
        ("cross-cradle", message("cross-cradle")),
        ("under the arm", message("under the arm")),
        ("side-lying", message("side-lying")),
        ("laid back", message("laid back")),
        ("upright", message("upright")),
    ),
)
