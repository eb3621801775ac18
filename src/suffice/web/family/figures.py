"""The figures of one infant as one table: one gain, one need, one intake, one expected weight.

What else answers the same question stands apart, with why it differs; a rate whose interval says
nothing is not printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

import msgspec
from django.utils.translation import gettext as _

from suffice.assess.results import InfantAssessment
from suffice.clinical.working import Figure
from suffice.knowledge.store import Content
from suffice.language.amounts import AmountText
from suffice.language.figures import GROUPS, figure_name
from suffice.message import Amount, Message, message
from suffice.plan.need import Need, need_of
from suffice.web.family.engine import Answer, EngineShown
from suffice.web.shown.wording import Wording, as_heading, in_sentences, in_words
from suffice.web.shown.working import (
    FigureShown,
    WorkingShown,
    figure_shown,
    interval_of,
    working_shown,
)

NOT_FIGURES: Final = frozenset({"loss_percent", "estimate"})
"""Figures that repeat another one with the sign turned, which findings use; and what is no figure."""
OUTPUT: Final = ("wets_24h", "stools_24h")
FIRST: Final = (
    *("change_percent", "gain_g_per_day", "milk_given_24h_ml", "transfer_ml", "transfers_24h_ml"),
    *("z", "centile", "corrected_age_d", "temperature_c"),
)
"""Figures of the table, in the order in which they are read; need, intake and forecast come between."""
GAIN: Final = "gain_g_per_day"
WHY_DIFFERENT: Final[Mapping[str, Message]] = {
    "Weight": message(
        "Each takes other weights: the last two alone, all since the lowest, or the ones that tell a"
        " slow gain from a brisk one. The gain in the table is the last of these, and the flags go by it."
    ),
    "Intake": message(
        "The tables are about all infants of a weight; what was measured is about the feeds that"
        " were weighed or given, and no others."
    ),
}
"""Title of a group to why its other figures differ from the one in the table."""
NEED_BY: Final[Mapping[str, Message]] = {
    "engine": message(
        "by this infant's own course, at which the model lets it gain {gain}; the clinic plans by it"
    ),
    "requirement": message(
        "by the published requirement at its weight and age; its own course does not tell yet"
    ),
    "observed": message("by what infants of its age took; there is no requirement at this age"),
}
USED: Final[Mapping[str, str]] = {
    "requirement": "requirement_ml_per_day",
    "observed": "observed_ml_per_day",
}
"""Who answers how much a day to the figure that is then the need."""
TOO_CLOSE: Final = message("too close together to tell")


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the table: a figure, or why it says nothing; its interval, and what it is by."""

    name: str
    text: AmountText | None
    interval: str = ""
    by: str = ""
    why_not: str = ""


class Other(msgspec.Struct, frozen=True, kw_only=True):
    """Other ways to work out what the table says, and why they differ."""

    title: str
    why: str
    rows: tuple[Row, ...]


class Figures(msgspec.Struct, frozen=True, kw_only=True):
    """The table, the other ways, the workings of both by name, and what cannot be computed."""

    rows: tuple[Row, ...]
    others: tuple[Other, ...]
    workings: tuple[tuple[str, WorkingShown], ...]
    missing: tuple[FigureShown, ...]
    gain: str


def figures_of(
    infant: InfantAssessment, engine: EngineShown | None, content: Content, wording: Wording
) -> Figures:
    """The figures of an infant.

    Args:
        infant: What was computed of it.
        engine: The engine's answer in words; None where there is none.
        content: The content in force: which gain says nothing, and the need.
        wording: How the clinic reads numbers and times.
    """
    table = _Table(infant, engine, content, wording)
    rows = tuple(table.first())
    others = tuple(table.others())
    return Figures(
        rows=rows,
        others=others,
        workings=tuple(table.workings),
        missing=tuple(_missing(infant)),
        gain=table.gain(),
    )


