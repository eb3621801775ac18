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
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Final

import msgspec

from suffice.clinical.working import Constant
from suffice.errors import ContentError, InputError, Problem
from suffice.knowledge import schema
from suffice.knowledge.assembly import Parts, assemble, computed, stale
from suffice.knowledge.checking import check
from suffice.knowledge.observable import KnownFact, Part
from suffice.knowledge.own_value import Limits, limits_of
from suffice.knowledge.problem import FOLDER as PROBLEMS
from suffice.knowledge.problem import Guide, words_of
from suffice.knowledge.reading import read
from suffice.knowledge.series import Series, Words
from suffice.knowledge.sheet import Sheet
from suffice.message import Listed, Message, Number, message

WITHOUT_UNIT: Final = "1"
"""The unit of a bare number."""


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
        flags: The table of flags, in order.
        askable: What its rows may ask.
        vocabularies: Words that can be entered, by vocabulary and key.
        known: What follows from other entries and is never entered as an observation, by key.
        parts: The parts of a contact in their order, by the name of their file.
        guide: Problems, instructions and the rules between them.
        sheets: Teaching sheets in their order, by key.
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
    flags: tuple[schema.Flag, ...]
    askable: schema.Askable
    vocabularies: Mapping[str, Mapping[str, schema.Term]]
    known: Mapping[str, KnownFact]
    parts: Mapping[str, Part]
    guide: Guide
    sheets: Mapping[str, Sheet]
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
            force: Accept a value outside the range that the entry names, within its limits.

        Raises:
            ContentError: CONTENT-013 for each key that does not exist.
            InputError: CONTENT-014 for each value outside its range, CONTENT-025 for each that is
                beyond its limits or not finite.
        """
        unknown = [_unknown(key, self.flat) for key in values if key not in self.flat]
        if unknown:
            raise ContentError.from_problems(unknown)
        outside = [*self._refused(values, force=force)]
        if outside:
            raise InputError.from_problems(outside)
        merged = dict(self.overrides) | {key: float(value) for key, value in values.items()}
        return _assembled(replace(self, overrides=MappingProxyType(merged)))

    def limits(self, key: str) -> Limits:
        """How far a clinic's own value of a key may go, whatever is confirmed.

        Raises:
            ContentError: CONTENT-013, with the nearest keys, when there is no such value.
        """
        name = key if key in self.entries else key.rpartition(".")[0]
        entry = self.entries.get(name)
        # Words have no constants.
        if key not in self.flat or entry is None or isinstance(entry, schema.WordsEntry):
            raise ContentError(_unknown(key, self.flat))
        return limits_of(name, entry, self.units)

    def _refused(self, values: Mapping[str, float], *, force: bool) -> Iterator[Problem]:
        """A problem for each of a clinic's own values that cannot be taken, or not unasked."""
        for key, value in values.items():
            if not self.limits(key).hold(value):
                yield _beyond(self.flat[key], value, self.limits(key))
            elif not force and not _is_in_range(self.flat[key], value):
                yield _outside(self.flat[key], value)

    def completed_from(self, later: Content) -> Content:
        """This content with the entries and words that only a later one has.

        The program may ask for values that an earlier set did not hold yet, or held in another
        shape; those are the later set's, and so are the limits of a clinic's own values: they say what
        the program of today can work with. The flags stay this content's; what one means where milk is
        judged is the later set's where this one does not say it.

        Args:
            later: The content that ships with the program.
        """
        entries = dict(later.entries)
        for key, one in self.entries.items():
            if key not in entries or type(entries[key]) is type(one):
                entries[key] = _limited_as(one, entries.get(key))
        judged = {row.code: row.judged for row in later.flags}
        completed = replace(
            self,
            flags=tuple(
                msgspec.structs.replace(row, judged=row.judged or judged.get(row.code))
                for row in self.flags
            ),
            entries=MappingProxyType(entries),
            units=MappingProxyType({**self.units, **later.units}),
            sources=MappingProxyType({**later.sources, **self.sources}),
            topics=MappingProxyType({**later.topics, **self.topics}),
            disagreements=MappingProxyType({**later.disagreements, **self.disagreements}),
            vocabularies=MappingProxyType(
                {**later.vocabularies, **{k: v for k, v in self.vocabularies.items() if v}}
            ),
            known=self.known or later.known,
            parts=self.parts or later.parts,
            guide=self.guide if self.guide.problems else later.guide,
            sheets=self.sheets or later.sheets,
        )
        return _assembled(completed)

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
        flags=found.flags,
        askable=found.askable,
        vocabularies=MappingProxyType(
            {**found.vocabularies, PROBLEMS: words_of(found.guide)}
            if found.guide.problems
            else found.vocabularies
        ),
        known=MappingProxyType(found.known),
        parts=MappingProxyType(found.parts),
        guide=found.guide,
        sheets=MappingProxyType(found.sheets),
        overrides=MappingProxyType({}),
        choices=MappingProxyType({}),
    )
    built = _assembled(bare)
    problems = stale(built.entries, _parts(built), _chosen(built))
    if problems:
        raise ContentError.from_problems(problems)
    return built


