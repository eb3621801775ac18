"""What is drawn on breast and nipple: today's findings, those of the last look, and what changed, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final, Literal, NamedTuple

import msgspec

from suffice.care.contact.visit import Visit
from suffice.clinical.entry import Entry, Observation, Side
from suffice.clinical.entry.observation import BETWEEN
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content
from suffice.message import Amount, Listed, Message, Param, Words, message
from suffice.web.contact.clock_face import (
    EDGE,
    HOURS,
    REACH_CM,
    Field,
    breast_fields,
    nipple_fields,
    place_of,
    point,
    where,
)
from suffice.web.contact.page import SIDE_NAMES
from suffice.web.shown.wording import Wording, as_heading, in_words

NONE: Final = "none"
AS_SEEN: Final[tuple[Side, Side]] = ("right", "left")
"""The order of the two sides as the consultant sees them from the front."""
SMALLEST_RING: Final = 5.0
"""Least radius of a lump's ring, in units of the drawing: smaller cannot be seen on a phone."""
HOUR_AT: Final = 110.0
"""How far from the middle the hours are written, in units of the drawing."""

RED, RED_CM, RED_CM2 = "red_where", "red_cm", "red_cm2"
CLOCK, FROM_NIPPLE, WIDTH = "lump_clock", "lump_from_nipple_cm", "lump_cm"
HARM, PLACE, SHARE = "harm_clock", "harm_place", "harm_percent"
PLACES: Final = frozenset({CLOCK, FROM_NIPPLE})
"""Numbers that say where something is: another one is neither larger nor smaller."""


class Figure(NamedTuple):
    """A number that belongs to a drawing: the gap that it fills, and the words round it."""

    gap: Callable[[float], Param]
    says: Callable[[Param], Message]


