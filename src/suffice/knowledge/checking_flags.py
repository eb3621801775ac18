"""What must hold of the table of flags beyond the shape of its rows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from suffice.knowledge import schema
from suffice.knowledge.reading import COLOURS, FLAG_FILES, Faults, Written
from suffice.message import Listed, Message, message

CHOSEN: Final = ("choice:", "chosen:")
_ASKED: Final = ("measure", "sign", "find", "flag", "undecided", "all_of", "any_of", "not_of")
_WRITTEN: Final = {"all_of": "all", "any_of": "any", "not_of": "not"}
_SOON: Final = frozenset({"emergency", "physician", "consultant"})
"""Levels at which a row must say how soon."""


def check_flags(found: Written, faults: Faults) -> None:
    """Note every problem of the table of flags (CONTENT-012)."""
    if not found.flags:
        # Without rows everybody would look calm: a set of another layout must not pass for one.
        faults.add(
            "CONTENT-012",
            "rules",
            what=message("There is no flag."),
            why=message("With a set without flags everybody would look calm."),
            fix=message("Write the rows, or use a content set of this layout."),
        )
    above: dict[str, schema.Flag] = {}
    # Sets of before say it of no row: there the set that ships with the program says it.
    is_said = any(row.judged for row in found.flags)
    for row in found.flags:
        problems = [*_faults_of_row(row, found), *_faults_of_place(row, found, above)]
        if is_said and _lacks_judged(row):
            problems.append(message("It does not say what it tells about milk."))
        above.setdefault(row.code, row)
        for what in problems:
            faults.add(
                "CONTENT-012",
                f"{_file_of(row)}.toml {row.code}",
                what=what,
                why=message(
                    "Each row says when it applies, who must know, how soon, and what ends it."
                ),
                fix=message("Correct the row: docs/reference/content.md names its fields."),
            )


def _file_of(row: schema.Flag) -> str:
    """The file in which a row of its topic stands."""
    if row.topic in FLAG_FILES["rules/parent_sign_flags"] and row.about == "parent":
        return "rules/parent_sign_flags"
    return next(name for name, topics in FLAG_FILES.items() if row.topic in topics)


def _lacks_judged(row: schema.Flag) -> bool:
    is_by_topic = row.topic in schema.JUDGED_BY_TOPIC
    return row.about == "infant" and row.judged is None and not is_by_topic


def _faults_of_row(row: schema.Flag, found: Written) -> Iterator[Message]:
    askable = found.askable.infant if row.about == "infant" else found.askable.parent
    for condition in row.when.each():
        yield from _faults_of_condition(condition, found)
        yield from _faults_of_names(condition, askable, found.askable.traits)
    for citation in row.citations:
        if citation.source not in found.sources:
            yield message("The source '{source}' is not in sources.toml.", source=citation.source)
    if row.basis == "published" and not row.citations:
        yield message("It is called published and cites nothing.")
    if row.level in _SOON and not row.how_soon:
        yield message("At the level '{level}' it must say how soon.", level=row.level)
    if row.clears.after and row.clears.after not in found.entries:
        yield message("There is no '{key}'.", key=row.clears.after)
    if row.level == "emergency" and row.colour != "red":
        yield message("An emergency is shown in another colour than red.")


def _faults_of_place(
    row: schema.Flag, found: Written, above: dict[str, schema.Flag]
) -> Iterator[Message]:
    if row.code in above:
        yield message("The code is used twice.")
    last = max((COLOURS.index(one.colour) for one in above.values()), default=0)
    if row.about == "infant" and COLOURS.index(row.colour) < last:
        yield message("A row shown '{colour}' is below a calmer one.", colour=row.colour)
    codes = {one.code for one in found.flags}
    for code in row.unless:
        if code not in codes - {row.code}:
            yield message("It yields to '{code}', which is no other row.", code=code)
    for condition in row.when.each():
        code = condition.flag or condition.undecided
        if code and code not in above:
            yield message("No row above it has the code '{code}'.", code=code)


def _faults_of_condition(condition: schema.Condition, found: Written) -> Iterator[Message]:
    asked = [name for name in _ASKED if getattr(condition, name)]
    if len(asked) > 1 or (not asked and not condition.narrows):
        written = [_WRITTEN.get(name, name) for name in asked]
        yield (
            message("A condition asks one thing; here: {asked}.", asked=Listed(tuple(written)))
            if written
            else message("A condition asks one thing; here: nothing.")
        )
    if bool(condition.measure) != bool(condition.limit and condition.compare):
        yield message("A measure is compared with a limit, and nothing else is.")
    for key in (
        condition.limit,
        condition.from_age,
        condition.until_age,
        condition.from_gestation,
        condition.until_gestation,
    ):
        prefix = next((one for one in CHOSEN if key.startswith(one)), "")
        known = found.disagreements if prefix else found.entries
        if key and key.removeprefix(prefix) not in known:
            yield message("There is no '{key}'.", key=key)


def _faults_of_names(
    condition: schema.Condition, askable: schema.FactNames, traits: dict[str, str]
) -> Iterator[Message]:
    for asked, names in (
        ((condition.measure,), askable.measures),
        ((condition.sign,), askable.signs),
        (condition.traits, traits),
        # What was found at a contact is asked by problems alone.
        ((condition.find,), ()),
    ):
        for name in asked:
            if name and name not in names:
                yield message("'{name}' is not in rules/facts.toml.", name=name)
