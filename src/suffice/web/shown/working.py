"""A figure with its working, ready to print."""

from __future__ import annotations

from typing import Final

import msgspec
from django.utils.translation import gettext as _

from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.assembly import COMMON_PRACTICE, FROM_MEMORY
from suffice.language.amounts import AmountText, constant_text, figures_text, signed
from suffice.language.figures import figure_name, input_name
from suffice.language.kinds import BASES, READINGS
from suffice.message import message
from suffice.web.shown.wording import Wording, as_heading, in_words

AGES: Final = frozenset({"nadir_h", "regain_h"})
"""Keys of figures that are ages, said as ages are."""


class ConstantShown(msgspec.Struct, frozen=True, kw_only=True):
    """A constant that was used: `source` is a citation, `seen` is in the language of the page."""

    key: str
    text: str
    basis: str
    source: str
    seen: str
    overridden: str


class WorkingShown(msgspec.Struct, frozen=True, kw_only=True):
    """How a value came about; `levels` are its intervals: (level, from-to) in words."""

    formula: str
    inputs: tuple[tuple[str, str], ...]
    constants: tuple[ConstantShown, ...]
    notes: tuple[str, ...]
    levels: tuple[tuple[str, str], ...] = ()


class FigureShown(msgspec.Struct, frozen=True, kw_only=True):
    """A figure with its name, or the reason why there is none."""

    key: str
    name: str
    text: AmountText | None = None
    interval: str = ""
    why_not: str = ""
    working: WorkingShown | None = None


def working_shown(
    working: Working, wording: Wording, levels: tuple[tuple[str, str], ...] = ()
) -> WorkingShown:
    """A working in the clinic's words; its constants keep the unit of their source."""
    return WorkingShown(
        formula=in_words(working.formula),
        inputs=tuple(
            (in_words(input_name(one.name)), str(wording.quantity(one.value, one.unit)))
            for one in working.inputs
        ),
        constants=tuple(_constant(one, wording) for one in working.constants),
        notes=tuple(in_words(note) for note in working.notes),
        levels=levels,
    )


def _constant(constant: Constant, wording: Wording) -> ConstantShown:
    language = wording.policy.language
    former = constant.overridden_from
    basis = in_words(BASES[constant.basis])
    if constant.source == COMMON_PRACTICE:
        basis = _("common practice, no source")
    return ConstantShown(
        key=constant.key,
        text=constant_text(constant, language),
        basis=basis,
        source=", ".join(
            part for part in (_citation(constant), in_words(constant.locator)) if part
        ),
        seen=_seen(constant, wording),
        overridden="" if former is None else figures_text(former, language),
    )


def _seen(constant: Constant, wording: Wording) -> str:
    """How much of the source was read, or on which day it was judged; empty where neither is known."""
    read = READINGS.get(constant.read)
    if read is not None:
        return in_words(message("read: {how}", how=read))
    return "" if constant.judged_on is None else wording.date(constant.judged_on)


def _citation(constant: Constant) -> str:
    """The source without the words that its basis says already, in the clinic's language."""
    if constant.source in {COMMON_PRACTICE, FROM_MEMORY}:
        return ""
    cited = constant.source.removesuffix(f" ({FROM_MEMORY})")
    return cited.removeprefix("derived: ").removeprefix("judgement of ")


def figure_shown(key: str, figure: Figure, wording: Wording) -> FigureShown:
    """A figure in the clinic's units, with its interval and its working."""
    return FigureShown(
        key=key,
        name=as_heading(figure_name(key)),
        text=amount_of(key, figure, wording),
        interval=interval_of(figure, wording, is_age=key in AGES),
        working=working_shown(figure.working, wording),
    )


def amount_of(key: str, figure: Figure, wording: Wording) -> AmountText:
    """The value: an age as an age, a change with its sign, everything else as it is."""
    if key in AGES:
        return AmountText(number=wording.age(figure.value))
    if key == "corrected_age_d":
        return _corrected(figure.value, wording)
    if key == "centile":
        return AmountText(number=wording.number(figure.value, 1))
    text = wording.quantity(figure.value, figure.unit)
    if key.startswith(("change_", "gain_")):
        return AmountText(number=signed(text.number, figure.value), unit=text.unit)
    return text


def _corrected(age_d: float, wording: Wording) -> AmountText:
    """A corrected age as an age; before term as whole days with a minus."""
    if age_d >= 0:
        return AmountText(number=wording.age(age_d * HOURS_PER_DAY))
    return wording.quantity(age_d, "d", 0)


def interval_of(figure: Figure, wording: Wording, *, is_age: bool = False) -> str:
    """The interval in words, of an age as ages are said; empty when there is none."""
    if figure.low is None and figure.high is None:
        return ""
    if is_age and figure.low is not None and figure.high is not None:
        low_age, high_age = wording.age(figure.low), wording.age(figure.high)
        return _("%(low)s to %(high)s") % {"low": low_age, "high": high_age}
    low = None if figure.low is None else wording.quantity(figure.low, figure.unit)
    high = None if figure.high is None else wording.quantity(figure.high, figure.unit)
    if high is None:
        return _("at least %(low)s") % {"low": low}
    if low is None:
        return _("at most %(high)s") % {"high": high}
    if figure.low == figure.high:
        return ""
    level = f" ({wording.number(figure.level * 100)} %)" if figure.level else ""
    return _("%(low)s to %(high)s") % {"low": low.number, "high": high} + level
