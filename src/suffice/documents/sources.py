"""The sources of a paper for clinicians, on pages of their own behind it, where somebody asks for them.

Each rule and value that the paper rests on is named with how far it can be trusted and with its source as
the content in force has it: the row of each flag, what speaks for a problem, the steps that it asks for, the
values that figures were worked out with. What has no source says so. The paper before it stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.problems import NamedProblems, Weighed, instructions_of
from suffice.assess.problems.words import name_of
from suffice.assess.results import FamilyAssessment, Finding
from suffice.clinical.working import Constant, SourceBasis, Working
from suffice.documents.frame import Source
from suffice.documents.page import Block, Heading, PageBreak, Paper, Paragraph, Runs, Table
from suffice.knowledge.assembly import COMMON_PRACTICE, FROM_MEMORY
from suffice.knowledge.store import Content
from suffice.language.figures import figure_name
from suffice.language.kinds import BASES, READINGS
from suffice.message import Amount, Day, Listed, Message, Words, message

SMALLER_PT: Final = 0.5
WIDTHS: Final = (2.2, 3.4, 1.2, 3.2)
HEADS: Final = (
    *(message("What"), message("Rule or value")),
    *(message("How far it can be trusted"), message("Source")),
)
NO_SOURCE: Final = message("none")
TABLE: Final = message("read from the table of a growth standard")


class Row(NamedTuple):
    """One rule or value, and what it rests on."""

    what: Words
    rule: Words
    basis: SourceBasis
    sources: tuple[Words, ...]


class Scope(NamedTuple):
    """Whom a paper is about; a letter says nothing of anybody else, and gives no steps."""

    people: frozenset[UUID | None]
    has_steps: bool = True

    def has(self, one: Weighed, infant_id: UUID) -> bool:
        """Whether a problem is one of theirs."""
        return (infant_id if one.problem.about == "infant" else None) in self.people


def with_sources(
    paper: Paper, source: Source, problems: dict[UUID, NamedProblems], scope: Scope
) -> Paper:
    """A paper with its sources behind it; what stands before them is set in its smaller size, so that it keeps its pages.

    Args:
        paper: The paper.
        source: What it was made from.
        problems: The problems of each infant with its parent.
        scope: Whom the paper is about.
    """
    blocks = (*paper.blocks, PageBreak(), *_blocks(source, problems, scope))
    return msgspec.structs.replace(
        paper, blocks=blocks, body_pts=paper.body_pts[-1:], most_pages=None
    )


def _blocks(source: Source, problems: dict[UUID, NamedProblems], scope: Scope) -> Iterator[Block]:
    speaker, content = source.speaker, source.content
    shown = _shown(source.assessment, scope)
    named = [one for key, found in problems.items() for one in found.named if scope.has(one, key)]
    yield Heading(speaker.say(message("Sources")))
    says = message(
        "From the content named in the foot. No clinician has reviewed it; what is from memory is to be verified."
    )
    yield Paragraph(speaker.say(says))
    parts = (
        (message("What is flagged"), _of_flags(shown, content)),
        (message("Why a problem is named"), _of_problems(named, content)),
        (message("Steps"), _of_steps(problems, content) if scope.has_steps else ()),
        (
            message("Values that figures were worked out with"),
            _of_values(source.assessment, shown, scope),
        ),
    )
    for title, rows in parts:
        found = tuple(dict.fromkeys(_cells(source, one) for one in rows))
        if found:
            yield Heading(speaker.say(title), level=3)
            heads = tuple(speaker.say(one) for one in HEADS)
            yield Table(heads, found, WIDTHS, SMALLER_PT, whole_rows=True)


def _cells(source: Source, row: Row) -> tuple[Runs, ...]:
    speaker = source.speaker
    cited = Listed(row.sources, ";") if row.sources else None
    return (
        speaker.say(row.what),
        speaker.say(row.rule),
        speaker.say(BASES[row.basis]),
        speaker.say(NO_SOURCE if cited is None else message("{sources}", sources=cited)),
    )


def _shown(assessed: FamilyAssessment, scope: Scope) -> list[Finding]:
    """What is flagged of them, and more than a note."""
    every = list(assessed.findings) if None in scope.people else []
    for infant in assessed.infants:
        every += infant.findings if infant.infant_id in scope.people else ()
    return [one for one in every if one.colour != "note"]


def _of_flags(shown: Iterable[Finding], content: Content) -> Iterator[Row]:
    rows = {one.code: one for one in content.flags}
    for finding in shown:
        row = rows.get(finding.code)
        if row is not None:
            cited = (_cited(content, one.source, one.locator, one.says) for one in row.citations)
            yield Row(_flag_named(finding, row.name), Message(row.why), row.basis, tuple(cited))


def _flag_named(finding: Finding, name: str) -> Words:
    return finding.name or (Message(name) if name else finding.code)


def _of_problems(named: Iterable[Weighed], content: Content) -> Iterator[Row]:
    """What supports each problem; what rests on the same sources stands together."""
    found: dict[tuple[str, SourceBasis, tuple[str, ...]], dict[str, None]] = {}
    for one in named:
        for reason in one.supports:
            for statement in (*one.problem.strong, *one.problem.weak):
                if re.search(rf"\b{re.escape(reason.key)}\b", statement.when):
                    place = (one.problem.name, statement.basis, statement.sources)
                    found.setdefault(place, {})[reason.key] = None
    for (name, basis, sources), keys in found.items():
        names = message("{names}", names=Listed(tuple(name_of(key, content) for key in keys), ";"))
        yield Row(Message(name), names, basis, _all_cited(content, sources))


def _of_steps(problems: dict[UUID, NamedProblems], content: Content) -> Iterator[Row]:
    guide = content.guide
    for found in problems.values():
        for step in instructions_of(found.named, guide):
            one = guide.instructions.get(step.key)
            if one is not None:
                names = tuple(Message(_name(found.named, key)) for key in step.problems)
                what = message("{names}", names=Listed(names))
                yield Row(what, Message(step.says), one.basis, _all_cited(content, one.sources))


def _name(named: Iterable[Weighed], key: str) -> str:
    return next(one.problem.name for one in named if one.key == key)


def _of_values(assessed: FamilyAssessment, shown: Iterable[Finding], scope: Scope) -> Iterator[Row]:
    """The values of each flag and of each figure of the assessment, each once, with what it was used for."""
    used: list[tuple[Words, Working]] = [
        (one.name or one.code, one.working) for one in shown if one.working is not None
    ]
    for infant in assessed.infants:
        if infant.infant_id in scope.people:
            used += [(figure_name(key), one.working) for key, one in infant.figures.items()]
    constants: dict[str, Constant] = {}
    names: dict[str, dict[Words, None]] = {}
    for name, working in used:
        for one in working.constants:
            constants[one.key] = one
            names.setdefault(one.key, {})[name] = None
    for key in sorted(constants):
        yield _of_value(constants[key], tuple(names[key]))


def _of_value(constant: Constant, names: tuple[Words, ...]) -> Row:
    """A value; of a growth standard, which is a table of thousands, only that and where it is from."""
    seen = (_source_of(constant), constant.locator, _seen(constant))
    cited = tuple(one for one in seen if one)
    what = message("{names}", names=Listed(names, ";"))
    if not constant.applies_to:
        return Row(what, TABLE, constant.basis, cited)
    value = message("{value}", value=Amount(constant.value, constant.unit))
    return Row(what, value, constant.basis, cited)


def _seen(constant: Constant) -> Words:
    """How much of its source was read, or the day on which it was judged."""
    if constant.read:
        return message("read: {how}", how=READINGS[constant.read])
    on = constant.judged_on
    return "" if on is None else message("{day}", day=Day(on, year=True))


def _source_of(constant: Constant) -> str:
    """The source of a value without the words that its basis says already."""
    if constant.source in {COMMON_PRACTICE, FROM_MEMORY}:
        return ""
    cited = constant.source.removesuffix(f" ({FROM_MEMORY})")
    return cited.removeprefix("derived: ").removeprefix("judgement of ")


def _all_cited(content: Content, sources: Iterable[str]) -> tuple[Words, ...]:
    return tuple(_cited(content, one) for one in sources)


def _cited(content: Content, key: str, locator: str = "", says: str = "") -> Words:
    """A source in short, where it stands in it, and what it says there."""
    short = content.sources[key].short
    where = f"{short}, {locator}" if locator else short
    return f"{where}: {says}" if says else where
