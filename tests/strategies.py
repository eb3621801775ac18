"""Hypothesis strategies: whole valid records, and the parts that they are made of.

What is generated fits together and lies within what is possible at all; whether it is likely is
another matter.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone
from typing import Any, get_args
from uuid import UUID

import msgspec
from hypothesis import strategies as st

import latches
from suffice.clinical.entry import (
    KINDS,
    AnyFact,
    Basis,
    Entry,
    Fact,
    Infant,
    Record,
    Withdrawal,
)
from suffice.clinical.entry.clock import Act, What
from suffice.clinical.entry.field import (
    Answered,
    Chosen,
    Counted,
    Dialled,
    Field,
    Happened,
    Kept,
    Listed,
    Measured,
    Moment,
    OfContact,
    Written,
    default_of,
    fields_of,
    is_required,
)
from suffice.clinical.entry.latch_photograph import KeptPicture
from suffice.clinical.entry.paper import Origin
from suffice.clinical.feed.event import ORDER, FeedEvent
from suffice.clinical.reading.quantity import QUANTITIES
from suffice.knowledge.store import load

ZONES = ("UTC", "Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu")
FIRST_INSTANT = datetime(2020, 1, 1)  # noqa: DTZ001 -- hypothesis adds the zone
LAST_INSTANT = datetime(2030, 1, 1)  # noqa: DTZ001


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Finite numbers of a range, whole ones among them."""
    return st.floats(low, high, allow_nan=False) | st.integers(math.ceil(low), int(high)).map(float)


def texts(max_size: int = 40) -> st.SearchStrategy[str]:
    """Any text that can be stored: every script, but neither NUL nor half a surrogate pair."""
    return st.text(
        st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=max_size
    )


def instants() -> st.SearchStrategy[datetime]:
    """Aware instants, in UTC or with an offset."""
    offsets = st.integers(-12, 14).map(lambda hours: timezone(timedelta(hours=hours)))
    return st.datetimes(FIRST_INSTANT, LAST_INSTANT, timezones=st.just(UTC) | offsets)


def _maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


RANGES = {
    "weight_g": (400, 20000),
    "birth_weight_g": (400, 6500),
    "before_g": (400, 15000),
    "after_g": (400, 15000),
    "gestation_days": (154, 308),
    "temperature_c": (30, 43),
    "length_cm": (25, 95),
    "head_cm": (20, 55),
}
"""Where a field's values come from, where that is not 0 to 400, or to the highest possible value if that is lower."""


def _highest(quantity: str) -> float:
    """The end of the values of a quantity that has no range of its own."""
    known = QUANTITIES.get(quantity)
    return min(400, load().constant(known.most).value) if known and known.most else 400


FIRST_SIDE = FeedEvent(at_ms=0, what="left")
FEED_EVENTS = st.builds(
    FeedEvent, at_ms=st.integers(1, 3_600_000), what=st.sampled_from(sorted(ORDER))
)


PICTURES = st.builds(
    KeptPicture,
    id=st.uuids(),
    digest=st.text("0123456789abcdef", min_size=64, max_size=64),
    width_count=st.just(1200),
    height_count=st.just(900),
)
CLOCKS = st.lists(
    st.builds(
        Act,
        starts_minutes=st.integers(0, 1439),
        minutes=st.integers(1, 1440),
        what=st.sampled_from(get_args(What)),
        who=st.sampled_from(["parent", "helper"]),
    ),
    max_size=6,
).map(tuple)
ORIGINS = st.builds(
    Origin,
    as_of=instants(),
    language=st.sampled_from(["en", "es"]),
    size=st.sampled_from(["A4", "letter"]),
    content_version=st.just("2026.11.1"),
    engine_version=st.sampled_from(["", "3"]),
    policy_count=st.integers(0, 9),
    template_version=st.just("1"),
    digest=st.text("0123456789abcdef", min_size=64, max_size=64),
    file_digest=st.text("0123456789abcdef", min_size=64, max_size=64),
    sheet=st.sampled_from(["", "latch"]),
)
KEPT: dict[str, st.SearchStrategy[Any]] = {
    "clock": CLOCKS,
    "origin": st.none() | ORIGINS,
    "words": st.sampled_from(["", "eJw="]),
    "rests_on": st.lists(st.uuids(), max_size=3).map(tuple),
    "milk_id": st.none() | st.uuids(),
    "note_id": st.none() | st.uuids(),
    "same_latch": st.none() | st.uuids(),
    "picture": st.none() | PICTURES,
    "marks": st.sampled_from([(), latches.marks(), latches.marks(leave_out=("ear",), times=2)]),
}