class Drawn(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that is drawn.

    Attributes:
        asked_by: The observation that says whether there is any; 'none' takes the drawing's place.
        name: What it is called.
        fields: The observations whose choices are fields of the drawing.
        numbers: The observations that are numbers, and how each is said.
        open: What is asked where something is drawn and there is no answer.
    """

    asked_by: str
    name: Message
    fields: tuple[str, ...]
    numbers: Mapping[str, Figure]
    open: Message


def _cm(value: float) -> Amount:
    return Amount(value, "cm")


def _percent(value: float) -> Amount:
    return Amount(value, "%", 0)


def _hour(value: float) -> Message:
    return message("{hour} o'clock", hour=round(value))


DRAWN: Final[Mapping[str, tuple[Drawn, ...]]] = {
    "breast": (
        Drawn(
            asked_by="redness",
            name=message("Redness"),
            fields=(RED,),
            numbers={
                RED_CM: Figure(_cm, lambda gap: message("largest extent {length}", length=gap)),
                RED_CM2: Figure(
                    lambda value: Amount(value, "cm2"), lambda gap: message("area {area}", area=gap)
                ),
            },
            open=message("Redness is drawn; 'redness of the breast' has no answer yet."),
        ),
        Drawn(
            asked_by="lump",
            name=message("Lump"),
            fields=(),
            numbers={
                CLOCK: Figure(_hour, lambda gap: message("{place}", place=gap)),
                FROM_NIPPLE: Figure(
                    _cm, lambda gap: message("{length} from the nipple", length=gap)
                ),
                WIDTH: Figure(_cm, lambda gap: message("{length} wide", length=gap)),
            },
            open=message("A lump is drawn; 'lump by feel' has no answer yet."),
        ),
    ),
    "nipple": (
        Drawn(
            asked_by="nipple_harm",
            name=message("Damage"),
            fields=(HARM, PLACE),
            numbers={
                SHARE: Figure(_percent, lambda gap: message("{share} of the nipple", share=gap)),
            },
            open=message("Damage is drawn; 'damage of the nipple' has no answer yet."),
        ),
    ),
}
"""What is drawn on each drawing."""


class Outlined(NamedTuple):
    """A field as it is drawn: `is_now` today, `was` at the last look."""

    what: str
    key: str
    outline: str
    is_now: bool
    was: bool


class Ring(NamedTuple):
    """A lump, in units of the drawing."""

    x: float
    y: float
    radius: float


class Line(NamedTuple):
    """One line of words below a drawing."""

    name: str
    says: str


class Doubt(NamedTuple):
    """What is drawn and has no answer, and the question to go to."""

    says: str
    what: str


class Drawing(NamedTuple):
    """One side of a drawing."""

    map: str
    side: str
    side_name: str
    fields: tuple[Outlined, ...]
    hours: tuple[tuple[int, float, float], ...]
    lump: Ring | None
    lump_was: Ring | None
    lines: tuple[Line, ...]
    doubts: tuple[Doubt, ...]


def drawings(
    visit: Visit, part: str, content: Content, wording: Wording, now: datetime
) -> list[Drawing]:
    """The drawings of a part, right and left; none for a part that has none."""
    return [
        _drawing(visit, key, side, content, wording, now)
        for key in _maps_of(part, content)
        for side in AS_SEEN
    ]


def _maps_of(part: str, content: Content) -> list[str]:
    words = content.vocabularies[FOLDER].values()
    found = {one.map for one in words if isinstance(one, Observable) and one.part == part}
    return [key for key in DRAWN if key in found]


def all_doubts(visit: Visit, content: Content, part: str) -> list[Doubt]:
    """What is drawn and has no answer, in a whole part."""
    return [
        doubt
        for key in _maps_of(part, content)
        for side in AS_SEEN
        for doubt in doubts_of(visit, key, side)
    ]


def is_drawn(one: Drawing) -> bool:
    """Whether anything is drawn, today or at the last look."""
    return bool(one.lines or one.doubts)


def _drawing(
    visit: Visit, key: str, side: Side, content: Content, wording: Wording, now: datetime
) -> Drawing:
    today = _today(visit, side)
    before = _before(visit, side)
    return Drawing(
        map=key,
        side=side,
        side_name=as_heading(SIDE_NAMES[side]),
        fields=tuple(
            Outlined(
                field.what,
                field.key,
                field.outline,
                field.key in _keys(today, field.what),
                field.key in _keys(before, field.what),
            )
            for field in fields_of(key)
        ),
        hours=tuple((hour, *point(hour, HOUR_AT)) for hour in HOURS),
        lump=_ring(today) if key == "breast" else None,
        lump_was=_ring(before) if key == "breast" else None,
        lines=tuple(_lines(key, today, before, content, wording, now)),
        doubts=tuple(doubts_of(visit, key, side)),
    )


def fields_of(key: str) -> tuple[Field, ...]:
    """The fields of a drawing."""
    return breast_fields(RED) if key == "breast" else nipple_fields(HARM, PLACE)


def doubts_of(visit: Visit, key: str, side: Side) -> Iterator[Doubt]:
    """Where something is drawn and nobody answered whether there is any."""
    today = _today(visit, side)
    for one in DRAWN[key]:
        if not any(_answer(today, what) for what in (*one.fields, *one.numbers)):
            continue
        if not _answer(today, one.asked_by):
            yield Doubt(in_words(one.open), one.asked_by)


Looked = Mapping[str, Entry]
"""Observation to the entry that answers it, of one side at one look."""


def _today(visit: Visit, side: Side) -> Looked:
    return {
        question.what: entries[-1]
        for question, entries in visit.answers.items()
        if question.side == side and entries
    }


def _before(visit: Visit, side: Side) -> Looked:
    """What the last look found; what was 'none' later than it was drawn is not there."""
    found = {q.what: entry for q, entry in visit.before.items() if q.side == side}
    for one in (one for every in DRAWN.values() for one in every):
        asked = found.get(one.asked_by)
        if asked is None or _answer(found, one.asked_by) != NONE:
            continue
        for what in (*one.fields, *one.numbers):
            if what in found and found[what].true_at <= asked.true_at:
                del found[what]
    return found


def _answer(looked: Looked, what: str) -> str:
    entry = looked.get(what)
    return (entry.fact.answer or "") if entry and isinstance(entry.fact, Observation) else ""


def _keys(looked: Looked, what: str) -> tuple[str, ...]:
    answer = _answer(looked, what)
    return tuple(answer.split(BETWEEN)) if answer else ()


def _number(looked: Looked, what: str) -> float | None:
    try:
        return float(_answer(looked, what))
    except ValueError:
        return None


def _ring(looked: Looked) -> Ring | None:
    """Where a lump is drawn; without an hour or a distance there is no place for it."""
    hour, distance_cm = _number(looked, CLOCK), _number(looked, FROM_NIPPLE)
    if hour is None or distance_cm is None:
        return None
    width_cm = _number(looked, WIDTH) or 0
    return Ring(*place_of(hour, distance_cm), max(width_cm / 2 / REACH_CM * EDGE, SMALLEST_RING))


def _lines(
    key: str, today: Looked, before: Looked, content: Content, wording: Wording, now: datetime
) -> Iterator[Line]:
    names = _names_of(key, content)
    for one in DRAWN[key]:
        found, was = _found(one, today, names, key), _found(one, before, names, key)
        name = as_heading(one.name)
        if found:
            yield Line(name, in_words(_listed(found)))
        if was:
            at = max(before[what].true_at for what in (*one.fields, *one.numbers) if what in before)
            label = message(
                "{name} at the last look, {when}", name=one.name, when=wording.near(at, now)
            )
            yield Line(as_heading(label), in_words(_listed(was)))
        if was and found and (change := _change(one, today, before, names)):
            yield Line(as_heading(message("Since then")), in_words(change))
        elif was and _answer(today, one.asked_by) == NONE:
            yield Line(as_heading(message("Since then")), in_words(message("gone")))


def _names_of(key: str, content: Content) -> dict[str, str]:
    """What fields without an hour are called."""
    words = (content.vocabularies[FOLDER].get(one.what) for one in fields_of(key))
    return {
        choice: name
        for word in words
        if isinstance(word, Observable)
        for choice, name in word.choices.items()
    }


def _found(one: Drawn, looked: Looked, names: Mapping[str, str], key: str) -> list[Words]:
    keys = [k for what in one.fields for k in _keys(looked, what)]
    found: list[Words] = [where(keys, names)] if keys else []
    if keys and key == "breast":
        share = sum(field.area for field in fields_of(key) if field.key in keys)
        found.append(message("about {share} of the drawing", share=Amount(100 * share, "%", 0)))
    for what, figure in one.numbers.items():
        value = _number(looked, what)
        if value is not None:
            found.append(figure.says(figure.gap(value)))
        elif answer := _answer(looked, what):
            found.append(answer)
    return found


Course = Literal["larger", "smaller"]
COURSES: Final[Mapping[frozenset[Course], Message]] = {
    frozenset(): message("no change in what is drawn"),
    frozenset({"larger"}): message("larger"),
    frozenset({"smaller"}): message("smaller"),
    frozenset({"larger", "smaller"}): message("partly larger, partly smaller"),
}


def _change(one: Drawn, today: Looked, before: Looked, names: Mapping[str, str]) -> Message | None:
    """What is larger or smaller than at the last look; None where the two looks share nothing."""
    courses: set[Course] = set()
    sentences: list[Words] = []
    is_compared = False
    for what in one.fields:
        now, was = _keys(today, what), _keys(before, what)
        if not now or not was:
            continue
        is_compared = True
        if new := [key for key in now if key not in was]:
            courses.add("larger")
            sentences.append(message("new: {where}", where=where(new, names)))
        if gone := [key for key in was if key not in now]:
            courses.add("smaller")
            sentences.append(message("no longer: {where}", where=where(gone, names)))
    for what, figure in one.numbers.items():
        value, earlier = _number(today, what), _number(before, what)
        if value is None or earlier is None:
            continue
        is_compared = True
        if value != earlier:
            sentences.append(
                message(
                    "{now}, was {before}",
                    now=figure.says(figure.gap(value)),
                    before=figure.gap(earlier),
                )
            )
            if what not in PLACES:
                courses.add("larger" if value > earlier else "smaller")
    if not is_compared:
        return None
    return _listed(
        sentences if sentences and not courses else [COURSES[frozenset(courses)], *sentences]
    )


def _listed(parts: Sequence[Words]) -> Message:
    return message("{parts}", parts=Listed(tuple(parts)))
