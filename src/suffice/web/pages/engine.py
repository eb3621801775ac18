"""The engine's answer as the Family page says it: chances, gauge, what moved it, what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from suffice.care.engine import knows_no_intake
from suffice.inference.estimate import Estimate, Interval, NextWeighing
from suffice.web.wording import Wording, in_words

GAUGE_PX: Final = (20.0, 336.0)
"""Where the gauge's scale begins and ends in its drawing of 360 px."""
GAUGE_TICKS: Final = 4
MOVED_SHOWN: Final = 5


class Gauge(msgspec.Struct, frozen=True, kw_only=True):
    """Intake against requirement, laid out on one scale in mL a day (positions in px)."""

    wide: tuple[float, float]
    inner: tuple[float, float]
    middle: float
    need: float
    need_range: tuple[float, float]
    ticks: tuple[tuple[float, str], ...]
    sentence: str
    need_label: str
    middle_label: str


class Chance(msgspec.Struct, frozen=True, kw_only=True):
    """A question and its probability."""

    question: str
    percent: str
    words: str


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


class EngineShown(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that the page says of the engine's answer.

    `too_early` is said in the first days, when every newborn takes less than the requirement of
    later growth and loses weight, and while nothing of this infant was weighed: then neither the
    gauge nor a chance about intake or gain is shown, because each would alarm, or calm, for nothing.
    """

    refused: bool
    cautions: tuple[str, ...]
    too_early: str = ""
    gauge: Gauge | None = None
    chances: tuple[Chance, ...] = ()
    moved: tuple[Moved, ...] = ()
    suspects: tuple[Asked, ...] = ()
    next_weighing: str = ""
    least_difference: str = ""
    standing: str = ""
    regain: str = ""
    remarks: tuple[str, ...] = ()


def engine_shown(
    estimate: Estimate,
    entries: Mapping[str, str],
    wording: Wording,
    as_of: datetime,
    *,
    asked_from_d: float,
) -> EngineShown:
    """The engine's answer in words.

    Args:
        estimate: The answer.
        entries: Entry id to the entry in words.
        wording: How the clinic reads numbers and times.
        as_of: The instant of the question, from which 'in three days' counts.
        asked_from_d: Age in days from which intake and gain are asked about.
    """
    cautions = tuple(in_words(one.sentence) for one in estimate.cautions if one.severity != "note")
    if estimate.is_refused:
        return EngineShown(refused=True, cautions=cautions)
    notes = tuple(in_words(one.sentence) for one in estimate.cautions if one.severity == "note")
    too_early = _too_early(asked_from_d) if estimate.age_d < asked_from_d else ""
    if not too_early and knows_no_intake(estimate):
        too_early = _(
            "Without a weight after birth or a test weight neither intake nor gain can be judged."
        )
    is_early = bool(too_early)
    return EngineShown(
        refused=False,
        cautions=cautions,
        too_early=too_early,
        gauge=None if is_early else gauge_of(estimate, wording),
        chances=tuple(_chances(estimate, wording, is_early=is_early)),
        moved=tuple(_moved(estimate, entries, wording)),
        suspects=tuple(
            Asked(
                entry_id=_entry_id(one.reading_id),
                what=entries.get(one.reading_id, _("a weight")),
                ask=in_words(one.ask),
                percent=percent_said(one.probability, wording),
            )
            for one in estimate.suspects
        ),
        next_weighing="" if is_early else _next_weighing(estimate.next_weighing, wording, as_of),
        least_difference=_(
            "Two weights on this scale must lie %(grams)s apart before they differ by more than noise."
        )
        % {"grams": wording.weight(estimate.next_weighing.least_difference_g)},
        standing=_standing(estimate, wording),
        regain=_regain(estimate, wording),
        remarks=(
            *notes,
            *([] if is_early else [_about_requirement(estimate, wording)]),
            in_words(estimate.volume_sentence),
            in_words(estimate.limits_sentence),
            in_words(estimate.calibration_sentence),
        ),
    )


def gauge_of(estimate: Estimate, wording: Wording) -> Gauge:
    """The gauge: the intake's median with its 50 and 80 % intervals, the requirement as a line."""
    intake, need = estimate.total_intake, estimate.requirement
    top = max(intake.high_80, need.high_80, intake.median, need.median) * 1.08
    start, end = GAUGE_PX

    def at(value_ml: float) -> float:
        return round(start + (end - start) * max(value_ml, 0.0) / top, 1)

    step = next((s for s in (50, 100, 200, 250, 500) if top / s <= GAUGE_TICKS), 1000)
    ticks = tuple((at(value), str(wording.volume(value))) for value in range(0, int(top) + 1, step))
    sentence = _(
        "Intake %(intake)s (80 %% interval %(low)s to %(high)s); requirement %(need)s"
        " (80 %% interval %(need_low)s to %(need_high)s)."
    ) % {
        "intake": wording.volume(intake.median, "/day"),
        "low": wording.volume(intake.low_80).number,
        "high": wording.volume(intake.high_80).number,
        "need": wording.volume(need.median, "/day"),
        "need_low": wording.volume(need.low_80).number,
        "need_high": wording.volume(need.high_80).number,
    }
    return Gauge(
        wide=(at(intake.low_80), at(intake.high_80)),
        inner=(at(intake.low_50), at(intake.high_50)),
        middle=at(intake.median),
        need=at(need.median),
        need_range=(at(need.low_80), at(need.high_80)),
        ticks=ticks,
        sentence=sentence,
        need_label=_("needs %(volume)s") % {"volume": wording.volume(need.median, "/day")},
        middle_label=_("takes about %(volume)s")
        % {"volume": wording.volume(intake.median, "/day")},
    )


def _too_early(asked_from_d: float) -> str:
    return _(
        "Before day %(day)s neither intake nor gain is judged here: every newborn takes little at"
        " first and loses weight. The loss, the wets and the stools count until then."
    ) % {"day": f"{asked_from_d:g}"}


def _about_requirement(estimate: Estimate, wording: Wording) -> str:
    gain = estimate.question.requirement_gain_g_per_day
    return _(
        "Requirement here: the intake at which the model lets this infant gain %(gain)s g/day."
        " The one from published tables stands under Intake."
    ) % {"gain": wording.number(gain)}


def _chances(estimate: Estimate, wording: Wording, *, is_early: bool) -> list[Chance]:
    question = estimate.question
    asked: list[tuple[str, float | None]] = [
        (
            _("Intake short of requirement"),
            None if is_early else estimate.intake_short_probability,
        ),
        (
            _("Gain below %(limit)s g/day")
            % {"limit": wording.number(question.gain_limit_g_per_day)},
            None if is_early else estimate.gain_below_limit_probability,
        ),
        (
            _("Birth weight not back by day %(day)s") % {"day": f"{question.regain_day:g}"},
            estimate.not_regained_probability,
        ),
    ]
    return [
        Chance(question=what, percent=percent_said(p, wording), words=_likely(p))
        for what, p in asked
        if p is not None
    ]


def percent_said(probability: float, wording: Wording) -> str:
    """A probability in whole percent that never claims certainty."""
    percent = probability * 100
    if percent < 1:
        return "<\u00a01\u00a0%"
    if percent > 99:
        return ">\u00a099\u00a0%"
    return f"{wording.number(percent)}\u00a0%"


def _likely(probability: float) -> str:
    """A probability in words; the bounds are a convention of speech."""
    steps: tuple[tuple[float, Any], ...] = (
        (0.05, _("very unlikely")),
        (0.33, _("unlikely")),
        (0.66, _("uncertain")),
        (0.95, _("likely")),
    )
    return str(next((word for limit, word in steps if probability < limit), _("very likely")))


def _moved(estimate: Estimate, entries: Mapping[str, str], wording: Wording) -> list[Moved]:
    """The entries that moved the answer most, as what the answer would be without them."""
    ordered = sorted(estimate.influences, key=lambda one: -abs(one.shift_sd))[:MOVED_SHOWN]
    kinds = {
        "birth weight": _("the birth weight"),
        "weight": _("a weight"),
        "test weighing": _("a test weight"),
        "diapers": _("a count of diapers"),
    }
    counted = {"wet": _("the wets counted"), "stool": _("the stools counted")}
    shown = []
    for one in ordered:
        how = _("moves the intake by %(intake)s and the gain by %(gain)s") % {
            "intake": _signed_volume(one.intake_shift_ml_per_day, wording),
            "gain": f"{wording.change(one.gain_shift_g_per_day)}\u00a0g/day",
        }
        if one.rough:
            how += " " + _("(roughly)")
        named = entries if one.kind != "diapers" else counted
        shown.append(Moved(what=named.get(one.reading_id, kinds[one.kind]), how=how))
    return shown


def _signed_volume(volume_ml: float, wording: Wording) -> str:
    said = wording.volume(volume_ml, "/day")
    return f"+{said}" if volume_ml > 0 and said.number.strip("0.,") else str(said)


def _next_weighing(advice: NextWeighing, wording: Wording, as_of: datetime) -> str:
    if advice.in_days is None:
        return in_words(advice.because)
    if advice.in_days == 0:
        return in_words(advice.because)
    day = wording.day(as_of + timedelta(days=advice.in_days))
    days = ngettext("in %(n)s day", "in %(n)s days", advice.in_days) % {"n": advice.in_days}
    return _("Weigh again on %(day)s (%(days)s): %(because)s") % {
        "day": day,
        "days": days,
        "because": in_words(advice.because),
    }


def _standing(estimate: Estimate, wording: Wording) -> str:
    one = estimate.standing
    if one is None:
        return ""
    return _(
        "At %(age)s h the change was %(change)s %%; the model's median is %(median)s %%."
        " %(centile)s of its infants (%(mode)s) have lost more. %(label)s"
    ) % {
        "age": wording.number(int(one.age_h)),
        "change": wording.change(one.change_percent),
        "median": wording.change(one.median_change_percent),
        "centile": percent_said(one.centile / 100, wording),
        "mode": in_words(one.mode),
        "label": in_words(one.label),
    }


def _regain(estimate: Estimate, wording: Wording) -> str:
    regain: Interval | None = estimate.regain_age_d
    if regain is None or regain.median <= estimate.age_d:
        return ""
    return _("Birth weight back about day %(day)s (80 %% interval day %(low)s to %(high)s).") % {
        "day": wording.number(regain.median),
        "low": wording.number(regain.low_80),
        "high": wording.number(regain.high_80),
    }


def _entry_id(reading_id: str) -> str:
    """The entry's id, or nothing where the reading is not an entry of its own."""
    try:
        return str(UUID(reading_id))
    except ValueError:
        return ""
