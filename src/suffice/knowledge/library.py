"""The whole content as rows a reader can check: value, source, range, dates, disagreement.

One row for each entry, grouped by topic in the order of their titles. A row says the value in
force, so a clinic's override is seen beside the value it replaces.
"""

from __future__ import annotations

from datetime import date

import msgspec

from suffice.knowledge import schema
from suffice.knowledge.assembly import source_of
from suffice.knowledge.derivation import FORMULAS
from suffice.knowledge.store import Content


class LibraryRow(msgspec.Struct, frozen=True, kw_only=True):
    """One entry of the content with all that its author wrote about it.

    Attributes:
        key: Dotted name in the content store.
        topic: Topic it belongs to.
        topic_title: Title of the topic.
        value: The value in force, in figures; a series as ``position: value``.
        unit: Its unit.
        basis: How far it can be trusted.
        read: How much of a published source was seen; empty for other bases.
        source: Short citation, or the words of its basis.
        locator: Where in the source.
        says: What the source says, in figures.
        doi: Digital object identifier of the source.
        applies_to: Whom and what it applies to.
        not_for: Where it must not be used.
        low: Lowest value found or allowed; None for a series or where there is no range.
        high: Highest value found or allowed.
        effective_from: First day in force.
        review_by: Day by which it is to be looked at again.
        note: Reason or caution.
        formula: For a derived value, the formula in words.
        overridden_from: What our value was, where the clinic has its own.
        is_chosen: Whether it is the one in force where sources disagree.
    """

    key: str
    topic: str
    topic_title: str
    value: str
    unit: str
    basis: str
    read: str
    source: str
    locator: str
    says: str
    doi: str
    applies_to: str
    not_for: str
    low: float | None
    high: float | None
    effective_from: date
    review_by: date
    note: str
    formula: str
    overridden_from: str
    is_chosen: bool


def library(content: Content) -> list[LibraryRow]:
    """Every entry of the content as a row, by topic title and then as its author ordered them."""
    chosen = {one.chosen for one in content.disagreements.values()}
    rows = [_row(key, content, is_chosen=key in chosen) for key in content.entries]
    return sorted(rows, key=lambda row: (row.topic_title, row.topic))


def _row(key: str, content: Content, *, is_chosen: bool) -> LibraryRow:
    entry = content.entries[key]
    topic = key.rpartition(".")[0]
    first = entry.citations[0] if entry.citations else None
    low, high = (entry.low, entry.high) if isinstance(entry, schema.NumberEntry) else (None, None)
    return LibraryRow(
        key=key,
        topic=topic,
        topic_title=content.topics[topic].title,
        value=_value(key, content),
        unit=entry.unit,
        basis=entry.basis,
        read=entry.read or "",
        source=source_of(entry, content.sources),
        locator=first.locator if first else "",
        says=first.says if first else "",
        doi=content.sources[first.source].doi if first else "",
        applies_to=entry.applies_to,
        not_for=entry.not_for,
        low=low,
        high=high,
        effective_from=entry.effective_from,
        review_by=entry.review_by,
        note=entry.note,
        formula=FORMULAS[entry.formula].words if entry.formula else "",
        overridden_from=_standard_amount(key, content),
        is_chosen=is_chosen,
    )


def _value(key: str, content: Content) -> str:
    if key in content.wordings:
        words = content.wordings[key]
        return "; ".join(
            f"{at:g}: {', '.join(words_at)}"
            for at, words_at in zip(words.positions, words.words, strict=True)
        )
    if key in content.series:
        series = content.series[key]
        return "; ".join(
            f"{at:g}: {value:g}" for at, value in zip(series.positions, series.values, strict=True)
        )
    return f"{content.flat[key].value:g}"


def _standard_amount(key: str, content: Content) -> str:
    points = content.series[key].points if key in content.series else ()
    constants = points or ((content.flat[key],) if key in content.flat else ())
    return "; ".join(
        f"{one.overridden_from:g}" for one in constants if one.overridden_from is not None
    )