def _assembled(content: Content) -> Content:
    """The same content with constants, series, words and digest built anew."""
    parts = assemble(
        content.entries,
        content.sources,
        content.overrides,
        _chosen(content),
        content.choices,
    )
    return replace(
        content,
        digest=_digest(content),
        flat=MappingProxyType(parts.flat),
        series=MappingProxyType(parts.series),
        wordings=MappingProxyType(parts.wordings),
    )


def _chosen(content: Content) -> dict[str, str]:
    return {name: one.chosen for name, one in content.disagreements.items()}


def _parts(content: Content) -> Parts:
    return Parts(flat=dict(content.flat), series=dict(content.series))


def _digest(content: Content) -> str:
    if not content.overrides and not content.choices:
        return content.base_digest
    changes = {
        "base": content.base_digest,
        "overrides": dict(sorted(content.overrides.items())),
        "choices": dict(sorted(content.choices.items())),
    }
    return hashlib.sha256(msgspec.json.encode(changes)).hexdigest()


def recomputed(content: Content, key: str, position: float | None = None) -> float:
    """A derived value worked out anew from the values in force of its arguments.

    Args:
        content: The content whose values go in.
        key: Key of a derived entry.
        position: Where along the axis, for a series.
    """
    return computed(content.entries[key], position, _parts(content), _chosen(content))


def _unknown(key: str, known: Iterable[str]) -> Problem:
    near = difflib.get_close_matches(key, list(known), n=3, cutoff=0.6)
    return Problem(
        code="CONTENT-013",
        what=message("there is no '{key}' in the content.", key=key),
        why=message("A value that is asked for must be entered with its source."),
        fix=message("Did you mean {near}?", near=Listed(tuple(near), "or"))
        if near
        else message("Look it up in the Library."),
        where=key,
    )


def _limited_as(one: schema.AnyEntry, later: schema.AnyEntry | None) -> schema.AnyEntry:
    """An entry with the limits of a later one, where that names any."""
    if isinstance(one, schema.WordsEntry) or later is None or isinstance(later, schema.WordsEntry):
        return one
    return msgspec.structs.replace(one, least=later.least, most=later.most)


def _is_in_range(constant: Constant, value: float) -> bool:
    return (
        constant.low is not None
        and constant.high is not None
        and constant.low <= value <= constant.high
    )


def _outside(constant: Constant, value: float) -> Problem:
    allowed = (
        message("No range was published, so a clinic may not change it unasked.")
        if constant.low is None or constant.high is None
        else message(
            "A clinic may choose {low} to {high} {unit}.",
            low=Number(constant.low),
            high=Number(constant.high),
            unit=constant.unit,
        )
    )
    return Problem(
        code="CONTENT-014",
        what=_in_place_of_ours(constant, value),
        why=allowed,
        fix=message("Choose a value in the range, or confirm that it is meant."),
        where=constant.key,
        doubtful=True,
    )


def _beyond(constant: Constant, value: float, limits: Limits) -> Problem:
    return Problem(
        code="CONTENT-025",
        what=_in_place_of_ours(constant, value),
        why=message("The program cannot work with it.")
        if limits.least < limits.most
        else message("It marks where something begins, and is the same for everybody."),
        fix=_within(limits, constant.unit)
        if limits.least < limits.most
        else message("Leave it empty."),
        where=constant.key,
    )


def _within(limits: Limits, unit: str) -> Message:
    least, most = Number(limits.least), Number(limits.most)
    if unit == WITHOUT_UNIT:
        return message("Enter {least} to {most}.", least=least, most=most)
    return message("Enter {least} to {most} {unit}.", least=least, most=most, unit=unit)


def _in_place_of_ours(constant: Constant, value: float) -> Message:
    if constant.unit == WITHOUT_UNIT:
        return message(
            "{value} in place of {ours}.", value=Number(value), ours=Number(constant.value)
        )
    return message(
        "{value} {unit} in place of {ours} {unit}.",
        value=Number(value),
        ours=Number(constant.value),
        unit=constant.unit,
    )


def _no_candidate(name: str, key: str, candidates: tuple[str, ...]) -> Problem:
    return Problem(
        code="CONTENT-014",
        what=message("'{key}' is chosen.", key=key),
        why=message(
            "Only what answers the question can be chosen: {candidates}.",
            candidates=", ".join(candidates),
        ),
        fix=message("Choose one of these."),
        where=name,
    )
