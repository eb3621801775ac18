"""All flags, from the content's one table: who must know, how soon, and what it rests on.

The reviews compute figures and put measures and signs before the table; every finding that is red,
amber or a note is a row of it. What this module adds to the verdict is the sentence, with the
numbers and times of the fact it speaks of, and the working.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final, Literal, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.ranking import RankingRules
from suffice.assess.results import Finding
from suffice.assess.rules.question import as_shown, compares
from suffice.assess.rules.rows import AskedRow, RowSet
from suffice.assess.rules.since import LATE_AFTER, due_at, due_no_later, held_from, what_came_last
from suffice.assess.rules.table import Facts, Ground, Measure, Sign, Verdict, hours_of
from suffice.assess.rules.truth import Truth, disjunction
from suffice.clinical.age import elapsed_h
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Quantity, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import LEVELS, Askable, Condition, Flag
from suffice.knowledge.store import Content
from suffice.message import (
    Age,
    Ago,
    Amount,
    Instant,
    Listed,
    Message,
    Number,
    Param,
    Words,
    filled,
    message,
)

ENGINE: Final = "engine"
"""Topic of the rows that are asked once the engine has answered."""
SIGNS: Final = "signs"
"""Vocabulary of what can be chosen as a sign."""
OF_WEIGHT: Final = frozenset({"weight", "gain"})
COMBINED: Final = "combined"
ANSWERED_TOGETHER: Final = frozenset({"sign", "illness", COMBINED})
"""Topics of the rows that a physician's answer ends once it is later than all they rest on."""
WHO_AND_SOON: Final = message("{who}, {soon}")
PHONED: Final[Mapping[str, Message]] = {
    "by phone now; seen the same day": message("phone the {who} now; to be seen the same day"),
    "by phone within the hour; seen the same day": message(
        "phone the {who} within the hour; to be seen the same day"
    ),
    "by phone now; bilirubin within 6 hours": message(
        "phone the {who} now; bilirubin within 6 hours"
    ),
}
"""How soon, where somebody is phoned first, to the act in words."""
COMPARISONS: Final[Mapping[str, Message]] = {
    ">=": message("{measure}: at or above the limit"),
    ">": message("{measure}: above the limit"),
    "<": message("{measure}: below the limit"),
    "<=": message("{measure}: at or below the limit"),
    "": message("{measure}: its interval is on both sides of the limit"),
}
"""How a measure stands to its limit, in words; empty where that cannot be told."""
LEFT_AFTER: Final = "ranking.look_left_after_h"
"""Key of how long after its time a look that leaves few hours is seen within a day."""
NOTHING_ANSWERED: Final[Mapping[str, Facts]] = {}


class RowFindings(NamedTuple):
    """What rows come to.

    Attributes:
        held: Findings of the rows that hold, each with the verdict on its row.
        verdicts: Code to verdict of the rows that hold, or that another row asks about.
        silenced: Findings of the rows that hold, of which another one that holds speaks.
    """

    held: tuple[tuple[Finding, Verdict], ...]
    verdicts: Mapping[str, Verdict]
    silenced: tuple[Finding, ...] = ()


def findings_of(
    rows: RowSet,
    facts: Facts,
    above: Mapping[str, Verdict],
    *,
    as_of: datetime,
    infant_id: UUID | None,
    answered: Mapping[str, Facts] = NOTHING_ANSWERED,
) -> RowFindings:
    """The rows that hold, as findings in the order of the table.

    Args:
        rows: The rows to ask, in order.
        facts: What is known.
        above: Code to the verdict on the rows asked before.
        as_of: The instant of the question.
        infant_id: Whose findings; None for the parent.
        answered: Code of a row that a physician answered by name to the facts as that answer leaves
            them. It ends that row alone: other rows that ask about it go by all facts.
    """
    held: list[tuple[Flag, Verdict]] = []
    known = dict(above)
    for asked in rows.worth_asking(facts.names):
        row = asked.row
        each = _counting(asked, facts, known)
        if each:
            known[row.code] = each[0]
        own = answered.get(row.code, facts)
        if row.code in answered:
            each = _counting(asked, own, known)
        held += [
            (row, one)
            for one in each
            if one.truth is Truth.TRUE and not _is_answered(row, one, own)
        ]
    # A row that is answered silences no other: what it would have said is not said.
    codes = {row.code for row, _ in held}
    codes |= {code for code, verdict in above.items() if verdict.truth is Truth.TRUE}
    spoken_of = {one for row, verdict in held if not row.if_silent for one in _entries_of(verdict)}
    findings: list[tuple[Finding, Verdict]] = []
    silenced: list[tuple[Flag, Finding]] = []
    for row, verdict in held:
        is_silenced = not codes.isdisjoint(row.unless)
        if not is_silenced and row.if_silent and spoken_of & _entries_of(verdict):
            continue
        finding = _finding(row, verdict, facts, rows.content, as_of=as_of, infant_id=infant_id)
        if is_silenced:
            silenced.append((row, finding))
        else:
            findings.append((finding, verdict))
    due = tuple((due_no_later(one, silenced), verdict) for one, verdict in findings)
    return RowFindings(due, known, tuple(one for _, one in silenced))


