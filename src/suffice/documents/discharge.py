"""The summary at the end of care: how it ended, growth, how fed, what is still open, who follows.

It is for whoever looks after the family next, and the family has a copy. What is flagged stands first:
leaving care calms nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.results import Finding, HandedOver, InfantAssessment
from suffice.clinical.entry import (
    Contact,
    ContactStart,
    Entry,
    Feed,
    PaperGiven,
    Plan,
    ProblemStatus,
)
from suffice.clinical.entry.field import fields_of
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.day_clock import as_drawn
from suffice.documents.facts import who_is, without_asking
from suffice.documents.frame import Source, framed, next_contact_at, phone, plan_entry_of, plan_of
from suffice.documents.help_box import help_box, help_of_parent
from suffice.documents.page import (
    Blank,
    Block,
    Box,
    Heading,
    Items,
    Paper,
    Paragraph,
    Runs,
    Table,
)
from suffice.documents.plan_days import plan_of_day
from suffice.knowledge.schema import LEVELS
from suffice.language.facts import part_of, parts_of
from suffice.language.kinds import choice_name
from suffice.language.terms import term_name
from suffice.message import Age, Amount, Instant, Listed, Words, joined, message

TITLE: Final = message("Discharge summary: {name}")
STATUS: Final = fields_of(ProblemStatus)["status"]
Flagged = tuple[UUID | None, Finding]
ACT_NOW: Final = frozenset({"emergency", "physician"})
"""Levels of a flag at which what to do until the next weight stands beside its date."""
FED_WITHIN: Final = timedelta(days=7)
"""What was fed longer ago says nothing of how the infant is fed at the end."""


def discharge(source: Source) -> Paper:
    """The summary of a family, of all its infants.

    Args:
        source: What it is made from.
    """
    blocks: tuple[Block, ...] = (
        *_head(source),
        *_flagged(source),
        *(block for one in source.assessment.infants for block in _infant(source, one)),
        *_parent(source),
        *_open_ends(source),
        *_come_back(source),
        _who_follows(source),
    )
    title = TITLE.with_params(name=source.named(None))
    return framed(
        source, title=title, whose=None, reader="clinician", blocks=blocks, most_pages=None
    )


def _come_back(source: Source) -> Iterator[Block]:
    """What to call for; where no infant lives, for the parent alone."""
    if not source.assessment.infants:
        return
    yield Heading(source.speaker.say(message("When to come back")))
    if source.living:
        yield help_box(source, counts=False, lasts=True)
    else:
        yield help_of_parent(source)


def _head(source: Source) -> Iterator[Block]:
    speaker, entries = source.speaker, source.entries
    yield Heading(speaker.say(TITLE.with_params(name=source.named(None))), level=1)
    contacts = [one for one in entries if isinstance(one.fact, Contact)]
    sentences: list[Words] = []
    if source.assessment.discharged and contacts:
        sentences.append(
            message("Discharged from care {at}.", at=Instant(contacts[-1].true_at, year=True))
        )
    else:
        sentences.append(message("Not discharged: this was written while the family is in care."))
    begun = [one for one in entries if isinstance(one.fact, Contact | ContactStart)]
    if begun:
        sentences.append(
            message(
                "First contact {at}; {count} contact recorded.",
                plural="First contact {at}; {count} contacts recorded.",
                at=Instant(begun[0].true_at, year=True),
                count=len(contacts),
            )
        )
    goal = _goal(entries)
    if goal:
        sentences.append(message("Goal of the family: “{goal}”.", goal=goal))
    yield Paragraph(speaker.sentences(sentences))


def _goal(entries: tuple[Entry, ...]) -> str:
    found = [
        one.fact.goal
        for one in entries
        if isinstance(one.fact, ContactStart | Plan) and one.fact.goal
    ]
    return found[-1] if found else ""


def _flag_words(
    source: Source, whose: UUID | None, finding: Finding, handed: HandedOver | None
) -> Runs:
    first, *more = without_asking(finding, source)
    return source.speaker.sentences(
        [
            message("{who}: {what}", who=source.named(whose), what=first),
            *more,
            handed.says if handed else "",
        ]
    )


def _handed_whole(found: Sequence[Flagged]) -> dict[UUID | None, HandedOver]:
    """Whose flags were all handed over at once, with the handover as the most urgent of them has it."""
    whole: dict[UUID | None, HandedOver] = {}
    for whose, first in reversed(found):
        own = [one.handed_over for who, one in found if who == whose]
        if (
            len(own) > 1
            and first.handed_over
            and len({one.at if one else None for one in own}) == 1
        ):
            whole[whose] = first.handed_over
    return whole


def _flagged(source: Source) -> Iterator[Block]:
    """What is red or to be looked at, of each person, with what has been done about it."""
    speaker, assessed = source.speaker, source.assessment
    found: list[Flagged] = [(None, one) for one in assessed.findings]
    found += [(infant.infant_id, one) for infant in assessed.infants for one in infant.findings]
    kept = [pair for pair in found if pair[1].colour != "note" and pair[1].topic != "overdue"]
    if not kept:
        return
    kept.sort(key=lambda pair: LEVELS.index(pair[1].level))
    whole = _handed_whole(kept)
    lines = [
        _flag_words(source, whose, one, None if whose in whole else one.handed_over)
        for whose, one in kept
    ]
    lines += [
        speaker.sentences(
            [message("{who}, all of the above.", who=source.named(whose)), handed.says]
        )
        for whose, handed in whole.items()
    ]
    yield Box((Heading(speaker.say(message("Not settled"))), Items(tuple(lines))), heavy=True)


# ---- each infant -----------------------------------------------------------------------------


def _infant(source: Source, infant: InfantAssessment) -> Iterator[Block]:
    speaker = source.speaker
    yield Heading(speaker.say(message("{name}", name=infant.name)))
    yield Paragraph(speaker.say(who_is(source, infant.infant_id)))
    if infant.died is not None:
        yield Paragraph(speaker.sentences([infant.died.says]))
        return
    if infant.verdict is not None:
        yield Paragraph(speaker.say(message("{what}.", what=infant.verdict.headline), bold=True))
    rows = tuple(_growth(infant))
    if rows:
        heads = (message("Growth"), message("Value"), message("When"))
        yield Table(
            tuple(speaker.say(one) for one in heads),
            tuple(tuple(speaker.say(cell) for cell in row) for row in rows),
            (1.2, 2.4, 1.4),
        )
    yield Items(
        (
            *(speaker.say(one) for one in _fed(source, infant.infant_id)),
            *(speaker.say(one) for one in _problems(source, infant.infant_id)),
        )
    )


def _growth(infant: InfantAssessment) -> Iterator[tuple[Words, Words, Words]]:
    if infant.birth_weight_g is not None and infant.born_at is not None:
        weight = Amount(infant.birth_weight_g, "g")
        born = message("{at}", at=Instant(infant.born_at, year=True))
        yield message("birth weight"), message("{weight}", weight=weight), born
    loss, nadir = infant.figures.get("nadir_loss_percent"), infant.figures.get("nadir_h")
    if loss is not None and nadir is not None and loss.value > 0:
        percent = Amount(loss.value, "%", 1)
        yield (
            message("lowest weight"),
            message("{percent} below birth weight", percent=percent),
            message("at {age}", age=Age(nadir.value)),
        )
    regain = infant.figures.get("regain_h")
    if regain is not None:
        back = message("at or above it again")
        yield message("birth weight regained"), back, message("at {age}", age=Age(regain.value))
    if infant.weights:
        last = infant.weights[-1]
        weight, at = Amount(last.weight_g, "g"), Instant(last.at, year=True)
        is_clothed = last.clothing == "clothed"
        what = message("weight in clothes") if is_clothed else message("last weight")
        yield what, message("{weight}", weight=weight), message("{at}", at=at)
    gain = infant.figures.get("gain_g_per_day")
    if gain is not None:
        value: Words = message("{value}", value=Amount(gain.value, "g/d", signed=True))
        if gain.low is not None and gain.high is not None:
            low, high = Amount(gain.low, "g/d"), Amount(gain.high, "g/d")
            value = message("{value} ({low} to {high})", value=value, low=low, high=high)
        yield message("gain"), value, message("calculated from weights")


def _fed(source: Source, whose: UUID) -> Iterator[Words]:
    """How it was fed of late, as far as it was written down, and the plan that holds."""
    since = source.as_of - FED_WITHIN
    last: dict[str, Entry] = {}
    for one in source.own(whose):
        if isinstance(one.fact, Feed) and one.true_at > since:
            last[one.fact.milk] = one
    if last:
        milks = tuple(
            message("{milk} (last {at})", milk=choice_name(milk), at=Instant(one.true_at))
            for milk, one in last.items()
        )
        yield message(
            "Fed in the last {days}, as recorded: {milks}.",
            days=Age(FED_WITHIN.days * HOURS_PER_DAY),
            milks=Listed(milks),
        )
    else:
        yield message("How the infant is fed was not recorded in the last week.")
    given = source.infant(whose)
    milk = given.figures.get("milk_given_24h_ml") if given else None
    if milk is not None:
        yield message("{amount} of milk given in 24 h.", amount=Amount(milk.value, "mL"))
    entry = plan_entry_of(source, whose)
    if entry is not None and given is not None:
        # What the family's page of the plan says on the same day.
        plan = _agreed(as_drawn(source, plan_of_day(source, entry, given)[0]))
        yield message("Plan: {parts}.", parts=Listed(parts_of(plan)))


def _agreed(plan: Plan) -> Plan:
    """What was agreed on alone: what had been proposed beside it is for whoever made the plan."""
    return msgspec.structs.replace(
        plan,
        proposed_move=None,
        proposed_feeds_count=None,
        proposed_ml_per_day=None,
        proposed_sessions_count=None,
    )


def _problems(source: Source, whose: UUID | None) -> Iterator[Words]:
    decided: dict[str, Entry] = {
        one.fact.problem: one for one in source.own(whose) if isinstance(one.fact, ProblemStatus)
    }
    for key, one in decided.items():
        # The last decision counts: what turned out to be no problem is not open.
        if isinstance(one.fact, ProblemStatus) and one.fact.status != "not so":
            yield message(
                "{problem}: {status}, {at}.",
                problem=term_name("problems", key),
                status=part_of(STATUS, one.fact.status),
                at=Instant(one.true_at, year=True),
            )


# ---- the parent, and what stays open ---------------------------------------------------------


def _parent(source: Source) -> Iterator[Block]:
    lines = tuple(source.speaker.say(one) for one in _problems(source, None))
    if lines:
        yield Heading(source.speaker.say(message("{name}", name=source.named(None))))
        yield Items(lines)


def _open_ends(source: Source) -> Iterator[Block]:
    speaker = source.speaker
    lines: list[Words] = []
    due = next_contact_at(source)
    lines.append(
        message("Next contact: {instant}.", instant=Instant(due))
        if due is not None and due > source.as_of
        else message("No next contact is planned.")
    )
    advised = ((one, _weighing(source, one)) for one in source.assessment.infants)
    lines += [
        message("{name}: {advice}", name=one.name, advice=joined(*advice))
        for one, advice in advised
        if advice
    ]
    given = [
        message("“{title}”", title=one.fact.title)
        for one in source.entries
        if isinstance(one.fact, PaperGiven) and one.fact.title
    ]
    if given:
        lines.append(message("Papers given: {titles}.", titles=Listed(tuple(given))))
    yield Heading(speaker.say(message("From here on")))
    yield Items(tuple(speaker.say(one) for one in lines), whole=True)


def _weighing(source: Source, infant: InfantAssessment) -> tuple[Words, ...]:
    """When it is weighed; where the plan names an earlier day, that one."""
    again, plan = infant.weigh_again, plan_of(source, infant.infant_id)
    advice: tuple[Words, ...] = () if again is None else tuple(again.advice)
    at = None if plan is None else plan.weigh_at
    if at is None or at <= source.as_of:
        return advice
    by_plan = message("By the plan: weigh on {at}.", at=Instant(at))
    if any(one.level in ACT_NOW for one in infant.findings):
        return (*advice, by_plan)
    day = at.astimezone(ZoneInfo(source.policy.zone)).date()
    if again is not None and again.on is not None and again.on <= day:
        return advice
    return (by_plan,)


def _who_follows(source: Source) -> Box:
    speaker = source.speaker
    ours = message(
        "Back to {clinic} at any time: phone by day {day}; phone at night {night}.",
        clinic=source.policy.clinic_name,
        day=phone(source.policy, "phone_day"),
        night=phone(source.policy, "phone_night"),
    )
    labels = (message("Phone"), message("Written by"))
    return Box(
        (
            Paragraph(speaker.say(ours)),
            Blank((speaker.say(message("Followed from now on by")),)),
            Blank(tuple(speaker.say(one) for one in labels), columns=2),
        )
    )
