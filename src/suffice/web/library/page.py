"""The content store as the Library shows it: every value with its source, range and dates."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Final

import msgspec
from django.utils.translation import gettext as _

from suffice.clinical.working import Constant
from suffice.knowledge import schema
from suffice.knowledge.store import Content
from suffice.language.amounts import AmountText, figures_text, unit_text
from suffice.language.kinds import AXES, BASES, READINGS, choice_name
from suffice.message import message
from suffice.web.shown.wording import Wording, in_words, of_content, page_language

COUNT: Final = "1"
"""The unit of a bare count."""


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One source of a value, and what it says there."""

    cited: str
    says: str
    locator: str = ""
    doi: str = ""


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One value (or series) with all that its author wrote about it."""

    key: str
    name: str
    text: str
    unit: str
    basis: str
    range_text: str
    points: tuple[tuple[str, str], ...]
    axis: str
    applies_to: str
    not_for: str
    note: str
    formula: str
    read: str
    sources: tuple[Line, ...]
    effective_from: date
    review_by: date
    is_due: bool
    overridden_from: str
    history: tuple[schema.Former, ...]


class Topic(msgspec.Struct, frozen=True, kw_only=True):
    """A topic with its rows."""

    name: str
    title: str
    says: str
    rows: tuple[Row, ...]


class Dispute(msgspec.Struct, frozen=True, kw_only=True):
    """A question that sources answer differently, with every answer."""

    name: str
    question: str
    changes: str
    decision: str
    decided_on: date
    rows: tuple[tuple[Row, str, bool], ...]
    """Each answer's value, its plain name, and whether it is in force."""


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """One of several answers to a question, as a clinic that chooses reads it."""

    name: str
    value: str
    source: str
    basis: str
    changes: str

    def __str__(self) -> str:
        """Its name and value."""
        return f"{self.name}: {self.value}"


