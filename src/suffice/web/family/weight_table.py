"""The rows of the table of weights of one infant."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _

from suffice.assess.results import WeightRow
from suffice.clinical.growth.standard import STANDARDS
from suffice.web.shown.fact import value_word
from suffice.web.shown.wording import Wording, in_words


class WeightShown(msgspec.Struct, frozen=True, kw_only=True):
    """One row of the table of weights."""

    entry_id: UUID
    at: datetime
    age: str
    weight: str
    change: str
    change_24h: str
    z: str
    centile: str
    standard: str
    state: str
    scale: str
    doubt: str


def weight_shown(row: WeightRow, suspects: Mapping[str, float], wording: Wording) -> WeightShown:
    """One of them; `suspects` are the weights that the engine doubts, each with its probability."""
    state = [value_word(row.clothing), value_word(row.feed_state)]
    p_wrong = suspects.get(str(row.entry_id))
    doubt = ""
    if p_wrong is not None:
        doubt = _("in doubt (%(percent)s)") % {"percent": wording.chance(p_wrong)}
    return WeightShown(
        entry_id=row.entry_id,
        at=row.at,
        age=wording.age(row.age_h),
        weight=str(wording.weight(row.weight_g)),
        change=_percent(row.change_percent, wording),
        change_24h=_percent(row.change_from_24h_percent, wording),
        z="" if row.z is None else wording.number(row.z, 2),
        centile="" if row.centile is None else wording.number(row.centile, 1),
        standard=in_words(STANDARDS[row.standard]) if row.standard else "",
        state=", ".join(word for word in state if word),
        scale=row.scale or "",
        doubt=doubt,
    )


def _percent(value: float | None, wording: Wording) -> str:
    return "" if value is None else f"{wording.change(value)}\u00a0%"
