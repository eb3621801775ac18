"""The letter to a physician: the request and its time in the first line, all of it on one page.

It is about one person, the infant or the parent. It gives findings with their numbers and times, never
a diagnosis as a fact, and says what is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

from suffice.assess.act import SEEN_AND_AGAIN, WEIGH_FIRST, WHEN_SEEN
from suffice.assess.no_milk import is_given_no_milk
from suffice.assess.problems import NamedProblems, Weighed
from suffice.assess.problems.words import SIDES
from suffice.assess.results import Finding, InfantAssessment, Tier
from suffice.assess.rules.red_flag import PHONED, WHO_AND_SOON
from suffice.clinical.entry import Answer, Handover, Plan
from suffice.clinical.entry.field import fields_of
from suffice.clinical.entry.handover import RECIPIENTS
from suffice.documents.day_clock import as_drawn
from suffice.documents.facts import facts_of, not_known, who_is, without_asking
from suffice.documents.frame import (
    Source,
    framed,
    measured,
    next_contact_at,
    phone,
    plan_entry_of,
    plan_of,
)
from suffice.documents.letter_urgency import Handed, day_of_flags, handed_sooner, today_of
from suffice.documents.page import Blank, Block, Box, Heading, Items, Paper, Paragraph, Runs, Table
from suffice.documents.plan_days import plan_of_day
from suffice.knowledge.schema import LEVELS, Level
from suffice.language.kinds import choice_name
from suffice.message import (
    Amount,
    Day,
    Instant,
    Listed,
    Message,
    Number,
    Words,
    joined,
    message,
)
from suffice.plan.known import held_in_a_row, is_short
from suffice.plan.parameters import plan_parameters

MOST_FACTS: Final = 5
MOST_FINDINGS: Final = 4
MOST_PROBLEMS: Final = 3
MOST_DONE: Final = 3
"""How many of each a page read in half a minute has room for."""
ASKED_ABOUT: Final[frozenset[Level]] = frozenset({"emergency", "physician", "consultant"})
"""Levels of the problems that a physician is asked about."""
ASKS_THE_CONSULTANT: Final = frozenset({"overdue", "not known"})
"""Topics of findings that say nothing to a colleague."""
REQUESTS: Final[dict[Level, Message]] = {
    "emergency": message("Emergency. Please see {name} now: {found}."),
    "physician": message("Please see {name} today, {day}: {found}."),
    "consultant": message("Please advise on {name} within a day, by {day}: {found}."),
    "look": message("Please look at {name} at the next visit: {found}."),
}
"""What is asked, by the level of what was found first, and by when."""
OF_WEIGHING: Final = frozenset({"", SEEN_AND_AGAIN.template, WHEN_SEEN.template})
"""What is said beside a handover of the next weight alone."""
LATER: Final = message("Please advise on {name} by {day}: {found}.")
"""The same of what can wait some days."""
FOR_THE_READER: Final[frozenset[Level]] = frozenset({"emergency", "physician"})
"""Levels of a finding that somebody other than the writer has to act on."""
HELD_TOO_OFTEN: Final = message(
    "Please see {name} and advise: in the last {count} plans the supplement could not be made less."
)
"""What is asked where nothing that is flagged asks for more than a look."""
NO_EXTRA_MILK: Final = message(
    "By the plan: no extra milk, though it probably gets too little. Please say what to give until its feeds of a"
    " day have been weighed."
)
FOR_INFORMATION: Final = message("For information: {name}. {headline}.")
NOTHING_FLAGGED: Final = message("Nothing is flagged; what was not asked is not known")
LETTER_TITLE: Final = message("Letter to a physician about {name}")
ROLES: Final = dict(RECIPIENTS)
MILKS: Final = dict(getattr(fields_of(Plan)["milk"], "choices", ()))
"""Which milk a plan gives, in words."""


def letter(source: Source, whose: UUID | None, problems: NamedProblems | None) -> Paper:
    """The letter about one person.

    Args:
        source: What it is made from.
        whose: The infant, or the parent (None).
        problems: The problems of the infant with its parent; None where there are none.
    """
    open_ = _open(source, whose)
    named = _asked_about(problems, whose)
    handed = handed_sooner(source, whose, open_, problems)
    blocks: tuple[Block, ...] = (
        *_request(source, whose, open_, handed),
        *_facts(source, whose),
        *_findings(source, whose, open_, named),
        *_done(source, whose),
        *_meanwhile(source, whose, open_, is_handed=handed is not None),
        _reply(source),
    )
    title = LETTER_TITLE.with_params(name=source.named(whose))
    return framed(source, title=title, whose=whose, reader="clinician", blocks=blocks)


def is_asked_for(source: Source, whose: UUID | None) -> bool:
    """Whether something about a person is flagged that a physician has to see."""
    return any(one.colour == "red" for one in _findings_of(source, whose))


def _findings_of(source: Source, whose: UUID | None) -> tuple[Finding, ...]:
    infant = source.infant(whose)
    return infant.findings if infant else source.assessment.findings


def _open(source: Source, whose: UUID | None) -> tuple[Finding, ...]:
    """What is found and acted on, the most urgent first; what is only not known stands by itself."""
    found = (
        one
        for one in _findings_of(source, whose)
        if one.colour != "note" and one.topic not in ASKS_THE_CONSULTANT
    )
    return tuple(sorted(found, key=lambda one: LEVELS.index(one.level)))


def _asked_about(problems: NamedProblems | None, whose: UUID | None) -> tuple[Weighed, ...]:
    about = "parent" if whose is None else "infant"
    return tuple(
        one
        for one in (problems.named if problems else ())
        if one.problem.about == about and one.level in ASKED_ABOUT and not one.problem.reassures
    )[:MOST_PROBLEMS]


# ---- the request -----------------------------------------------------------------------------


def whom(words: Words) -> Words:
    """Whom a letter is for, and how soon: whoever reads it was phoned, or is the one to act.

    Args:
        words: Who must know of a finding, and how soon, as a page says it.
    """
    if isinstance(words, str):
        return words
    soon = {phoned.template: how_soon for how_soon, phoned in PHONED.items()}.get(words.template)
    return words if soon is None else WHO_AND_SOON.with_params(**words.values, soon=Message(soon))


def _request(
    source: Source, whose: UUID | None, open_: tuple[Finding, ...], handed: Handed | None
) -> Iterator[Block]:
    speaker, name = source.speaker, source.named(whose)
    first, infant = open_[0] if open_ else None, source.infant(whose)
    held = 0 if infant is None else _held_count(source, infant)
    if handed is not None:
        request: Words = handed.request(name, _problem(handed.problem))
    elif _is_about_held_steps(source, held, open_):
        request = HELD_TOO_OFTEN.with_params(name=name, count=Number(held, 0))
    elif first is None:
        verdict = infant.verdict if infant else None
        headline = verdict.headline if verdict else NOTHING_FLAGGED
        request = FOR_INFORMATION.with_params(name=name, headline=headline)
    else:
        request = _by_flag(source, name, open_)
    yield Heading(speaker.say(request), level=1)
    # Whom a flag of the consultant's names is the writer, not the reader.
    if handed is not None:
        reader: Words = Message(handed.over.to_whom)
    else:
        reader = whom(first.to_whom) if first and first.level in FOR_THE_READER else ""
    if reader:
        yield Paragraph(speaker.say(message("For: {whom}.", whom=reader), bold=True))
    yield Paragraph(speaker.say(who_is(source, whose)))
    yield Paragraph(speaker.sentences(_call_back(source)))


def _by_flag(source: Source, name: Words, open_: tuple[Finding, ...]) -> Message:
    """What the first of what is flagged asks, and by when."""
    first, by = open_[0], day_of_flags(source, open_)
    asked = REQUESTS[first.level]
    if first.level == "consultant" and by > today_of(source) + timedelta(days=1):
        asked = LATER
    return asked.with_params(name=name, found=first.name or first.messages[0], day=Day(by))


def _is_about_held_steps(source: Source, held: int, open_: tuple[Finding, ...]) -> bool:
    """Whether steps that could not be taken are what the letter asks about: nothing flagged comes before them."""
    is_held = held >= plan_parameters(source.content).step_held_count.value
    return is_held and (not open_ or open_[0].level == "look")


def _call_back(source: Source) -> Iterator[Words]:
    policy = source.policy
    yield message(
        "Call back {clinic}: phone by day {day}; phone at night {night}.",
        clinic=policy.clinic_name,
        day=phone(policy, "phone_day"),
        night=phone(policy, "phone_night"),
    )
    if source.author:
        yield message("Ask for {author}.", author=source.author)


# ---- what is known ---------------------------------------------------------------------------


def _facts(source: Source, whose: UUID | None) -> Iterator[Block]:
    speaker, facts = source.speaker, facts_of(source, whose)[:MOST_FACTS]
    if facts:
        heads = (
            message("What"),
            message("Value"),
            message("When"),
            message("How it is known"),
        )
        yield Table(
            head=tuple(speaker.say(one) for one in heads),
            rows=tuple(
                (
                    speaker.say(one.what),
                    speaker.say(one.value),
                    speaker.say(message("{instant}", instant=Instant(one.at))),
                    speaker.say(one.basis),
                )
                for one in facts
            ),
            widths=(1.2, 2.0, 1.3, 1.5),
        )
    lacking = not_known(source, whose)
    if lacking:
        yield Paragraph(speaker.say(message("Not known: {names}.", names=Listed(lacking))))


def _findings(
    source: Source, whose: UUID | None, open_: tuple[Finding, ...], named: tuple[Weighed, ...]
) -> Iterator[Block]:
    speaker, infant = source.speaker, source.infant(whose)
    findings = [*open_[:MOST_FINDINGS]]
    if whose is not None:
        findings += [one for one in source.assessment.findings if one.colour == "red"][:1]
    again = None if infant is None else infant.weigh_again
    # When it is weighed stands under 'Meanwhile', as one date.
    day = None if again is None else again.briefly
    items = [
        speaker.sentences(says for says in without_asking(one, source) if says != day)
        for one in findings
    ]
    if items:
        yield Heading(speaker.say(message("Findings")))
        yield Items(tuple(items))
    if named:
        names = Listed(tuple(_problem(one) for one in named), "or")
        yield Paragraph(
            speaker.say(message("Consistent with {names}; please assess.", names=names), bold=True)
        )


def _problem(one: Weighed) -> Message:
    sides = tuple(SIDES[side] for side in one.sides if side)
    name = Message(one.problem.name)
    if ":" in one.problem.name:  # two names in a row are told apart
        name = message("“{title}”", title=name)
    if not sides:
        return name
    return message("{problem} ({sides})", problem=name, sides=Listed(sides, "and"))


# ---- what was done and goes on ---------------------------------------------------------------


def _done(source: Source, whose: UUID | None) -> Iterator[Block]:
    speaker = source.speaker
    lines = list(_done_lines(source, whose))[-MOST_DONE:]
    yield Heading(speaker.say(message("Done so far")))
    yield Items(
        tuple(speaker.say(one) for one in lines)
        or (speaker.say(message("Nothing is recorded as done yet.")),)
    )


def _done_lines(source: Source, whose: UUID | None) -> Iterator[Words]:
    infant = source.infant(whose)
    milk = infant.figures.get("milk_given_24h_ml") if infant else None
    if milk is not None:
        yield message("{amount} of milk given in 24 h.", amount=Amount(milk.value, "mL"))
    for entry in source.own(whose):
        fact = entry.fact
        if isinstance(fact, Handover):
            who = (
                message("{name} ({role})", name=fact.name, role=ROLES[fact.to])
                if fact.name
                else None
            )
            yield message(
                "{instant}: handed over to {who}{asked}.",
                instant=Instant(entry.true_at),
                who=who or ROLES[fact.to],
                asked=message(", asked: {asked}", asked=fact.asked) if fact.asked else "",
            )
        elif isinstance(fact, Answer):
            yield message(
                "{instant}: {who} answered: {found}",
                instant=Instant(entry.true_at),
                who=choice_name(fact.who),
                found=fact.found,
            )


def _meanwhile(
    source: Source, whose: UUID | None, open_: tuple[Finding, ...], *, is_handed: bool
) -> Iterator[Block]:
    speaker, infant = source.speaker, source.infant(whose)
    lines: list[Runs] = [speaker.say(one.until_help) for one in open_[:1] if one.until_help]
    if infant is not None:
        lines += [speaker.say(one) for one in _planned(source, infant, open_, is_handed=is_handed)]
        lines += [speaker.say(one) for one in _weighing(source, infant)]
    lines.append(speaker.say(_next(source)))
    yield Heading(speaker.say(message("Meanwhile")))
    yield Items(tuple(lines))


def _planned(
    source: Source, infant: InfantAssessment, open_: tuple[Finding, ...], *, is_handed: bool
) -> Iterator[Words]:
    """What the family gives and expresses by the plan that holds; nothing while no milk may be given."""
    entry = plan_entry_of(source, infant.infant_id)
    if entry is None or is_given_no_milk(infant.findings, source.content):
        return
    plan = as_drawn(source, plan_of_day(source, entry, infant)[0])
    if plan.supplement_ml_per_day:
        amount = measured(source.policy, plan.supplement_ml_per_day)
        given = (
            message("By the plan: {amount} of milk in 24 h, all of it given.", amount=amount)
            if plan.at_breast == "not now"
            else message("By the plan: {amount} of extra milk in 24 h.", amount=amount)
        )
        milk = MILKS.get(plan.milk or "")
        yield joined(given, message("Which milk: {milk}.", milk=milk) if milk else "")
    elif plan.at_breast not in {None, "not now"} and is_short(infant):
        yield NO_EXTRA_MILK
    held = _held_count(source, infant)
    if held > 1 and (is_handed or not _is_about_held_steps(source, held, open_)):
        yield message(
            "In the last {count} plans the supplement could not be made less.",
            count=Number(held, 0),
        )
    if plan.sessions_count:
        count = Number(plan.sessions_count, 0)
        yield message("Sessions of expressing by the plan: {count} in 24 h.", count=count)


def _held_count(source: Source, infant: InfantAssessment) -> int:
    """How many plans in a row could not make the supplement less, where one goes on; 0 while no milk may be given."""
    if is_given_no_milk(infant.findings, source.content):
        return 0
    own = source.own(infant.infant_id)
    plans = [(one, one.fact) for one in own if isinstance(one.fact, Plan)]
    if not plans or not plans[-1][1].supplement_ml_per_day:
        return 0
    return held_in_a_row(plans, plan_parameters(source.content))


def _weighing(source: Source, infant: InfantAssessment) -> Iterator[Words]:
    """When it is weighed: by the plan, where that is no later than what the assessment asks for."""
    verdict, plan = infant.verdict, plan_of(source, infant.infant_id)
    if verdict is None or verdict.act.tier is Tier.NOW:
        return
    at, again = None if plan is None else plan.weigh_at, infant.weigh_again
    day = None if at is None else at.astimezone(ZoneInfo(source.policy.zone)).date()
    is_sooner = again is not None and again.on is not None and day is not None and again.on < day
    # What goes on beside a handover is said too, unless that is a date to weigh.
    is_weighing = isinstance(verdict.then, Message) and verdict.then.template in OF_WEIGHING
    is_beside = verdict.act.tier is Tier.HANDED_OVER and not is_weighing
    is_of_more = is_beside or verdict.then == WEIGH_FIRST
    if at is None or at <= source.as_of or is_sooner or is_of_more:
        if verdict.then:
            yield verdict.then
    else:
        yield message("By the plan: weigh on {at}.", at=Instant(at))


def _next(source: Source) -> Message:
    due = next_contact_at(source)
    if due is None:
        return message("No next contact is planned yet.")
    if due > source.as_of:
        return message("We see the family next: {instant}.", instant=Instant(due))
    return message("The next contact was due {instant}.", instant=Instant(due))


def _reply(source: Source) -> Box:
    speaker = source.speaker
    back = message(
        "Reply to {clinic}, phone {day}",
        clinic=source.policy.clinic_name,
        day=phone(source.policy, "phone_day"),
    )
    labels: Iterable[Message] = (
        message("Seen on, by"),
        message("Found"),
        message("Advised"),
        message("Next appointment, signature"),
    )
    return Box(
        (
            Heading(speaker.say(back)),
            Blank(tuple(speaker.say(one) for one in labels)),
        )
    )