class Library(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that the Library page shows."""

    version: str
    dated: date
    topics: tuple[Topic, ...]
    disputes: tuple[Dispute, ...]
    rows_count: int


def library_page(content: Content, today: date, words: str = "") -> Library:
    """The Library, all of it or what holds all the words that were looked for.

    Args:
        content: The content in force.
        today: Today, to say which review is due.
        words: Words to look for in keys, notes and sources.
    """
    rows = {key: _row(key, entry, content, today) for key, entry in content.entries.items()}
    shown = {key: row for key, row in rows.items() if _holds(row, words)}
    topics = []
    for name, topic in sorted(content.topics.items(), key=lambda item: item[1].title):
        own = tuple(row for key, row in sorted(shown.items()) if key.startswith(f"{name}."))
        if own:
            topics.append(Topic(name=name, title=topic.title, says=topic.says, rows=own))
    disputes = tuple(
        Dispute(
            name=name,
            question=of_content(one.question),
            changes=of_content(one.changes),
            decision=of_content(one.decision),
            decided_on=one.decided_on,
            rows=tuple(
                (rows[answer.key], of_content(answer.name), answer.key == one.chosen)
                for answer in one.answers
                if answer.key in rows
            ),
        )
        for name, one in sorted(content.disagreements.items())
        if not words or any(key in shown for key in one.candidates)
    )
    return Library(
        version=content.version,
        dated=content.manifest.dated,
        topics=tuple(topics),
        disputes=disputes,
        rows_count=len(shown),
    )


def _row(key: str, entry: schema.AnyEntry, content: Content, today: date) -> Row:
    text, points, axis, spread = _value(key, entry, content)
    former = content.flat[key].overridden_from if key in content.flat else None
    return Row(
        key=key,
        name=name_of(key, entry, content),
        text=text,
        unit=unit_text(entry.unit, page_language()),
        basis=in_words(BASES[entry.basis]),
        range_text=spread,
        points=points,
        axis=in_words(AXES.get(axis, axis)),
        applies_to=entry.applies_to,
        not_for=entry.not_for,
        note=entry.note,
        formula=entry.formula.replace("_", " "),
        read=in_words(READINGS[entry.read]) if entry.read else "",
        sources=tuple(_line(citation, content) for citation in entry.citations),
        effective_from=entry.effective_from,
        review_by=entry.review_by,
        is_due=entry.review_by < today,
        overridden_from="" if former is None else _digits(former),
        history=entry.history,
    )


def name_of(key: str, entry: schema.AnyEntry, content: Content) -> str:
    """The key's last part as words, without the unit that ends it."""
    name = key.rpartition(".")[2]
    endings = content.units[entry.unit].endings if entry.unit in content.units else ()
    for ending in sorted(endings, key=len, reverse=True):
        name = name.removesuffix(f"_{ending}")
    return name.replace("_", " ")


def choices_of(dispute: schema.Disagreement, content: Content, wording: Wording) -> list[Choice]:
    """The answers to a question, each with its value in the clinic's units and its source."""
    return [
        Choice(
            name=of_content(answer.name),
            value=_answer_value(content.entries[answer.key], content.flat.get(answer.key), wording),
            source=_source(content.entries[answer.key], content),
            basis=""
            if (basis := content.entries[answer.key].basis) == "published"
            else in_words(BASES[basis]),
            changes=of_content(answer.changes),
        )
        for answer in dispute.answers
    ]


def _answer_value(entry: schema.AnyEntry, in_force: Constant | None, wording: Wording) -> str:
    """The value behind an answer; empty where it is a bare count, which the answer names in words."""
    is_count = isinstance(entry, schema.NumberEntry) and entry.unit == COUNT
    return "" if is_count else _amount(entry, in_force, wording)


def _amount(entry: schema.AnyEntry, in_force: Constant | None, wording: Wording) -> str:
    """A value, or the lowest and the highest of a series, in the clinic's units."""
    if isinstance(entry, schema.SeriesEntry):
        numbers = sorted({point[1] for point in entry.points})
    elif isinstance(entry, schema.NumberEntry):
        numbers = [in_force.value if in_force else entry.value]
    else:
        numbers = []
    text = [_amount_text(number, entry.unit, wording) for number in numbers]
    if len(text) > 1:
        low, high = text[0].number, str(text[-1])
        return in_words(message("{low} to {high}", low=low, high=high))
    return "".join(str(one) for one in text)


def _amount_text(value: float, unit: str, wording: Wording) -> AmountText:
    """A value in the clinic's units; a spread of 7.2 g is no weight to be rounded as one."""
    if unit == "g" and value != round(value):
        return wording.quantity(value, unit, 1)
    return wording.quantity(value, unit)


def _source(entry: schema.AnyEntry, content: Content) -> str:
    return _line(entry.citations[0], content).cited if entry.citations else ""


def replaceable(content: Content) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every value that a clinic may replace, by topic: (title, [(key, name)]).

    The answers to a question that the clinic did not choose are marked: as an answer, one counts
    only once it is chosen, or at ages of which the chosen one says nothing.
    """
    groups: dict[str, list[tuple[str, str]]] = {}
    disputes = content.disagreements.values()
    chosen = {one.chosen for one in disputes}
    passed_over = {key for one in disputes for key in one.candidates} - chosen
    for key in content.flat:
        title, name = value_name(key, content)
        if _entry_of(key, content) in passed_over:
            name = _("%(name)s: another answer is chosen") % {"name": name}
        groups.setdefault(title, []).append((key, name))
    return sorted(groups.items())


def value_name(key: str, content: Content) -> tuple[str, str]:
    """What a single value is called: the title of its topic, and its name with place and unit."""
    whole = _entry_of(key, content)
    position = key.removeprefix(whole).removeprefix(".")
    entry = content.entries[whole]
    name = name_of(whole, entry, content)
    if isinstance(entry, schema.SeriesEntry):
        before, after = AXIS_TEXTS[entry.axis]
        name = f"{name}, {before}{position}{after}"
    unit = unit_text(entry.unit, page_language())
    return content.topics[whole.rpartition(".")[0]].title, f"{name} ({unit})" if unit else name


def _entry_of(key: str, content: Content) -> str:
    """The entry that holds a single value: itself, or the series of which it is a point."""
    return key if key in content.entries else key.rpartition(".")[0]


AXIS_TEXTS = {
    "age_h": ("", " h"),
    "age_d": ("", " days"),
    "day": ("day ", ""),
    "age_month": ("month ", ""),
}


def _value(
    key: str, entry: schema.AnyEntry, content: Content
) -> tuple[str, tuple[tuple[str, str], ...], str, str]:
    """The value in words, the points of a series, its axis, and the range over the sources."""
    if isinstance(entry, schema.NumberEntry):
        in_force = content.flat[key].value if key in content.flat else entry.value
        return _digits(in_force), (), "", _range(entry.low, entry.high)
    if isinstance(entry, schema.SeriesEntry):
        points = tuple((_digits(point[0]), _point(point)) for point in entry.points)
        return "", points, entry.axis, ""
    return (
        "",
        tuple(
            (f"{at:g}", ", ".join(in_words(choice_name(word)) for word in words))
            for at, words in entry.points
        ),
        entry.axis,
        "",
    )


def _digits(value: float) -> str:
    return figures_text(value, page_language())


def _point(point: tuple[float, ...]) -> str:
    _at, value, *spread = point
    return f"{_digits(value)} ({_range(*spread)})" if len(spread) == 2 else _digits(value)


def _range(low: float | None, high: float | None) -> str:
    if low is None or high is None or low == high:
        return ""
    return in_words(message("{low} to {high}", low=_digits(low), high=_digits(high)))


def _line(citation: schema.Citation, content: Content) -> Line:
    source = content.sources.get(citation.source)
    return Line(
        cited=source.short if source else citation.source,
        says=citation.says,
        locator=citation.locator,
        doi=source.doi if source else "",
    )


def _holds(row: Row, words: str) -> bool:
    """Whether every word stands somewhere in the row."""
    text = " ".join(_texts(row)).casefold()
    return all(word in text for word in words.casefold().split())


def _texts(row: Row) -> Iterable[str]:
    yield from (row.key, row.name, row.basis, row.applies_to, row.not_for, row.note)
    for source in row.sources:
        yield from (source.cited, source.says)
