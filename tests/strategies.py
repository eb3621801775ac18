"""Hypothesis strategies: whole valid records, and the parts that they are made of.

What is generated fits together and lies within what is possible at all; whether it is likely is
another matter.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from uuid import UUID

import msgspec
from hypothesis import strategies as st

from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Birth,
    Contact,
    Entry,
    Expression,
    Feed,
    Identity,
    Illness,
    Infant,
    Note,
    Record,
    Setting,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
    Withdrawal,
)

ZONES = ("UTC", "Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu")
FIRST_INSTANT = datetime(2020, 1, 1)  # noqa: DTZ001 -- hypothesis adds the zone
LAST_INSTANT = datetime(2030, 1, 1)  # noqa: DTZ001


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Finite numbers of a range, whole ones among them."""
    return st.floats(low, high, allow_nan=False) | st.integers(int(low), int(high)).map(float)


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


SIDES = st.sampled_from(["left", "right", "both"])

FIELDS: dict[type[Any], dict[str, st.SearchStrategy[Any]]] = {
    Birth: {
        "zone": st.sampled_from(ZONES),
        "sex": _maybe(st.sampled_from(["male", "female"])),
        "gestation_days": _maybe(st.integers(154, 308)),
        "birth_weight_g": _maybe(numbers(400, 6500)),
        "mode": _maybe(st.sampled_from(["vaginal", "assisted vaginal", "caesarean"])),
        "intrapartum_fluids_ml": _maybe(numbers(0, 5000)),
        "multiple": _maybe(st.integers(1, 4)),
    },
    Weight: {
        "weight_g": numbers(400, 20000),
        "clothing": _maybe(st.sampled_from(["naked", "dry diaper", "clothed"])),
        "feed_state": _maybe(st.sampled_from(["before feed", "after feed"])),
    },
    Size: {"length_cm": numbers(25, 95), "head_cm": _maybe(numbers(20, 55))},
    TestWeight: {
        "before_g": numbers(400, 15000),
        "after_g": numbers(400, 15000),
        "minutes": _maybe(numbers(1, 90)),
        "same_clothes": _maybe(st.booleans()),
        "side": _maybe(SIDES),
    },
    Feed: {
        "milk": st.sampled_from(["breast", "expressed", "donor", "formula"]),
        "side": _maybe(SIDES),
        "volume_ml": _maybe(numbers(0, 300)),
        "minutes": _maybe(numbers(0, 120)),
    },
    Expression: {
        "left_ml": numbers(0, 400),
        "right_ml": _maybe(numbers(0, 400)),
        "minutes": _maybe(numbers(1, 90)),
        "method": _maybe(st.sampled_from(["hand", "pump", "hand and pump"])),
        "hours_since_last": _maybe(numbers(0, 48)),
    },
    Wet: {
        "count": st.integers(0, 15),
        "over_h": _maybe(numbers(1, 48)),
        "urates": _maybe(st.booleans()),
    },
    Stool: {
        "count": st.integers(0, 15),
        "over_h": _maybe(numbers(1, 48)),
        "colour": _maybe(st.sampled_from(["black", "green", "brown", "yellow", "pale", "red"])),
        "amount": _maybe(st.sampled_from(["smear", "small", "large"])),
    },
    Temperature: {
        "temperature_c": numbers(30, 43),
        "site": _maybe(st.sampled_from(["axilla", "rectum", "ear", "forehead"])),
    },
    Illness: {"what": texts(), "present": st.booleans()},
    Contact: {
        "setting": st.sampled_from(Setting),
        "next_due_at": _maybe(instants()),
        "discharged": st.booleans(),
    },
    Identity: {"name": texts()},
    Note: {"text": texts(200)},
}
"""A strategy for every key of every kind of fact; a withdrawal needs something to withdraw."""

FACTS = {kind: st.builds(kind, **fields) for kind, fields in FIELDS.items()}
"""A strategy for each kind of fact but the withdrawal (see `records`)."""

ABOUT_PARENT = (Expression, Contact)
ABOUT_EITHER = (Temperature, Illness, Identity, Note)


@st.composite
def entries(draw: st.DrawFn, infants: tuple[Infant, ...], key: UUID) -> Entry:
    """An entry about one of the infants or the parent that replaces nothing."""
    fact: AnyFact = draw(st.one_of(*FACTS.values()))
    infant_ids: list[UUID | None] = [infant.id for infant in infants]
    if isinstance(fact, ABOUT_PARENT):
        infant_ids = [None]
    elif isinstance(fact, ABOUT_EITHER):
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
    standing: list[tuple[Entry, type[Any]]] = []
    for key in keys[count + 1 :]:
        entry = draw(entries(infants, key))
        replaced = draw(st.sampled_from([None, *range(len(standing))]))
        if replaced is not None:
            entry, kind = draw(_correction(entry, *standing.pop(replaced)))
        else:
            kind = type(entry.fact)
        made.append(entry)
        standing.append((entry, kind))
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
