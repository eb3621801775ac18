"""A message put into words for one clinic: its language, its units, its clock.

This is the only place where a template of the inner rooms is translated and filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from suffice.clinical.reading.writing import chance_text
from suffice.knowledge.policy import Policy
from suffice.language.amounts import amount_text, figures_text, local_number, signed
from suffice.language.catalogue import translated
from suffice.language.parent import in_clinics_word
from suffice.language.times import (
    age_text,
    ago_text,
    day_text,
    fitted,
    instant_text,
    near_text,
)
from suffice.message import (
    Age,
    Ago,
    Amount,
    Chance,
    Day,
    Instant,
    Listed,
    Message,
    Number,
    Param,
    Words,
    message,
)


def text_of(
    words: Words, policy: Policy, now: datetime | None = None, *, keeps: bool = False
) -> str:
    """A message in the clinic's words; a plain text as it stands.

    Args:
        words: The message.
        policy: The clinic's policy.
        now: The instant at which it is read, where that is known: a near one is then said as 'today'
            or 'yesterday', one of the same week by its weekday. What is kept leaves it out.
        keeps: Whether it is read later than `now`, as paper is: then no day is called 'today'.
    """
    if isinstance(words, str):
        return words
    template = translated(words.template, policy.language, plural=words.plural, count=words.count)
    template = in_clinics_word(template, policy)
    filled = {name: _filled(value, policy, now, keeps=keeps) for name, value in words.params}
    return fitted(template.format(**filled), policy.language)


def sentences_of(
    parts: Sequence[Words], policy: Policy, now: datetime | None = None, *, keeps: bool = False
) -> str:
    """Several messages one after another, each with a capital; `now` and `keeps` as in `text_of`."""
    return " ".join(upper_first(text_of(part, policy, now, keeps=keeps)) for part in parts if part)


def upper_first(text: str) -> str:
    """A text that begins with a capital, the rest as it is."""
    return f"{text[:1].upper()}{text[1:]}"


def _filled(  # noqa: C901, PLR0911  # one line a kind of gap
    value: Param, policy: Policy, now: datetime | None, *, keeps: bool = False
) -> str:
    language, order = policy.language, policy.date_order
    match value:
        case str():
            return value
        case int():
            return str(value)
        case Message():
            return text_of(value, policy, now, keeps=keeps)
        case Amount():
            return _amount(value, policy)
        case Number():
            if value.decimals is None:
                return figures_text(value.value, language)
            return local_number(value.value, value.decimals, language)
        case Instant():
            zone = ZoneInfo(policy.zone)
            if now is None or value.year:
                return instant_text(value.at, zone, language, year=value.year, order=order)
            return near_text(value.at, now, zone, language, order, keeps=keeps)
        case Day():
            return day_text(value.on, language, year=value.year, order=order)
        case Age():
            return age_text(value.hours, language)
        case Ago():
            return ago_text(value.hours, language)
        case Chance():
            return chance_text(value.fraction)
        case Listed():
            return _listed(value, policy, now, keeps=keeps)


def _amount(gap: Amount, policy: Policy) -> str:
    text = amount_text(gap.value, gap.unit, policy, decimals=gap.decimals)
    return signed(text, gap.value) if gap.signed else text


def _listed(listed: Listed, policy: Policy, now: datetime | None, *, keeps: bool) -> str:
    texts = [_filled(part, policy, now, keeps=keeps) for part in listed.parts]
    if listed.word == ";":
        return "; ".join(texts)
    if not listed.word or len(texts) < 2:
        return ", ".join(texts)
    word = _WORDS[listed.word]
    return f"{', '.join(texts[:-1])} {text_of(word, policy)} {texts[-1]}"


_WORDS = {"and": message("and"), "or": message("or")}
