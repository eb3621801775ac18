"""Builds what the store answers with from what its authors wrote.

Entries become constants, series and words with their short citations; joined series borrow the
provenance of the values they stand for; a clinic's own values take the place of ours, and what
derives from them follows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from graphlib import CycleError, TopologicalSorter

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import ContentError, Problem, RefusalError
from suffice.knowledge import schema
from suffice.knowledge.derivation import FORMULAS, JOINED
from suffice.knowledge.series import Series, Words
from suffice.message import message

COMMON_PRACTICE = "common practice, no source"
FROM_MEMORY = "from memory, to verify"
CHOICE = "choice:"
"""Begins an argument or a limit that is whatever is in force where sources disagree."""


@dataclass(frozen=True, slots=True)
class Parts:
    """The built values by key; a series' points stand in `flat` under key, dot, position."""

    flat: dict[str, Constant] = field(default_factory=dict)
    series: dict[str, Series] = field(default_factory=dict)
    wordings: dict[str, Words] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Maker:
    """What goes into the building."""

    entries: Mapping[str, schema.AnyEntry]
    sources: Mapping[str, schema.Source]
    overrides: Mapping[str, float]
    chosen: Mapping[str, str]
    choices: Mapping[str, str]


def assemble(
    entries: Mapping[str, schema.AnyEntry],
    sources: Mapping[str, schema.Source],
    overrides: Mapping[str, float],
    chosen: Mapping[str, str],
    choices: Mapping[str, str],
) -> Parts:
    """Constants, series and words of all entries, a clinic's own values in place of ours.

    Args:
        entries: What was written, by key.
        sources: Sources by short name.
        overrides: A clinic's own values, by key.
        chosen: The key in force for each disagreement.
        choices: Those of them that a clinic chose itself.

    Raises:
        ContentError: CONTENT-007 when values are derived from one another in a circle.
    """
    maker = _Maker(entries, sources, overrides, chosen, choices)
    parts = Parts()
    for key, entry in entries.items():
        if isinstance(entry, schema.NumberEntry):
            parts.flat[key] = _constant(key, entry, (entry.value, entry.low, entry.high), maker)
        elif isinstance(entry, schema.SeriesEntry):
            parts.series[key] = _series(key, entry, maker)
            parts.flat.update((point.key, point) for point in parts.series[key].points)
        else:
            parts.wordings[key] = _words(key, entry, maker)
    _lend_sources(parts, maker)
    _follow(parts, maker)
    return parts


def source_of(entry: schema.AnyEntry, sources: Mapping[str, schema.Source]) -> str:
    """The short citation of an entry, with the words of its basis where it has no source."""
    short = sources[entry.citations[0].source].short if entry.citations else ""
    if entry.basis == "common practice":
        return COMMON_PRACTICE
    if entry.basis == "judgement":
        basis = f"judgement of {entry.judged_by}"
        return f"{basis}: {short}" if short else basis
    if entry.basis == "derived":
        return f"derived: {FORMULAS[entry.formula].words}, from {', '.join(entry.uses)}"
    if entry.basis == FROM_MEMORY:
        return f"{short} ({FROM_MEMORY})" if short else FROM_MEMORY
    return short


def _constant(
    key: str,
    entry: schema.AnyEntry,
    values: tuple[float, float | None, float | None],
    maker: _Maker,
) -> Constant:
    value, low, high = values
    own = maker.overrides.get(key)
    return Constant(
        key=key,
        value=float(value if own is None else own),
        unit=entry.unit,
        basis=entry.basis,
        source=source_of(entry, maker.sources),
        locator=entry.citations[0].locator if entry.citations else "",
        read=entry.read or "",
        judged_on=entry.judged_on,
        low=low,
        high=high,
        applies_to=entry.applies_to,
        overridden_from=None if own is None else float(value),
    )


def _series(key: str, entry: schema.SeriesEntry, maker: _Maker) -> Series:
    points = []
    for point in entry.points:
        low, high = (point[2], point[3]) if len(point) == 4 else (None, None)
        points.append(_constant(f"{key}.{point[0]:g}", entry, (point[1], low, high), maker))
    return Series(
        key=key,
        axis=entry.axis,
        between=entry.between,
        until=entry.until,
        positions=tuple(float(point[0]) for point in entry.points),
        points=tuple(points),
    )


def _words(key: str, entry: schema.WordsEntry, maker: _Maker) -> Words:
    return Words(
        key=key,
        axis=entry.axis,
        until=entry.until,
        positions=tuple(float(point[0]) for point in entry.points),
        words=tuple(point[1] for point in entry.points),
        basis=entry.basis,
        source=source_of(entry, maker.sources),
    )


def computed(
    entry: schema.AnyEntry,
    position: float | None,
    parts: Parts,
    chosen: Mapping[str, str],
) -> float:
    """A derived value worked out from the values in force of its arguments.

    Args:
        entry: The derived entry.
        position: Where along the axis, for a series; None for a number.
        parts: Every value by key.
        chosen: The key in force for each disagreement.
    """
    values = [
        parts.series[used].at(position).value
        if used in parts.series and position is not None
        else parts.flat[used].value
        for used in (resolved(one, chosen) for one in _uses_at(entry, position))
    ]
    return FORMULAS[entry.formula].compute(*values)


def resolved(used: str, chosen: Mapping[str, str]) -> str:
    """The key that an argument stands for: itself, or the one in force of a disagreement."""
    return chosen[used.removeprefix(CHOICE)] if used.startswith(CHOICE) else used


