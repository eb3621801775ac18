"""Red and overdue findings, by the rules of the content's ranking table.

A rule compares one measure with one limit, both from the content, and says one sentence. What
this module adds is honesty about the measure: a gain whose interval reaches to both sides of the
limit is not called low but 'cannot tell', a count is called too few only where no diaper can be
missing from it, and a temperature stands no longer than the content lets it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import lru_cache
from string import Formatter
from typing import Final, Literal

from suffice.assess.case import Case, Measure, Review
from suffice.assess.engine.ask import CANNOT_TELL as CANNOT_TELL_CODE
from suffice.assess.ranking import RankingRules
from suffice.assess.results import Finding
from suffice.clinical.age import elapsed_h
from suffice.clinical.reading.writing import PERCENT_DECIMALS
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Quantity, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.schema import Rule
from suffice.knowledge.store import Content
from suffice.message import Age, Ago, Amount, Instant, Message, Param, Words, message

TABLE = "ranking"
CHOICE = "choice:"

CANNOT_TELL: Final = "cannot tell"
FLAGS_AFTER = ("no-wet", "no-first-wet", "no-first-stool", "pale-stool", "red-stool", "illness")
"""Red findings that no comparison of the table makes; they stand behind its red rules."""


Verdict = Literal["true", "false", "cannot tell"]


def apply_rules(case: Case, review: Review) -> None:
    """Ask every red rule of the table of one infant and write what is true as findings.

    Without an instant of birth there is no measure but the temperature: an infant of unknown age
    is taken for a newborn then.
    """
    said: set[str] = set()
    for rule in case.content.rules[TABLE]:
        measure = review.measures.get(rule.measure)
        if rule.tier != "red" or measure is None or rule.unless in said:
            continue
        limit = limit_of(rule.limit, case.content, measure.age_h)
        if limit is None or not _is_asked(rule, case.content, measure.age_h):
            continue
        verdict = _verdict(rule, measure, limit)
        if verdict == "true":
            said.add(rule.name)
        if verdict != "false":
            _find(rule, measure, limit, verdict, case, review)


def weight_codes(content: Content) -> frozenset[str]:
    """The codes of the red findings about weight or gain."""
    return frozenset(rule.name for rule in content.rules[TABLE] if rule.measure in WEIGHED)


@lru_cache(maxsize=8)
def _red_order(content: Content) -> Mapping[str, int]:
    named = [rule.name for rule in content.rules[TABLE] if rule.tier == "red"]
    return {code: place for place, code in enumerate(dict.fromkeys([*named, *FLAGS_AFTER]))}


def ranking_rules(content: Content, policy: Policy) -> RankingRules:
    """The order of red findings and the engine's limits, as content and policy have them."""
    return RankingRules(
        red_order=_red_order(content),
        likely_short=content.constant("ranking.likely_short_fraction"),
        likely_short_from=content.constant("ranking.likely_short_from_age_d"),
        with_engine=policy.engine_ranking,
    )


def limit_of(key: str, content: Content, age_h: float) -> Constant | None:
    """A limit by its key or by the choice in force; of a series, the value at that age.

    Where the chosen series says nothing about that age, the first of the other candidates that
    does holds: a clinic that chose a chart of days 2 to 11 has not given up all other days. None
    where none does.
    """
    if key.startswith(CHOICE):
        disagreement = content.disagreements[key.removeprefix(CHOICE)]
        limits = (
            limit_of(one, content, age_h) for one in (disagreement.chosen, *disagreement.candidates)
        )
        return next((limit for limit in limits if limit is not None), None)
    if key not in content.series:
        return content.constant(key)
    series = content.table(key)
    position = {
        "age_h": age_h,
        "age_d": age_h / HOURS_PER_DAY,
        # Day 1 is the first 24 h; what ends on the stroke of a day speaks of the day before.
        "day": float(max(1, math.ceil(age_h / HOURS_PER_DAY))),
    }[series.axis]
    return series.at(position) if series.covers(position) else None


def _is_asked(rule: Rule, content: Content, age_h: float) -> bool:
    """Whether the rule is asked at this age: from `from_age` on, and before `until_age`."""
    for key, is_start in ((rule.from_age, True), (rule.until_age, False)):
        border = limit_of(key, content, age_h) if key else None
        if border is not None:
            border_h = border.value * (HOURS_PER_DAY if border.unit == "d" else 1)
            if (age_h >= border_h) != is_start:
                return False
    return True


