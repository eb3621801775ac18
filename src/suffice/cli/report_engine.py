"""The engine's answer written out for a terminal."""

from __future__ import annotations

from collections.abc import Mapping

from suffice.assess.engine import sentences
from suffice.assess.engine.answers import (
    EngineAnswer,
    engine_answers,
    forecast_ahead,
    forecast_working,
    moved_most,
)
from suffice.assess.engine.ask import speaks_of_intake
from suffice.assess.results import InfantAssessment
from suffice.cli.console import in_words, print_words, speaking
from suffice.cli.report_working import print_working
from suffice.inference.estimate import Estimate
from suffice.knowledge.store import Content
from suffice.language.amounts import amount
from suffice.language.figures import answer_name
from suffice.language.kinds import SEVERITIES
from suffice.message import Amount, Chance, Listed, Number, Param, message

FROM_CERTAIN_PERCENT = 100


def print_estimate(
    infant: InfantAssessment, estimate: Estimate, content: Content, entries: Mapping[str, str]
) -> None:
    """Print the engine's answer: what to ask, its cautions, its numbers, what moved it."""
    print_words(message("Is it enough? The engine's answer from all the evidence:"), indent=2)
    for suspect in estimate.suspects:
        chance = Chance(suspect.probability)
        print_words(
            message("{chance} wrong: {ask}", chance=chance, ask=in_words(suspect.ask)), indent=4
        )
    for caution in estimate.cautions:
        severity = SEVERITIES[caution.severity]
        line = message("{severity}: {what}", severity=severity, what=in_words(caution.sentence))
        print_words(line, indent=4)
    if estimate.is_refused:
        return
    speaks = speaks_of_intake(estimate, content)
    if not speaks:
        print_words(sentences.why_silent(estimate, content), indent=4)
    if infant.agreement:
        print_words(infant.agreement, indent=4)
    question = estimate.question
    for answer in engine_answers(estimate, content, infant.engine_facts):
        name = answer_name(
            answer.key,
            gain_limit_g_per_day=question.gain_limit_g_per_day,
            regain_day=question.regain_day,
        )
        print_words(message("{name}: {answer}", name=name, answer=_answer(answer)), indent=4)
        print_working(answer.working)
    if infant.weights:
        for ahead in forecast_ahead(estimate):
            print_words(sentences.forecast(ahead), indent=4)
        print_working(forecast_working(estimate, content, infant.engine_facts))
    if speaks:
        _print_moved(estimate, entries)
    for sentence in (
        estimate.volume_sentence,
        estimate.limits_sentence,
        estimate.calibration_sentence,
    ):
        print_words(sentence, indent=4, style="dim")


def _print_moved(estimate: Estimate, entries: Mapping[str, str]) -> None:
    most = moved_most(estimate)
    if most:
        heading = message("what moved this (the answer with each less the answer without it):")
        print_words(heading, indent=4)
    for one in most:
        what, how = sentences.moved(one, entries)
        print_words(message("{what}: {how}", what=what, how=how), indent=6)


def _answer(answer: EngineAnswer) -> Param:
    """A number of the engine's answer: a median with all its intervals, or the number alone."""
    value, one = answer.value, answer.interval
    if one is None:
        if value is None:
            return ""
        if answer.key == "least_difference_g":
            return Amount(value, "g")
        return Chance(value / FROM_CERTAIN_PERCENT if answer.key == "lost_more" else value)
    spans = tuple(
        message(
            "{level} % {low} to {high}",
            level=str(level),
            low=_without_unit(_number(answer, low)),
            high=_number(answer, high),
        )
        for level, low, high in (
            (50, one.low_50, one.high_50),
            (80, one.low_80, one.high_80),
            (95, one.low_95, one.high_95),
        )
    )
    return message("{median} ({spans})", median=_number(answer, one.median), spans=Listed(spans))


def _without_unit(number: Param) -> Param:
    """A number without its unit, where the same one follows."""
    if not isinstance(number, Amount):
        return number
    return amount(number.value, number.unit, speaking(), decimals=number.decimals).number


def _number(answer: EngineAnswer, value: float) -> Param:
    if answer.capped_at is not None and value >= answer.capped_at:
        return message("day {day} or later", day=Number(value, 0))
    if answer.key == "share_of_requirement":
        return Amount(FROM_CERTAIN_PERCENT * value, "%", decimals=0)
    if answer.key == "regain_age_d":
        return message("day {day}", day=Number(value, 0))
    return Amount(value, answer.interval.unit if answer.interval else "1")
