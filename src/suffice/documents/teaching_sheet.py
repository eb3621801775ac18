"""The teaching sheets: one topic on one page, printed from the content, and which of them a family is given.

Nothing on a sheet was typed by anybody but the authors of the content. Two sheets that would fight are
never offered beside each other as the ones to give; what a plan says itself, a sheet leaves out.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final, NamedTuple

from suffice.assess.no_milk import is_given_no_milk
from suffice.documents.draft import draft_mark, is_draft
from suffice.documents.drawn import WIDE, drawn, pictured
from suffice.documents.frame import Source, framed, phone, plan_of
from suffice.documents.help_box import help_box, help_of_parent
from suffice.documents.page import Block, Box, Gallery, Heading, Items, Paper, Paragraph
from suffice.knowledge.phones import PHONES
from suffice.knowledge.policy import Policy
from suffice.knowledge.sheet import GAP, Fact, Sheet, fights
from suffice.knowledge.store import Content
from suffice.message import Amount, Day, Message, Number, Words, message

MEASURED: Final = frozenset({"Cel", "mL", "cm"})
"""Units that stand with their number; of all others the sentence has the word."""
DRAWN_SHARE: Final = 0.3
"""Share of the width of a sheet that a drawing takes."""
WIDE_SHARE: Final = 0.42
"""That of a drawing of two pictures beside each other."""
TRY_FIRST: Final = message("Try this first")
FIRST_OF_ALL: Final = message("First of all")
PLAN_FIRST: Final = message("Your plan comes first: if it says something else, do what it says.")
CHECKED: Final = message(
    "Facts checked on {day}: published advice, and common practice where there is no study."
)


class Given(NamedTuple):
    """Keys of sheets: those that go with the family's open problems, and the others."""

    first: tuple[str, ...]
    others: tuple[str, ...]


def sheets_for(source: Source, problems: Collection[str]) -> Given:
    """Which sheets this family can be given.

    Args:
        source: What papers of the family are made from.
        problems: Keys of its open problems.
    """
    if not source.living:
        return Given((), ())
    sheets = source.content.sheets
    waits = _is_given_no_milk(source, problems)
    fit = [
        key
        for key, one in sheets.items()
        if _fits(source, one, problems) and (one.without_milk or not waits)
    ]
    first: list[str] = []
    for key in fit:
        wanted = not set(sheets[key].goes_with).isdisjoint(problems)
        if wanted and not any(fights(key, other, sheets) for other in first):
            first.append(key)
    others = [
        key
        for key in fit
        if key not in first and not any(fights(key, other, sheets) for other in first)
    ]
    return Given(tuple(first), tuple(others))


def _is_given_no_milk(source: Source, problems: Collection[str]) -> bool:
    """Whether teaching waits: but for a few, each sheet has an infant fed."""
    named = any(
        one.acts_on.get("milk") == "none" and not set(one.goes_with).isdisjoint(problems)
        for one in source.content.sheets.values()
    )
    return named or any(is_given_no_milk(one.findings, source.content) for one in source.living)


def _fits(source: Source, sheet: Sheet, problems: Collection[str]) -> bool:
    """Whether nothing that is known of the family speaks against a sheet."""
    if not set(sheet.not_with).isdisjoint(problems):
        return False
    if sheet.only_with and set(sheet.goes_with).isdisjoint(problems):
        return False
    if sheet.reassures and not _is_calm(source):
        return False
    return not (sheet.at_breast and _is_off_breast(source))


def _is_calm(source: Source) -> bool:
    found = [*source.assessment.findings]
    for infant in source.living:
        found += infant.findings
    return all(one.colour == "note" for one in found)


def _is_off_breast(source: Source) -> bool:
    """Whether the plans leave the breast out for every infant."""
    plans = [plan_of(source, one.infant_id) for one in source.living]
    return bool(plans) and all(one is not None and one.at_breast == "not now" for one in plans)


def has_plan(source: Source) -> bool:
    """Whether a plan of any infant is on the record."""
    infants = source.living
    return any(plan_of(source, one.infant_id) is not None for one in infants)


def teaching_sheet(source: Source, key: str) -> Paper:
    """The sheet of a topic for a family."""
    sheet, speaker = source.content.sheets[key], source.speaker
    title = Message(sheet.title)
    blocks: tuple[Block, ...] = (
        *([draft_mark(speaker)] if is_draft(source.policy.language) else []),
        Heading(speaker.say(title), level=1),
        *([Paragraph(speaker.say(Message(sheet.note)))] if sheet.note else []),
        Box(
            (
                Heading(speaker.say(FIRST_OF_ALL if sheet.parent_only else TRY_FIRST)),
                Paragraph(
                    speaker.emphasised(
                        fact_words(source.content, source.policy, sheet, sheet.first)
                    ),
                    "action",
                ),
            )
        ),
        *_parts(source, sheet),
        *_last(source, sheet),
        help_of_parent(source)
        if sheet.parent_only
        else help_box(source, counts=False, is_fed=sheet.acts_on.get("milk") != "none"),
    )
    return framed(source, title=title, whose=None, reader="family", blocks=blocks)


def _parts(source: Source, sheet: Sheet) -> Iterator[Block]:
    planned = has_plan(source)
    for part in sheet.parts:
        facts = [one for one in part.facts if not (planned and one.plan == "without")]
        if not facts:
            continue
        speaker = source.speaker
        if part.is_gallery:
            yield Heading(speaker.say(Message(part.title)))
            yield Gallery(
                tuple(
                    pictured(
                        one.drawing,
                        speaker,
                        speaker.emphasised(fact_words(source.content, source.policy, sheet, one)),
                    )
                    for one in facts
                )
            )
            continue
        blocks = (
            Heading(speaker.say(Message(part.title))),
            Items(
                tuple(
                    speaker.emphasised(fact_words(source.content, source.policy, sheet, one))
                    for one in facts
                )
            ),
        )
        if part.drawing:
            share = WIDE_SHARE if part.drawing in WIDE else DRAWN_SHARE
            yield drawn(part.drawing, speaker, share=share, beside=blocks)
        else:
            yield from blocks


def _last(source: Source, sheet: Sheet) -> Iterator[Block]:
    """When to call the clinic, and how old the facts are."""
    speaker = source.speaker
    yield Heading(speaker.say(message("When to call us")))
    yield Paragraph(
        speaker.emphasised(fact_words(source.content, source.policy, sheet, sheet.call))
    )
    if has_plan(source):
        yield Paragraph(speaker.say(PLAN_FIRST))
    checked = CHECKED.with_params(day=Day(sheet.read_on, year=True))
    yield Paragraph(speaker.say(checked), "small")


def fact_words(content: Content, policy: Policy, sheet: Sheet, fact: Fact) -> Message:
    """A fact with its numbers as the clinic has them in force.

    Args:
        content: The content in force.
        policy: The policy in force, for numbers to call.
        sheet: The sheet, which names the numbers.
        fact: The fact.
    """
    params: dict[str, Words | Amount | Number] = {}
    for gap in GAP.findall(fact.says):
        if gap in PHONES:
            params[gap] = phone(policy, gap)
            continue
        key = sheet.numbers[gap]
        value, unit = content.constant(key).value, content.constant(key).unit
        decimals = 0 if value.is_integer() else 1
        params[gap] = Amount(value, unit, decimals) if unit in MEASURED else Number(value, decimals)
    return Message(fact.says).with_params(**params)