def _verdict(rule: Rule, measure: Measure, limit: Constant) -> Verdict:
    """How the measure stands to the limit.

    An interval (a figure with a level) must lie on the far side whole for a plain 'true'; where
    only the value does, the weights cannot tell.
    """
    if not _compares(rule.compare, _as_shown(measure), limit.value):
        return "false"
    figure = measure.figure
    if figure.level is not None and figure.low is not None and figure.high is not None:
        far_end = figure.high if rule.compare.startswith("<") else figure.low
        if not _compares(rule.compare, far_end, limit.value):
            return CANNOT_TELL
    return "true"


def _as_shown(measure: Measure) -> float:
    """The value that is compared: a percentage as it is shown.

    A loss that reads '10.0 %' must not pass for less than ten, nor '0.0 %' for still below.
    """
    return round(measure.value, PERCENT_DECIMALS) if measure.unit == "%" else measure.value


def _compares(compare: str, value: float, limit: float) -> bool:
    return {
        ">=": value >= limit,
        ">": value > limit,
        "<": value < limit,
        "<=": value <= limit,
    }.get(compare, False)


def _find(
    rule: Rule, measure: Measure, limit: Constant, verdict: Verdict, case: Case, review: Review
) -> None:
    review.rests_on[rule.name] = measure.entry_ids
    at = _instant(measure, case)
    working = _working(rule, measure, limit)
    value: Param = Amount(measure.value, measure.unit)
    if measure.span:
        value = message("{amount} {span}", amount=value, span=measure.span)
    age: Param = Instant(at)
    if case.born_at:
        age = message("{age} ({when})", age=Age(measure.age_h), when=Instant(at))
    gaps: dict[str, Param] = {"value": value, "limit": Amount(limit.value, limit.unit), "age": age}
    if verdict == CANNOT_TELL:
        review.find(
            f"{rule.name}{CANNOT_TELL_CODE}",
            "amber",
            message(
                "Gained {value} up to {age}: it may lie anywhere from {low} to {high}, so the"
                " weights cannot tell whether it is below the limit of {limit}.",
                value=value,
                age=age,
                limit=gaps["limit"],
                low=Amount(measure.figure.low or 0.0, measure.unit),
                high=Amount(measure.figure.high or 0.0, measure.unit),
            ),
            working=working,
        )
        return
    said: tuple[Words, ...] = (_reason(rule, gaps),)
    gap_h = elapsed_h(at, case.as_of)
    if rule.measure in WEIGHED and gap_h > HOURS_PER_DAY:
        said = (*said, message("No weight since ({ago}).", ago=Ago(gap_h)))
    excess = abs(measure.value - limit.value) / limit.value if limit.value else measure.value
    review.find(
        rule.name,
        "red",
        *said,
        working=working,
        excess_fraction=excess,
        to_whom=Message(rule.to_whom),
    )


def _reason(rule: Rule, gaps: Mapping[str, Param]) -> Message:
    """The sentence of a rule with the gaps that it names."""
    named = {gap for _, gap, _, _ in Formatter().parse(rule.reason) if gap}
    return Message(rule.reason, tuple((name, gaps[name]) for name in sorted(named)))


def _instant(measure: Measure, case: Case) -> datetime:
    """When a measure was true; without an instant of birth, when its entry was."""
    if case.born_at is not None:
        return case.at_age(measure.age_h)
    return next(entry.true_at for entry in case.entries if entry.id in measure.entry_ids)


WEIGHED = frozenset({"loss_percent", "gain_g_per_day"})


def _working(rule: Rule, measure: Measure, limit: Constant) -> Working:
    shown = measure.figure.working
    return Working(
        formula=message(
            "{measure} {compare} limit; {formula}",
            measure=rule.measure,
            compare=rule.compare,
            formula=shown.formula,
        ),
        inputs=(
            *shown.inputs,
            Quantity(name=rule.measure, value=measure.value, unit=measure.unit),
        ),
        constants=(limit, *shown.constants),
        notes=(*shown.notes, *((Message(rule.why),) if rule.why else ())),
    )


LEVELS = ("red", "amber", "note")


def in_order_of_urgency(findings: Iterable[Finding], content: Content) -> tuple[Finding, ...]:
    """Red findings in the table's order, then amber ones, then notes."""
    order = _red_order(content)
    return tuple(
        sorted(
            findings,
            key=lambda finding: (
                LEVELS.index(finding.level),
                order.get(finding.code, len(order)),
            ),
        )
    )
