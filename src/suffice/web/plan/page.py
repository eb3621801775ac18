"""What the page of a plan shows: each line with its working, and the last plan against what happened."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Final, NamedTuple

from django.utils.safestring import SafeString

from suffice.clinical.entry import Contact, ContactStart, PaperGiven, Plan, Record, SignedNote
from suffice.clinical.entry.field import fields_of
from suffice.documents.drawn import POSITIONS, SHOWS, svg_of
from suffice.knowledge.store import Content
from suffice.language.facts import part_of
from suffice.message import Message, message
from suffice.plan.happened import SincePlan
from suffice.plan.line import Line, Part
from suffice.plan.propose import Proposal
from suffice.web.plan.forms import AgreedForm, Group
from suffice.web.shown.fact import describe
from suffice.web.shown.wording import (
    Moment,
    Wording,
    as_heading,
    in_sentences,
    in_words,
    of_content,
)
from suffice.web.shown.working import WorkingShown, working_shown

TITLES: Final[dict[Part, Message]] = {
    "feeds": message("Feeds"),
    "breast": message("At the breast"),
    "supplement": message("Supplement"),
    "milk": message("Which milk, and how it is given"),
    "expressing": message("Expressing"),
    "made": message("Milk made in 24 h"),
    "minutes": message("Time it takes"),
    "weigh": message("Weigh next"),
    "contact": message("Next contact"),
}
MOVES: Final = dict(getattr(fields_of(Plan)["move"], "choices", ()))
"""What a plan is against the one before."""


class PositionShown(NamedTuple):
    """A position as a drawing, with what it shows and when it helps."""

    svg: SafeString
    shows: str
    helps: str
    is_proposed: bool


class LineShown(NamedTuple):
    """One part of the proposal."""

    part: str
    title: str
    says: str
    warnings: tuple[str, ...]
    workings: tuple[tuple[str, WorkingShown], ...]
    group: Group | None
    positions: tuple[PositionShown, ...]


class LastShown(NamedTuple):
    """The last plan and what happened since."""

    what: str
    kept: Moment
    by: str
    rows: tuple[tuple[str, str, str], ...]


def lines_shown(
    proposal: Proposal, form: AgreedForm, wording: Wording, content: Content
) -> list[LineShown]:
    """The proposal, part by part, each with the fields that change it."""

    def held(plan: Plan) -> str:
        return describe_without_move(plan, wording)

    parts = list(dict.fromkeys([*(one.part for one in proposal.lines), "milk"]))
    order = [one for one in TITLES if one in parts]
    by_part = {one.part: one for one in proposal.lines}
    positions = positions_shown(proposal.plan, content)
    return [_line(by_part.get(part), part, form, held, wording, positions) for part in order]


def _line(
    line: Line | None,
    part: Part,
    form: AgreedForm,
    held: Callable[[Plan], str],
    wording: Wording,
    positions: tuple[PositionShown, ...],
) -> LineShown:
    group = form.group(part, held)
    return LineShown(
        part=part,
        title=as_heading(TITLES[part]),
        says="" if line is None else in_sentences(line.says, wording.now),
        warnings=() if line is None else tuple(in_words(one) for one in line.warnings),
        workings=_workings(line, wording),
        group=group if group.fields else None,
        positions=positions if part == "breast" else (),
    )


def positions_shown(plan: Plan, content: Content) -> tuple[PositionShown, ...]:
    """The drawings of the positions while the infant goes to the breast, the proposed one marked.

    Args:
        plan: What is proposed.
        content: The content in force: its sheets say when a position helps; without them nothing is shown.
    """
    if plan.at_breast in {None, "not now"}:
        return ()
    helps = {
        fact.drawing: fact.says
        for sheet in content.sheets.values()
        for fact in sheet.facts()
        if fact.drawing
    }
    chosen = POSITIONS.get(plan.position or "")
    return tuple(
        PositionShown(
            svg=SafeString(svg_of(name).replace("<svg ", '<svg aria-hidden="true" ', 1)),
            shows=in_words(SHOWS[name]),
            helps=of_content(helps[name]).replace("*", ""),
            is_proposed=name == chosen,
        )
        for name in POSITIONS.values()
        if name in helps
    )


def _workings(line: Line | None, wording: Wording) -> tuple[tuple[str, WorkingShown], ...]:
    """The workings of a line, each by its formula."""
    if line is None:
        return ()
    shown = [working_shown(one, wording) for one in line.workings]
    return tuple((one.formula, one) for one in shown)


def describe_without_move(plan: Plan, wording: Wording) -> str:
    """A plan in one line, without what it is against the one before."""
    whole, first = describe(plan, wording), in_words(MOVES[plan.move])
    return whole.removeprefix(first).removeprefix(", ")


def last_shown(since: SincePlan, wording: Wording, people: Mapping[str, str]) -> LastShown:
    """The last plan against what was written down since."""
    now = wording.now or since.entry.true_at
    return LastShown(
        what=describe(since.plan, wording),
        kept=wording.past_moment(since.entry.true_at, now),
        by=people.get(since.entry.entered_by, since.entry.entered_by),
        rows=tuple(
            (as_heading(one.name), in_words(one.planned), in_words(one.was)) for one in since.rows
        ),
    )


def is_newest(since: SincePlan, record: Record, as_of: datetime) -> bool:
    """Whether the last plan was kept within the day, holds, and nothing of infant or parent was written down since.

    What was withdrawn since counts as well: the plan may rest on it.
    Then there is nothing new to propose from; a plan that is older than a day is looked at again, for its infant is.
    """
    kept, ends_at = since.entry, since.plan.ends_at
    if since.days >= 1 or (ends_at is not None and ends_at <= as_of):
        return False
    return not any(
        one.entered_at > kept.entered_at
        and one.infant_id in {kept.infant_id, None}
        and not isinstance(one.fact, Contact | ContactStart | PaperGiven | SignedNote)
        for one in record.entries
    )


def calls_shown(proposal: Proposal) -> Sequence[str]:
    """When the family calls, and whom."""
    return [in_words(one) for one in proposal.calls]


def move_shown(proposal: Proposal) -> str:
    """What the proposal is against the plan before."""
    field = fields_of(Plan)["move"]
    return as_heading(part_of(field, proposal.plan.move))
