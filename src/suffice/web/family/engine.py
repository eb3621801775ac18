"""The engine's answer as the Family page says it: gauge, numbers, chances, what moved it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _

from suffice.assess.engine import sentences
from suffice.assess.engine.answers import (
    EngineAnswer,
    engine_answers,
    forecast_ahead,
    forecast_working,
    moved_most,
)
from suffice.assess.engine.ask import speaks_of_intake
from suffice.assess.results import EngineFacts
from suffice.inference.estimate import Caution, Estimate, Interval
from suffice.knowledge.store import Content
from suffice.language.amounts import AmountText, unit_text
from suffice.language.figures import ALL_AT_THE_BREAST, answer_name, likely_text
from suffice.message import Message
from suffice.web.shown.gauge import Gauge, gauge_of
from suffice.web.shown.wording import Wording, as_heading, in_words
from suffice.web.shown.working import WorkingShown, working_shown

LEVELS: Final = (50, 80, 95)
TOO_EARLY: Final = "early-days"
REPEATS: Final[Mapping[str, str]] = {"old-weight": "no-weight"}
"""Code of a caution to the one beside which it says nothing new."""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A number of the answer: its middle and 80 % interval; the working opens all three."""

    key: str
    name: Any
    text: str
    interval: str
    working: WorkingShown


class Chance(msgspec.Struct, frozen=True, kw_only=True):
    """A question and its probability."""

    question: str
    percent: str
    words: str
    working: WorkingShown


class Sentence(msgspec.Struct, frozen=True, kw_only=True):
    """Something put into a sentence, with its working."""

    text: str
    working: WorkingShown


class Expected(msgspec.Struct, frozen=True, kw_only=True):
    """The weight that is expected at the end of the forecast, with its 80 % interval."""

    name: str
    text: str
    interval: str


class Moved(msgspec.Struct, frozen=True, kw_only=True):
    """One entry and how it moved the answer."""

    what: str
    how: str


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """A weight that may be wrong, and the question to ask."""

    entry_id: str
    what: str
    ask: str
    percent: str
    is_likely: bool