def _counting(asked: AskedRow, facts: Facts, known: Mapping[str, Verdict]) -> list[Verdict]:
    """The verdicts that count, the loudest first: those that hold; where none does, one at most."""
    question = asked.question
    each = tuple(question.facts_of_each(facts))
    if len(each) == 1:
        counts = asked.is_asked_by_another or question.truth(facts, known) is Truth.TRUE
        return [question.verdict(facts, known)] if counts else []
    truths = [question.truth(one, known) for one in each]
    held = [
        question.verdict(one, known)
        for one, truth in zip(each, truths, strict=True)
        if truth is Truth.TRUE
    ]
    if held or not asked.is_asked_by_another:
        return held
    return [question.verdict(each[truths.index(disjunction(truths))], known)]


def _entries_of(verdict: Verdict) -> set[UUID | None]:
    """The entries of what speaks for a row."""
    return {one for ground in verdict.supports if ground.fact for one in ground.fact.entry_ids}


def _is_answered(row: Flag, verdict: Verdict, facts: Facts) -> bool:
    """Whether a physician has answered all that speaks for a row.

    Of rows that rest on signs, or on several findings together, a finding that is no sign of the
    vocabulary is answered by any later answer; other rows say themselves what ends them.
    """
    found = [one.fact for one in verdict.supports if one.fact]
    # Counts of feeds know whether they were answered; most rows of them end by a later count alone.
    is_by_answer = row.topic == "feeding" and "answer" in row.clears.by
    if row.topic not in ANSWERED_TOGETHER and not is_by_answer:
        return bool(found) and all(
            isinstance(one, Sign) and one.lasts and one.is_answered for one in found
        )
    each = [answered for one in found for answered in _answers_to(one, facts)]
    return bool(each) and all(each)


def _answers_to(fact: Measure | Sign, facts: Facts) -> Iterator[bool]:
    """Whether a physician has answered a fact; nothing for one that rests on no entry."""
    if fact.is_answered is not None:
        yield fact.is_answered
    elif fact.entry_ids:
        yield facts.answers.cover(*fact.entry_ids)


@lru_cache(maxsize=8)
def weight_codes(content: Content) -> frozenset[str]:
    """The codes of the red flags about weight or gain."""
    return frozenset(
        row.code for row in content.flags if row.colour == "red" and row.topic in OF_WEIGHT
    )


@lru_cache(maxsize=8)
def codes_that_ask_first(content: Content) -> frozenset[str]:
    """The codes of the flags that stay, and say so, where a weight they rest on looks wrong."""
    return frozenset(row.code for row in content.flags if row.doubt == "ask first")


@lru_cache(maxsize=8)
def _places(content: Content) -> Mapping[str, int]:
    return {row.code: place for place, row in enumerate(content.flags)}


@lru_cache(maxsize=8)
def _hours(content: Content) -> Mapping[str, float]:
    """The hours that each red row gives: its own where they are fewer than those of its level."""
    hours = {
        row.code: content.constant(LATE_AFTER[row.level]).value
        for row in content.flags
        if row.colour == "red"
    }
    own = {row.code: row.within_h for row in content.flags if row.within_h is not None}
    return {code: min(level_h, own.get(code, level_h)) for code, level_h in hours.items()}


def ranking_rules(content: Content, policy: Policy) -> RankingRules:
    """What the order of families depends on, as content and policy have it."""
    return RankingRules(
        places=_places(content),
        hours=_hours(content),
        overdue_after=content.constant("follow_up.overdue_h"),
        likely_short=content.constant("ranking.likely_short_fraction"),
        likely_short_from=content.constant("ranking.likely_short_from_age_d"),
        with_engine=policy.engine_ranking,
    )


def in_order_of_urgency(findings: Iterable[Finding], content: Content) -> tuple[Finding, ...]:
    """By level; within one as the table has them."""
    places = _places(content)
    return tuple(sorted(findings, key=lambda one: (LEVELS.index(one.level), places[one.code])))


