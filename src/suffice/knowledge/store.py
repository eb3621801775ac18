"""The content store: every clinical value with its source, loaded once and never changed.

>>> content = load()
>>> content.constant("temperature.fever_c").value
38.0

:func:`load` reads the files beside this module. A clinic's own values come in through
:meth:`Content.with_overrides` and :meth:`Content.with_choices`, which give another content and
leave this one as it is. A question that content cannot answer is a ContentError that names the
nearest keys.
"""

from __future__ import annotations

import difflib
import hashlib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import ContentError, InputError, Problem
from suffice.knowledge import schema
from suffice.knowledge.checking import check
from suffice.knowledge.derivation import FORMULAS, JOINED
from suffice.knowledge.reading import read
from suffice.knowledge.series import Series, Words

COMMON_PRACTICE = "common practice, no source"
FROM_MEMORY = "from memory, to verify"


@dataclass(frozen=True, slots=True, eq=False)
class Content:
    """All clinical values in force, with everything their authors wrote about them.

    Attributes:
        version: Calendar version of the content set.
        digest: SHA-256 over all content, and over the overrides and choices where there are any;
            two contents with the same digest answer every question alike.
        base_digest: The same without them.
        manifest: Version, day and note of the set.
        units: Units by symbol.
        sources: Sources by short name.
        topics: Title and purpose of each topic.
        entries: What was written about each value, by key.
        flat: Every constant by key, with a series' points under key, dot, position.
        series: Series by key.
        wordings: Words along an axis, by key.
        disagreements: Where sources do not agree, and which is in force.
        rules: Decision tables by name.
        overrides: A clinic's own values, by key.
        choices: A clinic's own choice where sources disagree, by the disagreement's name.
    """

    version: str
    digest: str
    base_digest: str
    manifest: schema.Manifest
    units: Mapping[str, schema.Unit]
    sources: Mapping[str, schema.Source]
    topics: Mapping[str, schema.Topic]
    entries: Mapping[str, schema.AnyEntry]
    flat: Mapping[str, Constant]
    series: Mapping[str, Series]
    wordings: Mapping[str, Words]
    disagreements: Mapping[str, schema.Disagreement]
    rules: Mapping[str, tuple[schema.Rule, ...]]
    overrides: Mapping[str, float]
    choices: Mapping[str, str]

    def constant(self, key: str) -> Constant:
        """The constant of a key; a point of a series is asked as ``topic.name.position``.

        Raises:
            ContentError: CONTENT-013, with the nearest keys, when there is none.
        """
        if key not in self.flat:
            raise ContentError(_unknown(key, self.flat))
        return self.flat[key]

    def constants(self, prefix: str = "") -> dict[str, Constant]:
        """All constants of a topic (or of one name and its points), by full key.

        Args:
            prefix: A topic or a key without its last parts; empty for all of them.

        Raises:
            ContentError: CONTENT-013 when nothing begins so.
        """
        if not prefix:
            return dict(self.flat)
        start = prefix.rstrip(".") + "."
        found = {key: one for key, one in self.flat.items() if key.startswith(start)}
        if not found:
            raise ContentError(_unknown(prefix, [*self.topics, *self.flat]))
        return found

    def symbols(self, topic: str) -> dict[str, Constant]:
        """The constants of a topic by the symbol under which its equations know them."""
        return {
            entry.symbol: self.flat[key]
            for key, entry in self.entries.items()
            if entry.symbol and key.startswith(f"{topic}.")
        }

    def table(self, key: str) -> Series:
        """The series of a key.

        Raises:
            ContentError: CONTENT-013, with the nearest keys, when there is none.
        """
        if key not in self.series:
            raise ContentError(_unknown(key, self.series))
        return self.series[key]

    def words(self, key: str) -> Words:
        """The words of a key, along their axis.

        Raises:
            ContentError: CONTENT-013, with the nearest keys, when there are none.
        """
        if key not in self.wordings:
            raise ContentError(_unknown(key, self.wordings))
        return self.wordings[key]

    def chosen(self, name: str) -> str:
        """The key of the entry in force where sources disagree: the only one a family reads.

        Raises:
            ContentError: CONTENT-013 when there is no such disagreement.
        """
        if name not in self.disagreements:
            raise ContentError(_unknown(name, self.disagreements))
        return self.disagreements[name].chosen

    def with_overrides(self, values: Mapping[str, float], *, force: bool = False) -> Content:
        """This content with a clinic's own values in place of ours; derived values follow.

        Args:
            values: Key (or key, dot, position) to value, in the unit of the key.
            force: Accept a value outside the range that the entry names.

        Raises:
            ContentError: CONTENT-013 for each key that does not exist.
            InputError: CONTENT-014 for each value outside its range, or not finite.
        """
        unknown = [_unknown(key, self.flat) for key in values if key not in self.flat]
        if unknown:
            raise ContentError.from_problems(unknown)
        outside = [
            _outside(self.flat[key], value)
            for key, value in values.items()
            if not _may_be(self.flat[key], value, force=force)
        ]
        if outside:
            raise InputError.from_problems(outside)
        merged = dict(self.overrides) | {key: float(value) for key, value in values.items()}
        return _assembled(replace(self, overrides=MappingProxyType(merged)))

    def with_choices(self, choices: Mapping[str, str]) -> Content:
        """This content with a clinic's own choice where sources disagree.

        Args:
            choices: Name of the disagreement to the key of one of its candidates.

        Raises:
            ContentError: CONTENT-013 for a disagreement that does not exist.
            InputError: CONTENT-014 for a key that is not one of its candidates.
        """
        changed = dict(self.disagreements)
        for name, key in choices.items():
            self.chosen(name)
            if key not in changed[name].candidates:
                raise InputError(_no_candidate(name, key, changed[name].candidates))
            changed[name] = msgspec.structs.replace(changed[name], chosen=key)
        merged = MappingProxyType(dict(self.choices) | dict(choices))
        return _assembled(replace(self, disagreements=MappingProxyType(changed), choices=merged))