def _drawn(kind: type[Fact], name: str, field: Field) -> st.SearchStrategy[Any]:
    """Values of one field, by its declaration; also none, where it may be left open."""
    values: st.SearchStrategy[Any]
    if isinstance(field, Happened):
        return st.lists(FEED_EVENTS, max_size=8).map(lambda found: (FIRST_SIDE, *found))
    if name in KEPT:
        return KEPT[name]
    if isinstance(field, Kept):
        values = st.sampled_from(ZONES)
    elif isinstance(field, Chosen):
        values = st.sampled_from(list(field.enumeration or (value for value, _ in field.choices)))
    elif isinstance(field, Listed):
        values = st.sampled_from([*load().vocabularies[field.vocabulary], "no_longer_known"])
    elif isinstance(field, Answered):
        values = st.booleans()
    elif isinstance(field, OfContact):
        values = st.uuids()
    elif isinstance(field, Dialled):
        digits = st.integers(field.least_count, field.most_count).flatmap(
            lambda count: st.text("0123456789", min_size=count, max_size=count)
        )
        values = st.builds("{}{}".format, st.sampled_from(["", "+"]), digits)
    elif isinstance(field, Written):
        values = texts(200 if field.is_long else 40)
    elif isinstance(field, Moment):
        # A browser sends milliseconds at the most.
        values = instants().map(lambda at: at.replace(microsecond=at.microsecond // 1000 * 1000))
    elif isinstance(field, Counted):
        values = st.integers(field.least_count, min(field.most_count, 15))
    elif isinstance(field, Measured):
        low, high = RANGES.get(name, (0, _highest(field.quantity)))
        if field.quantity == "hours":
            low, high = field.least_h, field.most_h or high
        # Nobody writes a hundredth of a milligram, or a number with three hundred zeros.
        fine = numbers(low, high).map(lambda value: round(value, 5))
        values = st.integers(low, high) if field.quantity == "gestation" else fine
    else:
        raise TypeError(f"no values are known for {type(field).__name__}")
    needs = kind.declared.needs
    is_open = not is_required(kind, name) and default_of(kind, name) is None
    return _maybe(values) if is_open and not (needs and name == needs.fields[0]) else values


FIELDS: dict[type[Fact], dict[str, st.SearchStrategy[Any]]] = {
    kind: {name: _drawn(kind, name, field) for name, field in fields_of(kind).items()}
    for kind in KINDS.values()
    if kind is not Withdrawal
}
"""A strategy for every field of every kind of fact; a withdrawal needs something to withdraw."""

FACTS = {kind: st.builds(kind, **fields) for kind, fields in FIELDS.items()}
"""A strategy for each kind of fact but the withdrawal (see `records`)."""


@st.composite
def entries(draw: st.DrawFn, infants: tuple[Infant, ...], key: UUID) -> Entry:
    """An entry about one of the infants or the parent that replaces nothing."""
    fact: AnyFact = draw(st.one_of(*FACTS.values()))
    infant_ids: list[UUID | None] = [infant.id for infant in infants]
    if fact.declared.about == "parent":
        infant_ids = [None]
    elif fact.declared.about == "either":
        infant_ids.append(None)
    return Entry(
        id=key,
        fact=fact,
        basis=draw(st.sampled_from(Basis)),
        true_at=draw(instants()),
        entered_at=draw(instants()),
        entered_by=draw(texts(12)),
        infant_id=draw(st.sampled_from(infant_ids)),
        device=draw(_maybe(texts(12))),
    )


@st.composite
def records(draw: st.DrawFn, max_entries: int = 12) -> Record:
    """A whole valid record: one to three infants, corrections of corrections, withdrawals.

    The entries come in any order, corrections before what they correct among them.
    """
    count = draw(st.integers(1, 3))
    keys = draw(
        st.lists(st.uuids(), unique=True, min_size=count + 1, max_size=count + 1 + 2 * max_entries)
    )
    infants = tuple(Infant(id=key, position=n) for n, key in enumerate(keys[1 : count + 1], 1))
    made: list[Entry] = []
    current: list[tuple[Entry, type[Any]]] = []
    for key in keys[count + 1 :]:
        entry = draw(entries(infants, key))
        replaced = draw(st.sampled_from([None, *range(len(current))]))
        if replaced is not None:
            entry, kind = draw(_correction(entry, *current.pop(replaced)))
        else:
            kind = type(entry.fact)
        made.append(entry)
        if not kind.declared.is_final:
            current.append((entry, kind))
    return Record(
        family_id=keys[0],
        infants=tuple(draw(st.permutations(infants))),
        entries=tuple(draw(st.permutations(made))),
    )


@st.composite
def _correction(
    draw: st.DrawFn, entry: Entry, old: Entry, kind: type[Any]
) -> tuple[Entry, type[Any]]:
    """`entry` as a correction of `old`, whose kind (or that of what it withdrew) is `kind`."""
    fact = draw(FACTS[kind])
    if not isinstance(old.fact, Withdrawal) and draw(st.booleans()):
        fact = Withdrawal(reason=draw(texts()))
    changed = msgspec.structs.replace(entry, fact=fact, infant_id=old.infant_id, replaces=old.id)
    return changed, kind
