"""The grid of a log in words: heads, boxes with what was read of them, and what it comes to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import msgspec
from django.forms.boundfield import BoundField
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from suffice.care.home_log.entering import Placed
from suffice.care.home_log.reading import Reading
from suffice.clinical.entry import Expression, Feed, FeedCount, Stool, Wet
from suffice.documents.home_log import HEADS
from suffice.inference.home_log import grid
from suffice.web.fields.doubt import Doubt
from suffice.web.home_log.forms import LogForm
from suffice.web.shown.fact import value_word
from suffice.web.shown.wording import Wording, as_heading


class BoxShown(msgspec.Struct, frozen=True, kw_only=True):
    """A box: its field, what it is called for who does not see the grid, and what was read of it."""

    field: BoundField
    name: str
    crop: str = ""
    is_unsure: bool = False
    is_read: bool = False
    is_amount: bool = False


class RowShown(msgspec.Struct, frozen=True, kw_only=True):
    """A row: its hour, its boxes, what is wrong in it and what is asked about it."""

    hour: str
    boxes: tuple[BoxShown, ...]
    errors: tuple[str, ...]
    doubts: tuple[Doubt, ...]


def heads() -> tuple[str, ...]:
    """What heads the columns, as on paper."""
    return tuple(as_heading(HEADS[one.name]) for one in grid.COLUMNS)


def rows_shown(form: LogForm, reading: Reading | None) -> tuple[RowShown, ...]:
    """The rows of a grid.

    Args:
        form: The grid as a form.
        reading: What was read from a photograph; None where it was typed.
    """
    read = {(one.row, one.name): one for one in reading.boxes} if reading else {}
    found = []
    for row in range(grid.ROWS):
        boxes = []
        for column in grid.COLUMNS:
            seen = read.get((row, column.name))
            field = form[f"{column.name}-{row}"]
            name = f"{grid.hour_of(row)}:00, {as_heading(HEADS[column.name])}"
            field.field.widget.attrs["aria-label"] = name
            boxes.append(
                BoxShown(
                    field=field,
                    name=name,
                    crop="" if seen is None else seen.crop,
                    is_unsure=seen is not None and not seen.is_sure,
                    is_read=seen is not None,
                    is_amount=column.kind == "amount",
                )
            )
        names = [one.field.name for one in boxes]
        found.append(
            RowShown(
                hour=f"{grid.hour_of(row)}:00",
                boxes=tuple(boxes),
                errors=tuple(f"{box.name}: {error}" for box in boxes for error in box.field.errors),
                doubts=tuple(form.doubts[name] for name in names if name in form.doubts),
            )
        )
    return tuple(found)


def summary_of(entries: Sequence[Placed], wording: Wording) -> tuple[str, ...]:
    """What a log comes to, a line a kind: what is compared with the sheet before it is saved."""
    return tuple(_lines([one.entry.fact for one in entries], wording))


def _lines(facts: Sequence[object], wording: Wording) -> Iterator[str]:
    breast = Counter(one.side for one in facts if isinstance(one, Feed) and one.milk == "breast")
    if breast:
        sides = ", ".join(
            f"{value_word(side)} {count}" for side, count in sorted(breast.items(), key=str)
        )
        yield _("At the breast: %(n)s (%(sides)s)") % {"n": breast.total(), "sides": sides}
    given: dict[str, list[float | None]] = {}
    for one in facts:
        if isinstance(one, Feed) and one.milk != "breast":
            given.setdefault(one.milk, []).append(one.volume_ml)
    for milk, amounts in given.items():
        known = [amount for amount in amounts if amount is not None]
        text = ngettext(
            "%(milk)s: %(n)s feed, %(amount)s in all",
            "%(milk)s: %(n)s feeds, %(amount)s in all",
            len(amounts),
        )
        open_ = _(", %(n)s without an amount") % {"n": len(amounts) - len(known)}
        yield text % {
            "milk": value_word(milk).capitalize(),
            "n": len(amounts),
            "amount": wording.volume(sum(known)),
        } + (open_ if len(known) < len(amounts) else "")
    sessions = [one for one in facts if isinstance(one, Expression)]
    if sessions:
        left = sum(one.left_ml or 0 for one in sessions)
        right = sum(one.right_ml or 0 for one in sessions)
        yield _("Expression sessions: %(n)s, left %(left)s, right %(right)s") % {
            "n": len(sessions),
            "left": wording.volume(left),
            "right": wording.volume(right),
        }
    wets = [one for one in facts if isinstance(one, Wet)]
    if wets:
        yield _("Wet diapers: %(n)s") % {"n": sum(one.count for one in wets)}
    stools = [one for one in facts if isinstance(one, Stool)]
    if stools:
        colours = Counter[str]()
        for one in stools:
            colours[value_word(one.colour)] += one.count
        text = ", ".join(f"{colour} {count}" for colour, count in colours.items() if colour)
        count = sum(one.count for one in stools)
        yield _("Stools: %(n)s") % {"n": count} + (f" ({text})" if text else "")
    for one in facts:
        if isinstance(one, FeedCount):
            yield _("Feeds of the 24 hours: %(n)s") % {"n": one.count}