@cache
def load() -> Content:
    """The content that ships with the program, checked and immutable; read once.

    Raises:
        ContentError: Every problem in the files at once, CONTENT-001 to CONTENT-012.
    """
    return load_folder(files("suffice.knowledge") / "content")


def load_folder(folder: Traversable) -> Content:
    """The content of another folder of the same layout.

    Raises:
        ContentError: Every problem in the files at once, CONTENT-001 to CONTENT-012.
    """
    found = read(folder)
    check(found)
    bare = Content(
        version=found.manifest.version,
        digest=found.digest,
        base_digest=found.digest,
        manifest=found.manifest,
        units=MappingProxyType(found.units),
        sources=MappingProxyType(found.sources),
        topics=MappingProxyType(found.topics),
        entries=MappingProxyType(found.entries),
        flat=MappingProxyType({}),
        series=MappingProxyType({}),
        wordings=MappingProxyType({}),
        disagreements=MappingProxyType(found.disagreements),
        rules=MappingProxyType(found.rules),
        overrides=MappingProxyType({}),
        choices=MappingProxyType({}),
    )
    built = _assembled(bare)
    _refuse_stale(built)
    return built


def _assembled(content: Content) -> Content:
    """The same content with constants, series, words and digest built anew."""
    flat: dict[str, Constant] = {}
    series: dict[str, Series] = {}
    wordings: dict[str, Words] = {}
    for key, entry in content.entries.items():
        if isinstance(entry, schema.NumberEntry):
            flat[key] = _constant(key, entry, (entry.value, entry.low, entry.high), content)
        elif isinstance(entry, schema.SeriesEntry):
            series[key] = _series(key, entry, content)
            flat.update((point.key, point) for point in series[key].points)
        else:
            wordings[key] = _words(key, entry, content)
    _lend_sources(content, flat, series)
    _follow(content, flat, series)
    return replace(
        content,
        digest=_digest(content),
        flat=MappingProxyType(flat),
        series=MappingProxyType(series),
        wordings=MappingProxyType(wordings),
    )


def _digest(content: Content) -> str:
    if not content.overrides and not content.choices:
        return content.base_digest
    changes = {
        "base": content.base_digest,
        "overrides": dict(sorted(content.overrides.items())),
        "choices": dict(sorted(content.choices.items())),
    }
    return hashlib.sha256(msgspec.json.encode(changes)).hexdigest()