def _finding(
    row: Flag,
    verdict: Verdict,
    facts: Facts,
    content: Content,
    *,
    as_of: datetime,
    infant_id: UUID | None,
) -> Finding:
    ground = next((one for one in verdict.supports if one.fact), verdict.grounds[0])
    # Of a sign beside a measure the measure has a limit to show.
    measured = next((one for one in verdict.supports if isinstance(one.fact, Measure)), ground)
    made = _what_made_it(row, verdict, ground, content)
    due = due_at(row, made, facts, content)
    return Finding(
        code=row.code,
        level=row.level,
        colour=row.colour,
        topic=row.topic,
        judged=row.judged_as,
        name=_name(row, ground),
        at=made.fact.at if made.fact else None,
        due_at=due,
        is_left=_is_left(row, due, as_of, content),
        has_own_time=row.within_h is not None,
        messages=tuple(_words(row, verdict, ground, made, facts, content.askable, as_of)),
        infant_id=infant_id,
        working=_working(row, measured, content),
        excess_fraction=_excess(ground) if row.colour == "red" else 0.0,
        to_whom=who_and_how_soon(row) if row.level in LATE_AFTER else "",
        clears=Message(row.clears.says),
        get_help=_of_emergency(row, verdict, content, "get_help"),
        until_help=_of_emergency(row, verdict, content, "until_help"),
        entry_ids=verdict.rests_on,
        degrees=dict(_degrees(verdict)),
        noted_ids=tuple(_noted(verdict)),
    )


def _what_made_it(row: Flag, verdict: Verdict, ground: Ground, content: Content) -> Ground:
    """With which finding a row began to hold: of several together the last that it needed."""
    if row.topic not in {COMBINED, "sign"}:
        return ground
    return what_came_last(row.when, verdict.supports, lambda one: held_from(one, content)) or ground


def _of_emergency(
    row: Flag, verdict: Verdict, content: Content, which: Literal["get_help", "until_help"]
) -> Words:
    """Whom to phone, or what to do until help comes: of the first sign of an infant's emergency."""
    if row.level != "emergency" or row.about != "infant":
        return ""
    terms = content.vocabularies.get(SIGNS, {})
    keys = (one.compared.sign for one in verdict.supports if one.compared is not None)
    instruction = next((getattr(terms[key], which) for key in keys if key in terms), "")
    return Message(instruction) if instruction else ""


def _degrees(verdict: Verdict) -> Iterator[tuple[str, float]]:
    """Name of what speaks for a row to how bad it is, where that is a matter of degree."""
    for ground in verdict.supports:
        fact, asked = ground.fact, ground.compared
        degree = None if asked is None or fact is None else _degree(ground, fact, asked)
        if asked is not None and degree is not None:
            yield asked.measure or asked.sign, degree


def _degree(ground: Ground, fact: Measure | Sign, asked: Condition) -> float | None:
    """How bad a fact is: the greater the worse; None where it is no matter of degree."""
    if isinstance(fact, Sign) or fact.degree is not None:
        return fact.degree
    value = as_shown(fact)
    is_so = ground.limit is None or compares(asked.compare, value, ground.limit.value)
    # Below a `not` what counts is that the comparison does not hold: there the other way is worse.
    is_worse_above = (asked.compare or "").startswith(">") == is_so
    return value if is_worse_above else -value


def _noted(verdict: Verdict) -> Iterator[UUID]:
    """The entries of what speaks for a row and is no matter of degree."""
    for ground in verdict.supports:
        fact, asked = ground.fact, ground.compared
        if fact is not None and (asked is None or _degree(ground, fact, asked) is None):
            yield from (one for one in fact.entry_ids if one is not None)


def _name(row: Flag, ground: Ground) -> Words:
    """What is found, in a few words; empty where the row gives none."""
    if not row.name:
        return ""
    return filled(row.name, dict(ground.fact.gaps) if ground.fact else {})


def _is_left(row: Flag, due_at: datetime | None, as_of: datetime, content: Content) -> bool:
    """Whether a look that leaves few hours is long past due: then somebody sees it within a day."""
    few_h = content.constant("ranking.look_few_h").value
    if row.level != "look" or row.within_h is None or row.within_h > few_h or due_at is None:
        return False
    return as_of > due_at + timedelta(hours=content.constant(LEFT_AFTER).value)


def who_and_how_soon(row: Flag) -> Words:
    """Who must know, and how soon."""
    who = Message(row.to_whom)
    if not row.how_soon:
        return who
    phoned = PHONED.get(row.how_soon)
    if phoned is not None:
        return phoned.with_params(who=who)
    return WHO_AND_SOON.with_params(who=who, soon=Message(row.how_soon))


