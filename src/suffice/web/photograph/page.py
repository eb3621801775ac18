"""A reading of a photograph in words, and the marks as they are typed and sent."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

from django.utils.translation import gettext as _

from suffice.assess.parameters import CareParameters
from suffice.care.contact.one_latch import Photo, of_one_latch, standing_photos
from suffice.care.contact.visit import Visit
from suffice.clinical.entry import Record
from suffice.clinical.latch.mark import (
    NAMES,
    NEEDED,
    PLACES,
    Mark,
    Place,
    mark_problems,
)
from suffice.errors import InputError, Problem
from suffice.inference.feed.reading import Between
from suffice.inference.latch.reading import (
    Help,
    LatchReading,
    Photographed,
    Why,
    Wide,
    read_latch,
)
from suffice.message import message
from suffice.web.shown.wording import Wording, as_heading

LONGEST_CHARACTERS = 400
"""Of the marks of one place as they are sent."""
_NUMBER = re.compile(r"-?\d{1,6}(?:\.\d{1,4})?")


class PlaceShown(NamedTuple):
    """One place that can be marked."""

    key: str
    name: str
    marks: str
    is_needed: bool


class MeasureShown(NamedTuple):
    """One measure with its interval."""

    name: str
    value: str
    between: str


class ReadingShown(NamedTuple):
    """What a photograph says."""

    says: str
    kind: str
    why: str
    first: Sequence[MeasureShown]
    others: Sequence[MeasureShown]
    notes: Sequence[str]
    helps: Sequence[str]
    level: int


def slug(place: Place) -> str:
    """A place as its field is called."""
    return "mark-" + place.replace(" ", "-")


def places_shown(marks: Sequence[Mark], sent: Mapping[str, str] | None = None) -> list[PlaceShown]:
    """The places with their marks: as they were sent, or as they stand on the record."""
    found = []
    for place in PLACES:
        own = "; ".join(f"{m.x:g} {m.y:g}" for m in marks if m.place == place)
        typed = own if sent is None else sent.get(slug(place), "")[:LONGEST_CHARACTERS]
        name = as_heading(NAMES[place])
        found.append(PlaceShown(slug(place), name, typed, place in NEEDED))
    return found


def marks_of(sent: Mapping[str, str]) -> tuple[Mark, ...]:
    """The marks that were sent: 'x y' in pixels, several of one place apart by ';'.

    Raises:
        InputError: MARK-005.
    """
    found: list[Mark] = []
    problems: list[Problem] = []
    for place in PLACES:
        text = sent.get(slug(place), "")
        for one in filter(None, (part.strip() for part in text.split(";"))):
            pair = one.replace(",", " ").split()
            is_pair = len(pair) == 2 and all(_NUMBER.fullmatch(number) for number in pair)
            if not is_pair or len(text) > LONGEST_CHARACTERS:
                problems.append(_unread(one, place))
                break
            found.append(Mark(place=place, x=float(pair[0]), y=float(pair[1])))
    if problems:
        raise InputError(*problems)
    return tuple(found)


def _unread(text: str, place: Place) -> Problem:
    return Problem(
        code="MARK-005",
        what=message("'{text}' for {place}", text=text[:40], place=NAMES[place]),
        why=message("is no place in the picture."),
        fix=message("Write pixels from the left and from the top, as 640 412."),
        where="marks",
    )


class Readings(NamedTuple):
    """What a photograph says, and what it says together with the other one of the same latch.

    `waits_for` is the other one where its marks are still missing.
    """

    together: ReadingShown | None
    alone: ReadingShown | None
    waits_for: UUID | None


def readings_shown(
    photo: Photo,
    together: Sequence[Photo],
    parameters: CareParameters,
    wording: Wording,
    *,
    can_add: bool,
) -> Readings:
    """What a photograph says alone and with the other one of the same latch.

    Args:
        photo: The photograph.
        together: It and the other one of the same latch, oldest first.
        parameters: Of the content.
        wording: How numbers are written.
        can_add: Whether a second photograph can still be added, so that it may be asked for.
    """
    read = [one for one in together if _is_marked(one, parameters)]
    unread = [one.entry.id for one in together if one not in read and one != photo]
    alone = None
    if photo in read:
        alone = reading_shown([_photographed(photo)], parameters, wording, can_add=can_add)
    if photo not in read or len(read) < 2:
        return Readings(None, alone, unread[0] if unread else None)
    both = reading_shown([_photographed(one) for one in read], parameters, wording)
    # What would help is said once: of both.
    return Readings(both, alone and alone._replace(helps=()), None)


def _is_marked(photo: Photo, parameters: CareParameters) -> bool:
    size = (photo.picture.width_count, photo.picture.height_count)
    return not mark_problems(photo.fact.marks, size, parameters.mark_limits)


def _photographed(photo: Photo) -> Photographed:
    return Photographed(photo.fact.marks, photo.fact.view, photo.fact.hidden)


def reading_shown(
    photos: Sequence[Photographed],
    parameters: CareParameters,
    wording: Wording,
    *,
    can_add: bool = False,
) -> ReadingShown:
    """What photographs of one latch say; `can_add`: a second one can be asked for."""
    found = read_latch(photos, parameters.latch_photograph)
    limit = round(parameters.latch_photograph.wide_deg.value)

    def measure(name: str, one: Between, digits: int, unit: str = "") -> MeasureShown:
        def number(value: float) -> str:
            return wording.number(value, digits)

        return MeasureShown(
            name, f"{number(one.value)}{unit}", f"{number(one.low)} – {number(one.high)}{unit}"
        )

    first = [measure(_("Opening ratio"), found.opening_ratio, 2)]
    if found.areola_share is not None:
        share = measure(_("Areola share above"), found.areola_share, 2)
        if found.share_is_least:
            least = _("at least %(share)s") % {
                "share": wording.number(math.floor(found.areola_share.low * 100) / 100, 2)
            }
            share = MeasureShown(share.name, least, "")
        first.append(share)
    others = [measure(_("Gape angle, seen from the side"), found.gape_deg, 0, "°")]
    for name, gap in (
        (_("Nose to breast"), found.nose_gap_mm),
        (_("Chin to breast"), found.chin_gap_mm),
    ):
        if gap is not None:
            others.append(measure(name, gap, 0, " mm"))
    return ReadingShown(
        says=_says(found, limit),
        kind=found.wide.value.replace(" ", "-"),
        why=_why(found),
        first=first,
        others=others,
        # They speak of one picture: where two are read they stand with each.
        notes=_notes(found, wording) if len(photos) == 1 else [],
        helps=list(_helps(found.helps, can_add=can_add)),
        level=round(100 * parameters.latch_photograph.level_fraction.value),
    )


def _says(found: LatchReading, limit: int) -> str:
    sentences = {
        Wide.CLEAR: _("Clear: the gape angle is very likely %(limit)d° or more."),
        Wide.BORDERLINE: _("Borderline: the gape angle is near %(limit)d°."),
        Wide.SHORT: _("Short: the gape angle is very likely below %(limit)d°."),
        Wide.CANNOT_TELL: _(
            "Cannot tell from this view whether the gape angle reaches %(limit)d°."
        ),
    }
    return sentences[found.wide] % {"limit": limit}


def _why(found: LatchReading) -> str:
    if found.why is Why.BEHIND:
        return _("The picture is taken from behind the mouth: its corner is in front of the lips.")
    if found.why is Why.TURNED:
        return _("The camera may be too far from the side.")
    return _("The interval is too wide.") if found.why is Why.WIDE else ""


def _notes(found: LatchReading, wording: Wording) -> list[str]:
    turn = found.turn_deg
    toward = _("toward the front") if turn.value > 0 else _("toward the back")
    notes = [
        _("The camera was %(turn)s° from the side, %(toward)s (%(low)s to %(high)s).")
        % {
            "turn": wording.number(abs(turn.value), 0),
            "toward": toward,
            "low": wording.number(turn.low, 0),
            "high": wording.number(turn.high, 0),
        }
    ]
    if found.is_side is False:
        notes.append(
            _(
                "'From the side' was not used: two of wing, eye and ear have to be marked, and to agree with it."
            )
        )
    notes.append(
        _(
            "With a protractor on the picture the angle is %(angle)s°: right only in a pure side view."
        )
        % {"angle": wording.number(found.in_picture.gape_deg, 0)}
    )
    return notes


def _helps(helps: Sequence[Help], *, can_add: bool) -> Iterator[str]:
    """What would help, the most helpful first."""
    words = {
        Help.RIGID: _("Mark wing of the nose, corner of the eye and ear."),
        Help.REPEATS: _("Mark both lips and the corner of the mouth three times."),
        Help.SIDE_VIEW: _("Take it from the side, level with the mouth."),
    }
    if can_add:
        words[Help.SECOND_PHOTO] = _("Photograph the same latch again.")
    return (words[one] for one in helps if one in words)


class Linked(NamedTuple):
    """A photograph of a contact, as a link to it."""

    id: UUID
    name: str


def photographs_of(
    record: Record, visit: Visit, names: Mapping[UUID | None, str], wording: Wording
) -> list[Linked]:
    """The photographs of a contact."""
    return [
        Linked(one.entry.id, _name(record, one, names, wording))
        for one in standing_photos(record)
        if one.fact.contact_id == visit.id
    ]


def _name(record: Record, photo: Photo, names: Mapping[UUID | None, str], wording: Wording) -> str:
    name = f"{names.get(photo.entry.infant_id, '')}, {wording.when(photo.entry.true_at)}"
    first = of_one_latch(record, photo)[0]
    if first == photo:
        return name
    return _("%(name)s, the same latch as %(first)s") % {
        "name": name,
        "first": wording.when(first.entry.true_at),
    }
