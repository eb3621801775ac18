"""Papers that a contact may owe beside plan, note and letter, each by one link: labels, the shift's hand-over, the class kit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import NamedTuple
from urllib.parse import urlencode
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from suffice.care.milk.on_hand import on_hand
from suffice.clinical.entry import Record
from suffice.knowledge.store import Content


class OtherPaper(NamedTuple):
    """What a link is called, and where it leads."""

    name: str
    link: str


def other_papers(
    alive: Record,
    names: Mapping[UUID | None, str],
    content: Content,
    now: datetime,
    *,
    is_class: bool,
) -> Iterator[OtherPaper]:
    """The links.

    Args:
        alive: The record, with the infants that are alive.
        names: What each infant is called.
        content: The content in force.
        now: When it is looked at.
        is_class: Whether the contact is a class, whose kit has its own button.
    """
    family = [alive.family_id]
    is_kept = False
    for infant in alive.infants:
        if not on_hand(alive, infant.id, content, now=now).containers:
            continue
        is_kept = True
        name = _("Labels (paper)")
        if len(alive.infants) > 1:
            name = f"{name}: {names[infant.id]}"
        query = urlencode({"infant": infant.id})
        yield OtherPaper(name, f"{reverse('milk-labels', args=family)}?{query}")
    if not is_kept and alive.infants:
        yield OtherPaper(_("Milk on hand"), reverse("milk", args=family))
    yield OtherPaper(_("Hand-over of the shift (paper)"), reverse("shift"))
    if not is_class:
        yield OtherPaper(_("Kit of a parents' class"), reverse("class-kit"))