def _uses_at(entry: schema.AnyEntry, position: float | None) -> tuple[str, ...]:
    """The keys of the arguments at a position: one of them where single values are joined."""
    if entry.formula != JOINED or position is None or isinstance(entry, schema.NumberEntry):
        return entry.uses
    at = [point[0] for point in entry.points].index(position)
    return (entry.uses[at],)


def _lend_sources(parts: Parts, maker: _Maker) -> None:
    """Give each point of a joined series the basis and source of the value it stands for."""
    for key, entry in maker.entries.items():
        if entry.formula != JOINED:
            continue
        for point, used in zip(parts.series[key].points, entry.uses, strict=True):
            lender = parts.flat[resolved(used, maker.chosen)]
            parts.flat[point.key] = msgspec.structs.replace(
                point,
                basis=lender.basis,
                source=lender.source,
                locator=lender.locator,
                read=lender.read,
                judged_on=lender.judged_on,
                applies_to=lender.applies_to,
            )
        parts.series[key] = _regathered(parts.series[key], parts.flat)


def _regathered(series: Series, flat: Mapping[str, Constant]) -> Series:
    return msgspec.structs.replace(series, points=tuple(flat[point.key] for point in series.points))


def _follow(parts: Parts, maker: _Maker) -> None:
    """Let derived values follow a clinic's own values; untouched ones stand as written."""
    moved = set(maker.overrides) | {CHOICE + name for name in maker.choices}
    for key in derived_in_order(maker.entries, maker.chosen) if moved else ():
        entry = maker.entries[key]
        asked = {name for used in entry.uses for name in _names(used, parts.series, maker.chosen)}
        if moved.isdisjoint(asked):
            continue
        for position, constant in _points(key, parts):
            if constant.key in maker.overrides:
                continue
            now = computed(entry, position, parts, maker.chosen)
            if abs(now - constant.value) <= written_tolerance(constant.value):
                continue
            parts.flat[constant.key] = msgspec.structs.replace(
                constant, value=now, overridden_from=constant.value
            )
            moved.add(constant.key)
        if key in parts.series:
            parts.series[key] = _regathered(parts.series[key], parts.flat)


def derived_in_order(
    entries: Mapping[str, schema.AnyEntry], chosen: Mapping[str, str]
) -> list[str]:
    """The keys of all derived entries, each after those it is derived from.

    Raises:
        ContentError: CONTENT-007 when values are derived from one another in a circle.
    """
    graph = {
        key: {_entry_of(resolved(used, chosen), entries) for used in entry.uses}
        for key, entry in entries.items()
        if entry.uses
    }
    try:
        ordered = list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        circle = " -> ".join(error.args[1])
        raise ContentError(
            Problem(
                code="CONTENT-007",
                what=message("{circle}.", circle=circle),
                why=message("No value can be derived from itself."),
                fix=message("Enter one of them with a source of its own."),
                where=error.args[1][0],
            )
        ) from None
    return [key for key in ordered if key in graph]


def _entry_of(key: str, entries: Mapping[str, schema.AnyEntry]) -> str:
    """The entry that a key belongs to: a point of a series belongs to the series."""
    return key if key in entries else key.rpartition(".")[0]


def _names(used: str, series: Mapping[str, Series], chosen: Mapping[str, str]) -> list[str]:
    """Every key through which an argument may have moved."""
    key = resolved(used, chosen)
    points = [point.key for point in series[key].points] if key in series else [key]
    return [used, *points]


def _points(key: str, parts: Parts) -> list[tuple[float | None, Constant]]:
    if key in parts.series:
        series = parts.series[key]
        return list(zip(series.positions, series.points, strict=True))
    return [(None, parts.flat[key])]


def stale(
    entries: Mapping[str, schema.AnyEntry], parts: Parts, chosen: Mapping[str, str]
) -> list[Problem]:
    """A problem for each derived value that its formula no longer gives, to the digits written."""
    return [
        problem
        for key in derived_in_order(entries, chosen)
        for position, constant in _points(key, parts)
        for problem in _stale_point(entries[key], position, constant, parts, chosen)
    ]


def _stale_point(
    entry: schema.AnyEntry,
    position: float | None,
    constant: Constant,
    parts: Parts,
    chosen: Mapping[str, str],
) -> Iterator[Problem]:
    words = FORMULAS[entry.formula].words
    try:
        now = computed(entry, position, parts, chosen)
    except (RefusalError, ArithmeticError):
        yield Problem(
            code="CONTENT-007",
            what=message("{words} cannot be computed.", words=words),
            why=message("A derived point exists only where its arguments do."),
            fix=message("Move or leave out the point, or correct its arguments."),
            where=constant.key,
        )
        return
    if not abs(now - constant.value) <= written_tolerance(constant.value):
        yield Problem(
            code="CONTENT-016",
            what=message(
                "{value} is written, {now} follows.", value=f"{constant.value:g}", now=f"{now:.6g}"
            ),
            why=message("It is derived: {words}.", words=words),
            fix=message("Write the value that follows, or correct its arguments."),
            where=constant.key,
        )


def written_tolerance(value: float) -> float:
    """Half a unit in the last place that is written, with a hair for binary fractions."""
    exponent = 0 if value == int(value) else int(Decimal(repr(value)).as_tuple().exponent)
    return 0.5000001 * 10.0**exponent