class EngineShown(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that the page says of the engine's answer.

    `agreement` joins it with what the rules say, where they point different ways. `too_early` is said in the first days, when every newborn takes less than the requirement of
    later growth and loses weight, and while nothing of this infant was weighed: then neither the
    gauge nor a number or chance about intake or gain is shown, because each would alarm, or calm,
    for nothing.
    """

    refused: bool
    cautions: tuple[str, ...]
    agreement: str = ""
    too_early: str = ""
    gauge: Gauge | None = None
    volume: str = ""
    answers: tuple[Answer, ...] = ()
    chances: tuple[Chance, ...] = ()
    moved: tuple[Moved, ...] = ()
    suspects: tuple[Asked, ...] = ()
    least_difference: Sentence | None = None
    loss_centile: Sentence | None = None
    forecast: Sentence | None = None
    expected: Expected | None = None
    remarks: tuple[str, ...] = ()

    @property
    def workings(self) -> tuple[tuple[str, WorkingShown], ...]:
        """How its probabilities and sentences came about, by name."""
        return (
            *((one.question, one.working) for one in self.chances),
            *((one.text, one.working) for one in (self.loss_centile, self.forecast) if one),
        )


def engine_shown(
    estimate: Estimate,
    facts: EngineFacts,
    entries: Mapping[str, str],
    wording: Wording,
    content: Content,
) -> EngineShown:
    """The engine's answer in words.

    Args:
        estimate: The answer.
        facts: What decides which of the model's values it rests on.
        entries: Entry id to the entry in words.
        wording: How the clinic reads numbers and times.
        content: The content in force, for the age from which intake is asked about and for the
            constants of the workings.
    """
    cautions = tuple(_cautions(estimate.cautions, is_note=False))
    if estimate.is_refused:
        return EngineShown(refused=True, cautions=cautions)
    speaks = speaks_of_intake(estimate, content)
    answers = engine_answers(estimate, content, facts)
    by_key = {one.key: one for one in answers}
    least, loss_centile = by_key["least_difference_g"], by_key.get("lost_more")
    weighed = not any(one.code == "no-weight" for one in estimate.cautions)
    return EngineShown(
        refused=False,
        cautions=cautions,
        too_early="" if speaks else in_words(sentences.why_silent(estimate, content)),
        gauge=gauge_of(estimate, wording) if speaks else None,
        volume=in_words(estimate.volume_sentence) if speaks else "",
        answers=tuple(_answers(answers, estimate, wording)),
        chances=tuple(_chances(answers, estimate, wording)),
        moved=tuple(_moved(estimate, entries)) if speaks else (),
        suspects=tuple(_suspects(estimate, entries, content, wording)),
        least_difference=_least_difference(least, wording) if weighed else None,
        loss_centile=None
        if loss_centile is None
        else _loss_centile(estimate, loss_centile, wording),
        forecast=_forecast(estimate, facts, content, wording),
        expected=_expected(estimate, wording) if speaks else None,
        remarks=(
            *_cautions(estimate.cautions, is_note=True, left_out=() if speaks else (TOO_EARLY,)),
            *([in_words(sentences.about_requirement(estimate))] if speaks else []),
            in_words(estimate.limits_sentence),
            in_words(estimate.calibration_sentence),
        ),
    )


def _cautions(
    cautions: Iterable[Caution], *, is_note: bool, left_out: tuple[str, ...] = ()
) -> Iterator[str]:
    """Cautions, or notes, that say something new; codes that are left out are shown elsewhere."""
    shown = tuple(cautions)
    codes = {one.code for one in shown}
    for one in shown:
        is_new = one.code not in left_out and REPEATS.get(one.code) not in codes
        if is_new and (one.severity == "note") == is_note:
            yield in_words(one.sentence)


# ---- numbers with their intervals ------------------------------------------------------------


def _answers(
    answers: Iterable[EngineAnswer], estimate: Estimate, wording: Wording
) -> Iterator[Answer]:
    """The numbers; where no milk is given the intake at the breast is all of it and shown once."""
    at_the_breast = estimate.milk_given_ml_per_day <= 0
    for one in answers:
        if one.interval is None or (at_the_breast and one.key == "breast_intake"):
            continue
        shown = _answer(one, estimate, wording)
        if at_the_breast and one.key == "total_intake":
            shown = msgspec.structs.replace(shown, name=as_heading(ALL_AT_THE_BREAST))
        yield shown


def _answer(one: EngineAnswer, estimate: Estimate, wording: Wording) -> Answer:
    interval = one.interval
    if interval is None:
        raise ValueError(f"{one.key} has no interval")
    levels = tuple(
        (f"{level}\u00a0%", _between(one, *_ends(interval, level), wording)) for level in LEVELS
    )
    is_late = one.capped_at is not None and interval.median >= one.capped_at
    median = _value_text(one, interval.median, wording)
    return Answer(
        key=one.key,
        name=as_heading(_name(one.key, estimate)),
        text=_("after %(age)s") % {"age": median} if is_late else str(median),
        interval=_("%(span)s (80 %%)") % {"span": levels[1][1]},
        working=working_shown(one.working, wording, levels),
    )


def _ends(interval: Interval, level: int) -> tuple[float, float]:
    return {
        50: (interval.low_50, interval.high_50),
        80: (interval.low_80, interval.high_80),
        95: (interval.low_95, interval.high_95),
    }[level]


def _between(one: EngineAnswer, low: float, high: float, wording: Wording) -> str:
    """An interval in words; an age at the end of the forecast may be any later one."""
    if one.capped_at is not None and high >= one.capped_at:
        return _("%(low)s or later") % {"low": _value_text(one, low, wording)}
    first, last = _value_text(one, low, wording), _value_text(one, high, wording)
    return _("%(low)s to %(high)s") % {"low": first.number, "high": last}


def _value_text(one: EngineAnswer, value: float, wording: Wording) -> AmountText:
    if one.key == "regain_age_d":
        return AmountText(number=_("day %(day)s") % {"day": wording.number(value)})
    if one.key == "share_of_requirement":
        return AmountText(number=wording.number(100 * value), unit="%")
    if one.key == "gain":
        return AmountText(
            number=wording.number(value), unit=unit_text("g/d", wording.policy.language)
        )
    unit = one.interval.unit if one.interval else "1"
    return wording.quantity(value, unit)


# ---- chances ---------------------------------------------------------------------------------


def _chances(
    answers: Iterable[EngineAnswer], estimate: Estimate, wording: Wording
) -> Iterator[Chance]:
    for one in answers:
        if one.key in CHANCES and one.value is not None:
            yield Chance(
                question=as_heading(_name(one.key, estimate)),
                percent=wording.chance(one.value),
                words=in_words(likely_text(one.value)),
                working=working_shown(one.working, wording),
            )


CHANCES: Final = frozenset(
    {"intake_short_probability", "gain_below_limit_probability", "not_regained_probability"}
)


def _name(key: str, estimate: Estimate) -> Message:
    question = estimate.question
    return answer_name(
        key,
        gain_limit_g_per_day=question.gain_limit_g_per_day,
        regain_day=question.regain_day,
    )


# ---- entries ---------------------------------------------------------------------------------


def _suspects(
    estimate: Estimate, entries: Mapping[str, str], content: Content, wording: Wording
) -> Iterator[Asked]:
    likely = content.constant("ranking.wrong_weight_fraction").value
    for one in estimate.suspects:
        yield Asked(
            entry_id=_entry_id(one.reading_id),
            what=entries.get(one.reading_id, in_words(sentences.MOVED_BY["weight"])),
            ask=in_words(one.ask),
            percent=wording.chance(one.probability),
            is_likely=one.probability >= likely,
        )


def _moved(estimate: Estimate, entries: Mapping[str, str]) -> Iterator[Moved]:
    """The entries that moved the answer most: the answer with each less the answer without it."""
    for one in moved_most(estimate):
        what, how = sentences.moved(one, entries)
        yield Moved(what=in_words(what), how=in_words(how))


def _least_difference(one: EngineAnswer, wording: Wording) -> Sentence:
    text = sentences.least_difference(one.value or 0.0)
    return Sentence(text=in_words(text), working=working_shown(one.working, wording))


def _forecast(
    estimate: Estimate, facts: EngineFacts, content: Content, wording: Wording
) -> Sentence:
    """The fan of the chart in words, at its end."""
    text = sentences.forecast(forecast_ahead(estimate)[-1])
    working = forecast_working(estimate, content, facts)
    return Sentence(text=in_words(text), working=working_shown(working, wording))


def _expected(estimate: Estimate, wording: Wording) -> Expected:
    ahead = forecast_ahead(estimate)[0]
    low, high = wording.weight(ahead.low_80_g), wording.weight(ahead.high_80_g)
    return Expected(
        name=_("Expected weight in %(days)s days") % {"days": wording.number(ahead.in_days)},
        text=str(wording.weight(ahead.median_g)),
        interval=_("%(low)s to %(high)s") % {"low": low.number, "high": high} + " (80 %)",
    )


def _loss_centile(estimate: Estimate, answer: EngineAnswer, wording: Wording) -> Sentence | None:
    text = sentences.loss_centile(estimate)
    if text is None:
        return None
    return Sentence(text=in_words(text), working=working_shown(answer.working, wording))


def _entry_id(reading_id: str) -> str:
    """The entry's id, or nothing where the reading is not an entry of its own."""
    try:
        return str(UUID(reading_id))
    except ValueError:
        return ""