def source_of(entry: schema.AnyEntry, sources: Mapping[str, schema.Source]) -> str:
    """The short citation of an entry, with the words of its basis where it has no source."""
    short = sources[entry.citations[0].source].short if entry.citations else ""
    if entry.basis == "common practice":
        return COMMON_PRACTICE
    if entry.basis == "judgement":
        return f"judgement of {entry.judged_by}, {entry.judged_on}"
    if entry.basis == "derived":
        return f"derived: {FORMULAS[entry.formula].words}, from {', '.join(entry.uses)}"
    if entry.basis == FROM_MEMORY:
        return f"{short} ({FROM_MEMORY})" if short else FROM_MEMORY
    return short


def _locator(entry: schema.AnyEntry) -> str:
    place = entry.citations[0].locator if entry.citations else ""
    return "; ".join(part for part in (place, f"read: {entry.read}" if entry.read else "") if part)


def _constant(
    key: str,
    entry: schema.AnyEntry,
    values: tuple[float, float | None, float | None],
    content: Content,
) -> Constant:
    value, low, high = values
    own = content.overrides.get(key)
    return Constant(
        key=key,
        value=float(value if own is None else own),
        unit=entry.unit,
        basis=entry.basis,
        source=source_of(entry, content.sources),
        locator=_locator(entry),
        low=low,
        high=high,
        applies_to=entry.applies_to,
        overridden_from=None if own is None else float(value),
    )


def _series(key: str, entry: schema.SeriesEntry, content: Content) -> Series:
    points = []
    for point in entry.points:
        low, high = (point[2], point[3]) if len(point) == 4 else (None, None)
        points.append(_constant(f"{key}.{point[0]:g}", entry, (point[1], low, high), content))
    return Series(
        key=key,
        axis=entry.axis,
        between=entry.between,
        until=entry.until,
        positions=tuple(float(point[0]) for point in entry.points),
        points=tuple(points),
    )


def _words(key: str, entry: schema.WordsEntry, content: Content) -> Words:
    return Words(
        key=key,
        axis=entry.axis,
        until=entry.until,
        positions=tuple(float(point[0]) for point in entry.points),
        words=tuple(point[1] for point in entry.points),
        basis=entry.basis,
        source=source_of(entry, content.sources),
    )


def recomputed(content: Content, key: str, position: float | None = None) -> float:
    """A derived value worked out anew from the values in force of its arguments.

    Args:
        content: The content whose values go in.
        key: Key of a derived entry.
        position: Where along the axis, for a series.
    """
    return _computed(content.entries[key], position, content.flat, content.series)


def _computed(
    entry: schema.AnyEntry,
    position: float | None,
    flat: Mapping[str, Constant],
    series: Mapping[str, Series],
) -> float:
    values = [
        series[used].at(position).value
        if used in series and position is not None
        else flat[used].value
        for used in _uses_at(entry, position)
    ]
    return FORMULAS[entry.formula].compute(*values)


def _uses_at(entry: schema.AnyEntry, position: float | None) -> tuple[str, ...]:
    """The keys of the arguments at a position: one of them where single values are joined."""
    if entry.formula != JOINED or position is None or isinstance(entry, schema.NumberEntry):
        return entry.uses
    at = [point[0] for point in entry.points].index(position)
    return (entry.uses[at],)


def _lend_sources(content: Content, flat: dict[str, Constant], series: dict[str, Series]) -> None:
    """Give each point of a joined series the basis and source of the value it stands for."""
    for key, entry in content.entries.items():
        if entry.formula != JOINED:
            continue
        for point, used in zip(series[key].points, entry.uses, strict=True):
            lender = flat[used]
            flat[point.key] = msgspec.structs.replace(
                point,
                basis=lender.basis,
                source=lender.source,
                locator=lender.locator,
                applies_to=lender.applies_to,
            )
        series[key] = _regathered(series[key], flat)


def _regathered(series: Series, flat: Mapping[str, Constant]) -> Series:
    return msgspec.structs.replace(series, points=tuple(flat[point.key] for point in series.points))


