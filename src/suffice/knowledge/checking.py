"""What must hold between the tables of the content store beyond their shape.

Every check adds to the list of problems and goes on; see docs/errors.md for each code.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from suffice.knowledge import schema
from suffice.knowledge.assembly import CHOICE
from suffice.knowledge.checking_flags import check_flags
from suffice.knowledge.checking_observations import check_observations
from suffice.knowledge.derivation import FORMULAS, JOINED
from suffice.knowledge.own_value import limits_of, span_of
from suffice.knowledge.reading import Faults, Written, finite
from suffice.message import Day, Listed, Message, Number, message

_KEY = re.compile(r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+$")
_VERSION = re.compile(r"^\d{4}\.\d{1,2}\.\d+$")
NAMED_AS_IN_THE_MODEL = frozenset({"population"})
"""Topics whose names follow the equations of the engine, not the rule of endings."""


def check(found: Written) -> None:
    """Raise every problem of a content set as one error.

    Raises:
        ContentError: CONTENT-002 to CONTENT-012, all of them at once.
    """
    faults = Faults()
    if not _VERSION.match(found.manifest.version):
        faults.add(
            "CONTENT-002",
            "content.toml",
            what=message(
                "The version '{version}' is no calendar version.", version=found.manifest.version
            ),
            why=message("A computed result names the version of the content it used."),
            fix=message("Write it as year.month.number, such as 2026.11.1."),
        )
    for key, entry in found.entries.items():
        _check_name(key, entry, found, faults)
        _check_citations(key, entry, found, faults)
        _check_basis(key, entry, found, faults)
        _check_dates(key, entry, found, faults)
        _check_range(key, entry, faults)
        _check_limits(key, entry, found, faults)
    for name, disagreement in found.disagreements.items():
        _check_disagreement(name, disagreement, found, faults)
    for name, terms in found.vocabularies.items():
        for key, term in terms.items():
            _check_term(f"{name}.{key}", term, found, faults)
    check_observations(found, faults)
    check_flags(found, faults)
    faults.raise_any()


def _check_name(key: str, entry: schema.AnyEntry, found: Written, faults: Faults) -> None:
    unit = found.units.get(entry.unit)
    if unit is None:
        faults.add(
            "CONTENT-004",
            key,
            what=message("The unit '{unit}' is not known.", unit=entry.unit),
            why=message("Units are listed in units.toml, with how the names of their numbers end."),
            fix=message(
                "Use one of {units}, or add it there.", units=Listed(tuple(sorted(found.units)))
            ),
        )
        return
    topic, _, last = key.rpartition(".")
    if topic in NAMED_AS_IN_THE_MODEL:
        return
    if not _KEY.match(key) or not any(f"_{last}".endswith(f"_{end}") for end in unit.endings):
        faults.add(
            "CONTENT-004",
            key,
            what=message("The name does not end in its unit."),
            why=message(
                "The name of a number in {unit} ends in {endings}.",
                unit=entry.unit,
                endings=Listed(tuple(unit.endings), word="or"),
            ),
            fix=message("Rename it: small letters, digits and underscores, the unit at the end."),
        )


def _check_term(key: str, term: schema.Term, found: Written, faults: Faults) -> None:
    if not _KEY.match(key):
        faults.add(
            "CONTENT-004",
            key,
            what=message("The name is no key."),
            why=message("It is on the record of families."),
            fix=message("Write it in small letters, digits and underscores."),
        )
    for source in term.sources:
        if source not in found.sources:
            faults.add(
                "CONTENT-005",
                key,
                what=message("The source '{source}' is not in sources.toml.", source=source),
                why=message("Every source is entered once, with authors, year and title."),
                fix=message("Add it there, or correct the name."),
            )
    if (term.basis == "published") != bool(term.sources):
        faults.add(
            "CONTENT-006",
            key,
            what=message(
                "The basis is '{basis}' and {count} source is named.",
                plural="The basis is '{basis}' and {count} sources are named.",
                basis=term.basis,
                count=len(term.sources),
            ),
            why=message("What is published names its source, and nothing else does."),
            fix=message("Name the source, or say what the word rests on."),
        )


def _check_citations(key: str, entry: schema.AnyEntry, found: Written, faults: Faults) -> None:
    for citation in entry.citations:
        if citation.source not in found.sources:
            faults.add(
                "CONTENT-005",
                key,
                what=message(
                    "The source '{source}' is not in sources.toml.", source=citation.source
                ),
                why=message("Every source is entered once, with authors, year and title."),
                fix=message("Add it there, or correct the name."),
            )


def _basis_lacks(entry: schema.AnyEntry) -> Iterator[tuple[Message, Message]]:
    if entry.basis == "published" and not (entry.citations and entry.read):
        yield (
            message("It is published, without a citation or without 'read'."),
            message("Name both."),
        )
    if entry.basis == "from memory, to verify" and entry.read:
        yield message("It is from memory, and says that it was read."), message("Decide which.")
    if entry.basis == "common practice" and not entry.note:
        yield (
            message("It is common practice, without a note."),
            message("Say who does it so, and that no source is known."),
        )
    if entry.basis == "judgement" and not (entry.note and entry.judged_by and entry.judged_on):
        yield (
            message("It is a judgement, without its reason, its author or its day."),
            message("Name all three."),
        )
    if entry.basis == "derived" and not (entry.formula and entry.uses):
        yield (
            message("It is derived, without formula and arguments."),
            message("Name 'formula' and 'uses'."),
        )
    if entry.basis != "derived" and (entry.formula or entry.uses):
        yield (
            message("It has a formula, and its basis is '{basis}'.", basis=entry.basis),
            message("Leave the formula out: only a derived value has one."),
        )


def _check_basis(key: str, entry: schema.AnyEntry, found: Written, faults: Faults) -> None:
    for what, fix in _basis_lacks(entry):
        faults.add(
            "CONTENT-006",
            key,
            what=what,
            why=message("Each basis has its own proof."),
            fix=fix,
        )
    if entry.formula and entry.formula not in FORMULAS:
        faults.add(
            "CONTENT-007",
            key,
            what=message("The formula '{formula}' is not known.", formula=entry.formula),
            why=message("Formulas are in knowledge/derivation.py."),
            fix=message(
                "Use one of {formulas}, or add it there.", formulas=Listed(tuple(sorted(FORMULAS)))
            ),
        )
    if entry.formula == JOINED and (
        not isinstance(entry, schema.SeriesEntry) or len(entry.points) != len(entry.uses)
    ):
        faults.add(
            "CONTENT-007",
            key,
            what=message("It joins values, and has another number of points than of values."),
            why=message("A joined series has one argument for each point."),
            fix=message("Name one key for each point, in order."),
        )
    for used in entry.uses:
        if not _is_value(used, found):
            faults.add(
                "CONTENT-007",
                key,
                what=message("It is derived from '{key}', which does not exist.", key=used),
                why=message("The arguments of a derived value are entries."),
                fix=message("Correct the key, or enter the value."),
            )


def _is_value(key: str, found: Written) -> bool:
    """Whether a key names an entry, a point of a series, or (``choice:``) a disagreement."""
    if key.startswith(CHOICE):
        return key.removeprefix(CHOICE) in found.disagreements
    name, _, position = key.rpartition(".")
    entry = found.entries.get(name)
    if not isinstance(entry, schema.SeriesEntry):
        return key in found.entries
    return position in {f"{point[0]:g}" for point in entry.points}


def _check_dates(key: str, entry: schema.AnyEntry, found: Written, faults: Faults) -> None:
    dated = found.manifest.dated
    if entry.effective_from > dated or entry.review_by <= dated:
        faults.add(
            "CONTENT-008",
            key,
            what=message(
                "In force from {start}, to be reviewed by {review}.",
                start=Day(entry.effective_from),
                review=Day(entry.review_by),
            ),
            why=message(
                "The set is dated {dated}: each value is in force then and not yet overdue.",
                dated=Day(dated),
            ),
            fix=message("Review it and move 'review_by', or correct the date."),
        )
    ends = [former.until for former in entry.history]
    if ends != sorted(ends) or any(end >= entry.effective_from for end in ends):
        faults.add(
            "CONTENT-008",
            key,
            what=message("The history is not in the order of time."),
            why=message("Every earlier value ended before the present one began."),
            fix=message("Order the history from the oldest, each 'until' before 'effective_from'."),
        )


def _check_range(key: str, entry: schema.AnyEntry, faults: Faults) -> None:
    if isinstance(entry, schema.NumberEntry):
        _check_bounds(key, (entry.value, entry.low, entry.high), faults)
        return
    positions = [point[0] for point in entry.points if point]
    if (
        not positions
        or not finite(entry.until)
        or any(
            later <= earlier or not earlier.is_integer()
            for earlier, later in pairwise([*positions, entry.until])
        )
    ):
        faults.add(
            "CONTENT-010",
            key,
            what=message("The points are not whole numbers in ascending order below 'until'."),
            why=message("A series is read from its first point to 'until'."),
            fix=message("Order the points; let 'until' be the first position no longer covered."),
        )
    if isinstance(entry, schema.SeriesEntry):
        for point in entry.points:
            _check_point(f"{key}.{point[0]:g}" if point else key, point, faults)


def _check_limits(key: str, entry: schema.AnyEntry, found: Written, faults: Faults) -> None:
    """What is written must be among what a clinic may set."""
    if isinstance(entry, schema.WordsEntry) or not _has_numbers(entry):
        return
    (low, high), (least, most) = span_of(entry), limits_of(key, entry, found.units)
    if not least <= low <= high <= most:
        faults.add(
            "CONTENT-009",
            key,
            what=message(
                "It is {low} to {high}, and a clinic may set {least} to {most}.",
                low=Number(low),
                high=Number(high),
                least=Number(least),
                most=Number(most),
            ),
            why=message("The limits include the range, and with it the value."),
            fix=message("Correct 'least' and 'most', or those of its unit."),
        )


def _has_numbers(entry: schema.NumberEntry | schema.SeriesEntry) -> bool:
    """Whether all that is written is finite, and there is any; else another check says so."""
    if isinstance(entry, schema.SeriesEntry):
        return all(len(point) > 1 and finite(*point) for point in entry.points) and bool(
            entry.points
        )
    return finite(*(one for one in (entry.value, entry.low, entry.high) if one is not None))


def _check_point(key: str, point: tuple[float, ...], faults: Faults) -> None:
    match point:
        case (_, value):
            _check_bounds(key, (value, None, None), faults)
        case (_, value, low, high):
            _check_bounds(key, (value, low, high), faults)
        case _:
            faults.add(
                "CONTENT-010",
                key,
                what=message(
                    "The point has {count} figure.",
                    plural="The point has {count} figures.",
                    count=len(point),
                ),
                why=message("A point is [at, value] or [at, value, low, high]."),
                fix=message("Complete it."),
            )


def _check_bounds(key: str, values: tuple[float | None, ...], faults: Faults) -> None:
    value, low, high = values
    given = [bound for bound in (low, value, high) if bound is not None]
    if not finite(*given) or given != sorted(given) or (low is None) != (high is None):
        faults.add(
            "CONTENT-009",
            key,
            what=message(
                "The value is {value}, its range {low} to {high}.",
                value=_end(value),
                low=_end(low),
                high=_end(high),
            ),
            why=message("The range includes the value, and has both ends or none."),
            fix=message("Correct the range."),
        )


def _end(value: float | None) -> Number | Message:
    return message("(not given)") if value is None else Number(value)


def _check_disagreement(
    name: str, disagreement: schema.Disagreement, found: Written, faults: Faults
) -> None:
    missing = [key for key in disagreement.candidates if key not in found.entries]
    chosen = disagreement.chosen in disagreement.candidates
    if missing or not chosen or len(set(disagreement.candidates)) < 2:
        faults.add(
            "CONTENT-011",
            f"disagreements.toml {name}",
            what=message(
                "The candidates are {candidates}, and '{chosen}' is chosen.",
                candidates=Listed(disagreement.candidates),
                chosen=disagreement.chosen,
            ),
            why=message("At least two entries answer the question and one of them is chosen."),
            fix=message("Enter {missing}, or leave it out.", missing=Listed(tuple(missing)))
            if missing
            else message("Correct the list or the choice."),
        )
