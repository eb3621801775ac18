"""Reads the content files and finds everything that is wrong with them before anything is used.

All problems are collected and raised together as one :class:`ContentError`, each with its file
and key, so an author corrects them in one go. Nothing half-read ever leaves this module.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from datetime import date
from heapq import merge
from importlib.resources.abc import Traversable
from typing import Any, TypeVar

import msgspec
import tomli

from suffice.clinical.entry import KINDS
from suffice.clinical.entry.field import Listed, fields_of
from suffice.errors import ContentError, Problem
from suffice.knowledge import schema
from suffice.knowledge.observable import FOLDER, KNOWN, KnownFact, Observable, Part, files_of
from suffice.knowledge.problem import FOLDER as PROBLEMS
from suffice.knowledge.problem import Guide
from suffice.knowledge.reading_problems import read_guide
from suffice.knowledge.score import SCORES, ScoreTool
from suffice.knowledge.sheet import FOLDER as SHEETS
from suffice.knowledge.sheet import Sheet
from suffice.message import Message, Words, message

_Table = TypeVar("_Table")

SIGNS = "signs"
"""The vocabulary whose words rows may ask."""
READ_ELSEWHERE = frozenset({FOLDER, PROBLEMS, SCORES})
"""Vocabularies that are more than a list of words in a file of their name."""
VOCABULARIES = sorted(
    {
        field.vocabulary
        for kind in KINDS.values()
        for field in fields_of(kind).values()
        if isinstance(field, Listed)
    }
    - READ_ELSEWHERE
)
"""Files at the top of the content folder that hold words which can be entered, as the kinds name them."""
SOURCE_FILES = ("sources", "contact_sources", "sheet_sources")
"""Files at the top of the content folder that hold sources."""
NOT_TOPICS = frozenset({"content", "units", "disagreements", SCORES, *SOURCE_FILES, *VOCABULARIES})
"""Files at the top of the content folder that hold no entries."""
FLAG_FILES: dict[str, frozenset[schema.FlagTopic]] = {
    "rules/sign_flags": frozenset({"sign", "illness"}),
    "rules/bilirubin_flags": frozenset({"sign"}),
    "rules/parent_sign_flags": frozenset({"sign", "illness"}),
    "rules/combined_flags": frozenset({"combined"}),
    "rules/temperature_flags": frozenset({"temperature"}),
    "rules/weight_flags": frozenset({"weight"}),
    "rules/gain_flags": frozenset({"gain", "growth"}),
    "rules/output_flags": frozenset({"output", "milk", "feeding"}),
    "rules/problem_flags": frozenset({"problem"}),
    "rules/red_flags": frozenset({"overdue", "not known", "engine"}),
}
"""The files of the one table of flags, below the content folder, with the topics of their rows; of
equally urgent rows those of a file that is named earlier stand first."""
COLOURS = ("red", "amber", "note")
"""The colours of flags, the most urgent first."""
FACTS = "rules/facts"
"""The file of what rows may ask."""


@dataclass(frozen=True, slots=True)
class Written:
    """Everything the authors wrote, read and found to be of the right shape."""

    manifest: schema.Manifest
    digest: str
    units: dict[str, schema.Unit]
    sources: dict[str, schema.Source]
    topics: dict[str, schema.Topic]
    entries: dict[str, schema.AnyEntry]
    disagreements: dict[str, schema.Disagreement]
    flags: tuple[schema.Flag, ...]
    askable: schema.Askable
    vocabularies: dict[str, dict[str, schema.Term]]
    known: dict[str, KnownFact] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    guide: Guide = field(default_factory=Guide)
    sheets: dict[str, Sheet] = field(default_factory=dict)


@dataclass(slots=True)
class Faults:
    """The problems found so far."""

    problems: list[Problem] = field(default_factory=list)

    def add(self, code: str, where: Words, *, what: Words, why: Words, fix: Words) -> None:
        """Note one problem and go on."""
        self.problems.append(Problem(code=code, what=what, why=why, fix=fix, where=where))

    def raise_any(self) -> None:
        """Raise all of them as one error, if there are any."""
        if self.problems:
            raise ContentError.from_problems(self.problems)


def files_below(folder: Traversable, prefix: str = "") -> dict[str, Traversable]:
    """Every file in the folder and below it, by its relative path, in sorted order."""
    found: dict[str, Traversable] = {}
    for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if item.name.startswith((".", "__")):
            continue
        if item.is_dir():
            found.update(files_below(item, f"{prefix}{item.name}/"))
        else:
            found[prefix + item.name] = item
    return found


def digest_of(files: dict[str, bytes]) -> str:
    """The SHA-256 over all paths and contents, as hexadecimal digits."""
    digest = hashlib.sha256()
    for path, content in sorted(files.items()):
        digest.update(f"{path}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def _parsed(path: str, content: bytes, faults: Faults) -> dict[str, Any]:
    try:
        return tomli.loads(content.decode("utf-8"))
    except (tomli.TOMLDecodeError, UnicodeDecodeError) as error:
        faults.add(
            "CONTENT-001",
            path,
            what=message("The file cannot be read: {error}.", error=str(error)),
            why=message("Content files are TOML in UTF-8."),
            fix=message("Correct the line that is named."),
        )
        return {}


def _shaped(raw: Any, shape: type[_Table], where: Words, faults: Faults) -> _Table | None:
    try:
        return msgspec.convert(raw, shape)
    except msgspec.ValidationError as error:
        faults.add(
            "CONTENT-002",
            where,
            what=message("The table is not as it should be: {error}.", error=str(error)),
            why=message("Each table has the fields of its kind, and no others."),
            fix=message("See docs/reference/content.md for the fields of an entry."),
        )
        return None


def _entry_shape(raw: dict[str, Any]) -> type[schema.AnyEntry]:
    if "points" not in raw:
        return schema.NumberEntry
    points = raw["points"] if isinstance(raw["points"], list) else []
    words = any(
        isinstance(point, list) and point and isinstance(point[-1], list) for point in points
    )
    return schema.WordsEntry if words else schema.SeriesEntry


def _read_topic(name: str, raw: dict[str, Any], found: Written, faults: Faults) -> None:
    path = f"{name}.toml"
    head = _shaped(raw.get("topic", {}), schema.Topic, f"{path} topic", faults)
    if head is None:
        return
    found.topics[name] = head
    dates = {"effective_from": head.effective_from, "review_by": head.review_by}
    for short, table in raw.items():
        if short == "topic":
            continue
        where = f"{path} {short}"
        if not isinstance(table, dict):
            faults.add(
                "CONTENT-002",
                where,
                what=message("'{name}' is not a table.", name=short),
                why=message("A value never comes without its source."),
                fix=message("Write [{name}] with value, unit, basis and the rest.", name=short),
            )
            continue
        entry = _shaped(dates | table, _entry_shape(table), where, faults)
        if entry is not None:
            found.entries[f"{name}.{short}"] = entry


def _read_tables(
    raw: dict[str, Any], shape: type[_Table], path: str, faults: Faults
) -> dict[str, _Table]:
    shaped = {name: _shaped(table, shape, f"{path} {name}", faults) for name, table in raw.items()}
    return {name: table for name, table in shaped.items() if table is not None}


def _read_parts(parsed: dict[str, dict[str, Any]], faults: Faults) -> dict[str, Part]:
    """The parts of a contact, in their order."""
    heads = {
        path: _shaped(raw.get("part", {}), Part, f"{path}.toml part", faults)
        for path, raw in files_of(parsed)
    }
    held = {path.removeprefix(f"{FOLDER}/"): head for path, head in heads.items() if head}
    return dict(sorted(held.items(), key=lambda one: one[1].place))


def _observables(
    parsed: dict[str, dict[str, Any]], parts: dict[str, Part], faults: Faults
) -> dict[str, schema.Term]:
    """The vocabulary of observations, part by part; a key stands in one part only."""
    found: dict[str, schema.Term] = {}
    for part, head in parts.items():
        path = f"{FOLDER}/{part}"
        rows = {key: row for key, row in parsed[path].items() if key != "part"}
        brought = {"part": part, "group": head.title}
        full = {k: brought | row if isinstance(row, dict) else row for k, row in rows.items()}
        for key, one in _read_tables(full, Observable, f"{path}.toml", faults).items():
            if key in found:
                faults.add(
                    "CONTENT-012",
                    f"{path}.toml {key}",
                    what=message("The observation '{key}' is in two parts.", key=key),
                    why=message("One key then means two things on the record."),
                    fix=message("Give one of them another key."),
                )
            found[key] = one
    return found


def _row_of(name: str, number: int) -> Message:
    return message("{file}, row {number}", file=f"{name}.toml", number=number)


def _read_flags(parsed: dict[str, dict[str, Any]], faults: Faults) -> tuple[schema.Flag, ...]:
    """The rows of all files as one table, each file in its own order."""
    files = (
        [
            row
            for number, raw in enumerate(parsed.get(name, {}).get("flag", ()), start=1)
            if (row := _shaped(raw, schema.Flag, _row_of(name, number), faults)) is not None
        ]
        for name in FLAG_FILES
    )
    return tuple(
        merge(*files, key=lambda row: (COLOURS.index(row.colour), row.level != "emergency"))
    )


def _askable(
    parsed: dict[str, dict[str, Any]],
    terms: dict[str, schema.Term],
    faults: Faults,
) -> schema.Askable:
    """What rows may ask: the names of the file, and every sign that can be entered."""
    written = _shaped(parsed.get(FACTS, {}), schema.Askable, f"{FACTS}.toml", faults)
    askable = written or schema.Askable()
    names = {"infant": askable.infant, "parent": askable.parent}
    for about, one in names.items():
        entered = {
            key: f"entered: {term.name}" for key, term in terms.items() if term.about == about
        }
        for key in sorted(entered.keys() & one.signs.keys()):
            faults.add(
                "CONTENT-012",
                f"{FACTS}.toml {key}",
                what=message("The sign '{key}' is a word of a vocabulary too.", key=key),
                why=message("One name would then mean what is entered and what is computed."),
                fix=message("Give the computed sign another name."),
            )
        signs = one.signs | entered
        names[about] = msgspec.structs.replace(one, signs=signs)
    return msgspec.structs.replace(askable, **names)


def _read_sheets(parsed: dict[str, dict[str, Any]], faults: Faults) -> dict[str, Sheet]:
    """The teaching sheets by the name of their file, in their order."""
    shaped = {
        path.removeprefix(f"{SHEETS}/"): _shaped(raw, Sheet, f"{path}.toml", faults)
        for path, raw in parsed.items()
        if path.startswith(f"{SHEETS}/")
    }
    held = {key: one for key, one in shaped.items() if one is not None}
    return dict(sorted(held.items(), key=lambda one: one[1].place))


def read(folder: Traversable) -> Written:
    """Everything in a content folder, read into the shapes of :mod:`suffice.knowledge.schema`.

    Args:
        folder: The folder that holds content.toml, units.toml, sources.toml,
            disagreements.toml, one file for each topic, ``rules/`` and ``tables/``.

    Raises:
        ContentError: CONTENT-001 and CONTENT-002, all of them at once.
    """
    faults = Faults()
    contents = {path: item.read_bytes() for path, item in files_below(folder).items()}
    parsed = {
        path.removesuffix(".toml"): _parsed(path, content, faults)
        for path, content in contents.items()
        if path.endswith(".toml") and not path.startswith("tables/")
    }
    vocabularies = {
        name: _read_tables(parsed.get(name, {}), schema.Term, f"{name}.toml", faults)
        for name in VOCABULARIES
    }
    manifest = _shaped(parsed.get("content", {}), schema.Manifest, "content.toml", faults)
    found = Written(
        manifest=manifest or schema.Manifest(version="", dated=date.min),
        digest=digest_of(contents),
        units=_read_tables(parsed.get("units", {}), schema.Unit, "units.toml", faults),
        sources={
            key: one
            for name in SOURCE_FILES
            for key, one in _read_tables(
                parsed.get(name, {}), schema.Source, f"{name}.toml", faults
            ).items()
        },
        topics={},
        entries={},
        disagreements=_read_tables(
            parsed.get("disagreements", {}),
            schema.Disagreement,
            "disagreements.toml",
            faults,
        ),
        flags=_read_flags(parsed, faults),
        askable=_askable(parsed, vocabularies[SIGNS], faults),
        vocabularies=vocabularies,
        guide=read_guide(parsed, lambda raw, shape, where: _shaped(raw, shape, where, faults)),
        known=_read_tables(parsed.get(KNOWN, {}), KnownFact, f"{KNOWN}.toml", faults),
        sheets=_read_sheets(parsed, faults),
    )
    found.parts.update(_read_parts(parsed, faults))
    found.vocabularies[FOLDER] = _observables(parsed, found.parts, faults)
    found.vocabularies[SCORES] = dict(
        _read_tables(parsed.get(SCORES, {}), ScoreTool, f"{SCORES}.toml", faults)
    )
    for name, raw in parsed.items():
        if "/" not in name and name not in NOT_TOPICS:
            _read_topic(name, raw, found, faults)
    faults.raise_any()
    return found


def finite(*values: float | None) -> bool:
    """Whether every value that is there is a finite number."""
    return all(value is None or math.isfinite(value) for value in values)