class _Table:
    """Builds the rows and keeps their workings."""

    def __init__(
        self,
        infant: InfantAssessment,
        engine: EngineShown | None,
        content: Content,
        wording: Wording,
    ) -> None:
        self._infant = infant
        self._engine = engine
        self._content = content
        self._wording = wording
        self.need = need_of(infant, content)
        self.workings: list[tuple[str, WorkingShown]] = []

    def first(self) -> Iterator[Row]:
        """One answer for each question."""
        for key in FIRST:
            if key == "milk_given_24h_ml":
                yield from self._need()
                yield from self._intake()
                yield from self._expected()
            figure = self._infant.figures.get(key)
            if figure is not None:
                yield self._row(key, figure)

    def gain(self) -> str:
        """The gain in a few words; empty where there is none to say."""
        figure = self._infant.figures.get(GAIN)
        if figure is None or self._says_nothing(figure):
            return ""
        return f"{figure_shown(GAIN, figure, self._wording).text}"

    def others(self) -> Iterator[Other]:
        """The figures that are not in the table, by what they are about."""
        shown = {*FIRST, USED.get(self.need.by)}
        named = {key for _title, keys in GROUPS for key in keys}
        output = {f"{key}{end}" for key in OUTPUT for end in ("", "_expected")}
        rest = tuple(key for key in self._infant.figures if key not in named | output | NOT_FIGURES)
        for title, keys in (*GROUPS, (message("More"), rest)):
            rows = [
                self._row(key, self._infant.figures[key])
                for key in keys
                if key in self._infant.figures and key not in shown | NOT_FIGURES
            ]
            if title.template in {"Weight", "Intake"}:
                rows += list(self._of_engine(title.template))
            if rows:
                why = WHY_DIFFERENT.get(title.template)
                yield Other(
                    title=as_heading(title), why=in_words(why) if why else "", rows=tuple(rows)
                )

    def _row(self, key: str, figure: Figure) -> Row:
        shown = figure_shown(key, figure, self._wording)
        name = as_heading(message("gain a day")) if key == GAIN else shown.name
        self._keep(name, shown.working)
        if key.startswith("gain_") and self._says_nothing(figure):
            return Row(name=name, text=None, why_not=in_words(TOO_CLOSE))
        return Row(name=name, text=shown.text, interval=shown.interval)

    def _says_nothing(self, figure: Figure) -> bool:
        """Whether a gain may be almost anything: its interval is wider than the content asks for."""
        if figure.low is None or figure.high is None or figure.unit != "g/d":
            return False
        widest = self._content.constant("gain.wide_g_per_day").value
        return (figure.high - figure.low) / 2 > widest

    def _need(self) -> Iterator[Row]:
        need: Need = self.need
        if need.per_day is None:
            return
        name = as_heading(message("need a day"))
        by = NEED_BY[need.by]
        estimate = self._infant.estimate
        if need.by == "engine" and estimate is not None:
            by = by.with_params(gain=Amount(estimate.question.requirement_gain_g_per_day, "g/d"))
        texts = [in_words(by)]
        low, high = need.lowest_other_ml_per_day, need.highest_other_ml_per_day
        if low is not None and high is not None:
            texts.append(self._other_sources(low, high))
        working = working_shown(need.per_day.working, self._wording)
        for one in self._answers:
            if one.key == "requirement" and need.by == "engine":
                working = one.working
        self._keep(name, working)
        yield Row(
            name=name,
            text=self._wording.daily(need.per_day.value),
            interval=interval_of(need.per_day, self._wording),
            by="; ".join(texts),
        )

    def _other_sources(self, low_ml: float, high_ml: float) -> str:
        """What the other sources come to: a range, or one number where all come to the same."""
        low, high = self._wording.volume(low_ml).number, self._wording.daily(high_ml)
        if low == high.number:
            return _("other sources: %(need)s") % {"need": high}
        return _("other sources: %(low)s to %(high)s") % {"low": low, "high": high}

    def _intake(self) -> Iterator[Row]:
        """The engine's intake; what was measured stands below it as what it is."""
        yield from (self._answer(one) for one in self._answers if one.key == "total_intake")

    @property
    def _answers(self) -> tuple[Answer, ...]:
        return self._engine.answers if self._engine else ()

    def _answer(self, one: Answer, by: str = "") -> Row:
        self._keep(str(one.name), one.working)
        text = AmountText(number=one.text)
        return Row(name=str(one.name), text=text, interval=one.interval, by=by)

    def _expected(self) -> Iterator[Row]:
        if self._engine is not None and self._engine.expected is not None:
            expected = self._engine.expected
            yield Row(
                name=expected.name,
                text=AmountText(number=expected.text),
                interval=expected.interval,
            )

    def _of_engine(self, title: str) -> Iterator[Row]:
        keys = {"Weight": ("gain", "present_weight", "regain_age_d")}.get(
            title, ("breast_intake", "requirement", "share_of_requirement")
        )
        is_used = {"requirement"} if self.need.by == "engine" else set()
        by = in_words(message("by the engine"))
        for one in self._answers:
            if one.key in keys and one.key not in is_used:
                yield self._answer(one, by)

    def _keep(self, name: str, working: WorkingShown | None) -> None:
        if working is not None:
            self.workings.append((name, working))


def _missing(infant: InfantAssessment) -> Iterator[FigureShown]:
    keys: Iterable[str] = (key for _title, keys in GROUPS for key in keys)
    for key in keys:
        why = infant.not_computed.get(key)
        if why is not None and key not in infant.figures:
            name = as_heading(figure_name(key))
            yield FigureShown(key=key, name=name, why_not=in_sentences([why]))