def _words(
    row: Flag,
    verdict: Verdict,
    ground: Ground,
    made: Ground,
    facts: Facts,
    names: Askable,
    as_of: datetime,
) -> Iterator[Words]:
    """The sentence of the row, what the fact says beyond it, and how old a fact it rests on."""
    if row.sentence:
        gaps = dict(_gaps(ground, facts))
        if made.fact is not None and made.fact.age_h is not None:
            gaps["at_age"] = Age(made.fact.age_h)
        gaps["parts"] = Listed(tuple(dict.fromkeys(_parts(verdict, names.infant.short))))
        yield filled(row.sentence, gaps)
    fact = ground.fact
    # A row of several findings says of each what speaks beside it.
    beside = verdict.supports if row.topic == COMBINED else (ground,)
    yield from dict.fromkeys(words for one in beside if one.fact for words in one.fact.says)
    if row.asks:
        yield Message(row.asks)
    # What is said of a later fact tells that the one of the row is no longer the latest.
    if row.since and isinstance(fact, Measure) and fact.at is not None and not fact.says:
        gap_h = elapsed_h(fact.at, as_of)
        if gap_h > HOURS_PER_DAY:
            yield Message(row.since, (("ago", Ago(gap_h)),))


def _parts(verdict: Verdict, short: Mapping[str, str]) -> Iterator[Words]:
    """What speaks for a row, each in a few words."""
    for ground in verdict.supports:
        fact, asked = ground.fact, ground.compared
        if fact is None or asked is None:
            continue
        gaps = dict(fact.gaps)
        name = short.get(asked.measure or asked.sign)
        if name is not None:
            if isinstance(fact, Measure):
                gaps["value"] = Amount(fact.value, fact.unit)
            yield filled(name, gaps)
        elif "counted" in gaps or "what" in gaps:
            words = gaps.get("counted", gaps.get("what"))
            if isinstance(words, str | Message):
                yield words


def _gaps(ground: Ground, facts: Facts) -> Iterator[tuple[str, Param]]:
    """What fills a sentence: the fact's own gaps, and those that every row may name.

    value, low, high, limit, bare_limit (without its unit), age (with the instant), at_age, at,
    now_age, from_age and from_day. The caller adds parts: all that speaks for the row.
    """
    fact, limit = ground.fact, ground.limit
    if limit is not None:
        yield "limit", Amount(limit.value, limit.unit)
        yield "bare_limit", Number(limit.value, 0)
    if ground.from_age is not None:
        yield "from_age", Age(hours_of(ground.from_age))
        yield "from_day", Number(ground.from_age.value, 0)
    if facts.age_h is not None:
        yield "now_age", Age(facts.age_h)
    if fact is not None and fact.age_h is not None:
        yield "at_age", Age(fact.age_h)
    if isinstance(fact, Measure):
        yield from _gaps_of_measure(fact, is_age_known=facts.age_h is not None)
    if fact is not None:
        yield from fact.gaps


def _gaps_of_measure(measure: Measure, *, is_age_known: bool) -> Iterator[tuple[str, Param]]:
    value: Param = Amount(measure.value, measure.unit)
    if measure.span:
        value = message("{amount} {span}", amount=value, span=measure.span)
    yield "value", value
    yield "low", Amount(measure.figure.low or 0.0, measure.unit)
    yield "high", Amount(measure.figure.high or 0.0, measure.unit)
    if measure.at is not None:
        when = Instant(measure.at)
        yield "at", when
        age = message("{age} ({when})", age=Age(measure.age_h), when=when)
        yield "age", age if is_age_known else when


def _excess(ground: Ground) -> float:
    """How far a measure lies beyond its limit, as a share of the limit; 0 for a sign."""
    if not isinstance(ground.fact, Measure) or ground.limit is None:
        return 0.0
    value, limit = ground.fact.value, ground.limit.value
    return abs(value - limit) / limit if limit else value


def _working(row: Flag, ground: Ground, content: Content) -> Working | None:
    fact, limit = ground.fact, ground.limit
    ages = tuple(age for age in (ground.from_age, ground.until_age) if age is not None)
    if isinstance(fact, Sign):
        found = fact.working
        return found and msgspec.structs.replace(found, constants=(*ages, *found.constants))
    if fact is None or limit is None or ground.compared is None:
        return None
    names = content.askable.infant if row.about == "infant" else content.askable.parent
    name = Message(names.measures[ground.compared.measure])
    compare = "" if ground.asked.undecided else ground.compared.compare or ""
    comparison = COMPARISONS[compare].with_params(measure=name)
    return _compared(row, fact, name, comparison, (limit, *ages))


def _compared(
    row: Flag, fact: Measure, name: Message, comparison: Message, constants: tuple[Constant, ...]
) -> Working:
    shown = fact.figure.working
    return Working(
        formula=message(
            "{comparison}; {formula}",
            comparison=comparison,
            formula=shown.formula,
        ),
        inputs=(*shown.inputs, Quantity(name=name, value=fact.value, unit=fact.unit)),
        constants=(*constants, *shown.constants),
        notes=(*shown.notes, Message(row.why)),
    )