def _follow(content: Content, flat: dict[str, Constant], series: dict[str, Series]) -> None:
    """Let derived values follow a clinic's own values; untouched ones stand as written."""
    moved = set(content.overrides)
    for key in derived_in_order(content.entries) if moved else ():
        entry = content.entries[key]
        asked = {name for used in entry.uses for name in _names(used, series)}
        if moved.isdisjoint(asked):
            continue
        for position, constant in _points(key, flat, series):
            if constant.key in content.overrides:
                continue
            now = _computed(entry, position, flat, series)
            if abs(now - constant.value) <= written_tolerance(constant.value):
                continue
            flat[constant.key] = msgspec.structs.replace(
                constant, value=now, overridden_from=constant.value
            )
            moved.add(constant.key)
        if key in series:
            series[key] = _regathered(series[key], flat)


def derived_in_order(entries: Mapping[str, schema.AnyEntry]) -> list[str]:
    """The keys of all derived entries, each after those it is derived from.

    Raises:
        ContentError: CONTENT-007 when values are derived from one another in a circle.
    """
    graph = {key: set(entry.uses) for key, entry in entries.items() if entry.uses}
    try:
        ordered = list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        circle = " -> ".join(error.args[1])
        raise ContentError(
            Problem(
                code="CONTENT-007",
                what=f"{circle}.",
                why="No value can be derived from itself.",
                fix="Enter one of them with a source of its own.",
                where=error.args[1][0],
            )
        ) from None
    return [key for key in ordered if key in graph]


def _names(key: str, series: Mapping[str, Series]) -> list[str]:
    return [point.key for point in series[key].points] if key in series else [key]


def _points(
    key: str, flat: Mapping[str, Constant], series: Mapping[str, Series]
) -> list[tuple[float | None, Constant]]:
    if key in series:
        return list(zip(series[key].positions, series[key].points, strict=True))
    return [(None, flat[key])]


def _refuse_stale(content: Content) -> None:
    """Refuse a derived value that its formula no longer gives, to the digits that are written."""
    stale = []
    for key in derived_in_order(content.entries):
        for position, constant in _points(key, content.flat, content.series):
            now = recomputed(content, key, position)
            if not abs(now - constant.value) <= written_tolerance(constant.value):
                stale.append(
                    Problem(
                        code="CONTENT-016",
                        what=f"{constant.value} is written, {now:.6g} follows.",
                        why=f"It is derived: {FORMULAS[content.entries[key].formula].words}.",
                        fix="Write the value that follows, or mend its arguments.",
                        where=constant.key,
                    )
                )
    if stale:
        raise ContentError.from_problems(stale)


def written_tolerance(value: float) -> float:
    """Half a unit in the last place that is written, with a hair for binary fractions."""
    exponent = 0 if value == int(value) else int(Decimal(repr(value)).as_tuple().exponent)
    return 0.5000001 * 10.0**exponent


def _unknown(key: str, known: Iterable[str]) -> Problem:
    near = difflib.get_close_matches(key, list(known), n=3, cutoff=0.6)
    return Problem(
        code="CONTENT-013",
        what=f"there is no '{key}' in the content.",
        why="A value that is asked for must be entered with its source.",
        fix=f"Did you mean {' or '.join(near)}?" if near else "Look it up in the Library.",
        where=key,
    )


def _may_be(constant: Constant, value: float, *, force: bool) -> bool:
    if not math.isfinite(value):
        return False
    if force:
        return True
    return (
        constant.low is not None
        and constant.high is not None
        and constant.low <= value <= constant.high
    )


def _outside(constant: Constant, value: float) -> Problem:
    has_range = constant.low is not None and constant.high is not None
    allowed = (
        f"A clinic may choose {constant.low:g} to {constant.high:g} {constant.unit}."
        if has_range
        else "No range was published, so a clinic may not change it unasked."
    )
    return Problem(
        code="CONTENT-014",
        what=f"{value:g} {constant.unit} in place of {constant.value:g} {constant.unit}.",
        why=allowed,
        fix="Choose a value in the range, or confirm that it is meant.",
        where=constant.key,
        doubtful=math.isfinite(value),
    )


def _no_candidate(name: str, key: str, candidates: tuple[str, ...]) -> Problem:
    return Problem(
        code="CONTENT-014",
        what=f"'{key}' is chosen.",
        why=f"Only what answers the question can be chosen: {', '.join(candidates)}.",
        fix="Choose one of these.",
        where=name,
    )
