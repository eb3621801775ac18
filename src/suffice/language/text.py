"""A message put into words for one clinic: its language, its units, its clock.

This is the only place where a template of the inner rooms is translated and filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from suffice.clinical.reading.writing import chance_text
from suffice.knowledge.policy import Policy
from suffice.language.amounts import (
    age_text,
    ago_text,
    amount_text,
    day_text,
    figures_text,
    instant_text,
    local_number,
    signed,
)
from suffice.language.catalogue import translated
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


def text_of(words: Words, policy: Policy) -> str:
    """A message in the clinic's words; a plain text as it stands."""
    if isinstance(words, str):
        return words
    template = translated(words.template, policy.language, plural=words.plural, count=words.count)
    return template.format(**{name: _filled(value, policy) for name, value in words.params})


def sentences_of(parts: Sequence[Words], policy: Policy) -> str:
    """Several messages one after another, each beginning with a capital."""
    return " ".join(upper_first(text_of(part, policy)) for part in parts if part)


def upper_first(text: str) -> str:
    """A text that begins with a capital, the rest as it is."""
    return f"{text[:1].upper()}{text[1:]}"


def headed(words: Words, policy: Policy) -> str:
    """A message that heads a line or a cell: with a capital."""
    return upper_first(text_of(words, policy))


def _filled(value: Param, policy: Policy) -> str:  # noqa: C901, PLR0911  # one line a kind of gap
    language = policy.language
    match value:
        case str():
            return value
        case int():
            return str(value)
        case Message():
            return text_of(value, policy)
        case Amount():
            return _amount(value, policy)
        case Number():
            if value.decimals is None:
                return figures_text(value.value, language)
            return local_number(value.value, value.decimals, language)
        case Instant():
            return instant_text(value.at, ZoneInfo(policy.zone), language)
        case Day():
            return day_text(value.on, language)
        case Age():
            return age_text(value.hours, language)
        case Ago():
            return ago_text(value.hours, language)
        case Chance():
            return chance_text(value.fraction)
        case Listed():
            return _listed(value, policy)


def _amount(gap: Amount, policy: Policy) -> str:
    text = amount_text(gap.value, gap.unit, policy, decimals=gap.decimals)
    return signed(text, gap.value) if gap.signed else text


def _listed(listed: Listed, policy: Policy) -> str:
    texts = [_filled(part, policy) for part in listed.parts]
    if not listed.word or len(texts) < 2:
        return ", ".join(texts)
    word = _WORDS[listed.word]
    return f"{', '.join(texts[:-1])} {text_of(word, policy)} {texts[-1]}"


_WORDS = {"and": message("and"), "or": message("or")}
