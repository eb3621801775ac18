"""Words of the content's vocabularies: whose they can be, and what they are called."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final, Literal, get_args

from suffice.clinical.entry import Fact
from suffice.clinical.entry.field import Listed as ListedField
from suffice.clinical.entry.field import fields_of
from suffice.clinical.entry.observation import BETWEEN
from suffice.knowledge.observable import FOLDER, NO, YES, Observable
from suffice.knowledge.policy import Language
from suffice.knowledge.schema import Term
from suffice.knowledge.store import load
from suffice.language.catalogue import translated
from suffice.message import Amount, Listed, Message, Words, message

YES_NO: Final = {YES: message("yes"), NO: message("no")}
GONE: Final = message("{key}, which is no longer on the list")
AS_RECORDED: Final = message("as recorded")
"""Stands in the name of a flag where its finding has a value."""
GAP: Final = re.compile(r"\{(\w+)\}")


def terms_of(vocabulary: str) -> Mapping[str, Term]:
    """The words of a vocabulary by key; none where the content has no such vocabulary."""
    return load().vocabularies.get(vocabulary, {})


def grouped(vocabulary: str) -> tuple[tuple[str, tuple[tuple[str, Term], ...]], ...]:
    """The words of a vocabulary by group, the largest group first, the parent's after the infant's."""
    groups: dict[tuple[str, str], list[tuple[str, Term]]] = {}
    for key, term in terms_of(vocabulary).items():
        groups.setdefault((term.about, term.group), []).append((key, term))
    ordered = sorted(groups.items(), key=lambda one: (one[0][0], -len(one[1])))
    return tuple((group, tuple(terms)) for (_about, group), terms in ordered)


def term_name(vocabulary: str, key: str) -> Message:
    """What a word is called; a key that the content no longer holds as it stands."""
    term = terms_of(vocabulary).get(key)
    return GONE.with_params(key=key) if term is None else Message(template=term.name)


def flag_name(code: str) -> Words:
    """What the flag of a code is called; the code where the content has no name for it."""
    row = next((one for one in load().flags if one.code == code), None)
    if row is None or not row.name:
        return code
    # The value of the moment is known to a finding alone; a code that was entered later has none.
    return Message(row.name).with_params(**dict.fromkeys(GAP.findall(row.name), AS_RECORDED))


def observed(key: str, answer: str | None) -> Words:
    """What was found of a word of the vocabulary of observations; what it does not know as it stands.

    Args:
        key: The word.
        answer: As it is on the record; None where it was left open.
    """
    if answer is None:
        return message("not asked")
    one = terms_of(FOLDER).get(key)
    if not isinstance(one, Observable):
        return answer
    if one.type == "yes or no":
        return YES_NO.get(answer, answer)
    if one.type == "number":
        return _number_of(answer, one.unit)
    if one.type == "text":
        return answer
    named = [
        Message(template=one.choices[part]) if part in one.choices else part
        for part in answer.split(BETWEEN)
    ]
    return (
        named[0] if len(named) == 1 else message("{answers}", answers=Listed(tuple(named), "and"))
    )


def _number_of(text: str, unit: str) -> Words:
    try:
        value = float(text)
    except ValueError:
        return text
    return message("{amount}", amount=Amount(value, unit)) if math.isfinite(value) else text


def key_of(vocabulary: str, text: str) -> str | None:
    """The key that somebody wrote: itself, or its name in some language."""
    written = text.strip().casefold()
    for key, term in terms_of(vocabulary).items():
        names = (translated(term.name, one).casefold() for one in get_args(Language))
        if written in (key, *names):
            return key
    return None


def whose(fact: Fact) -> Literal["infant", "parent"] | None:
    """Whose fact it must be by the word that it holds; None where that is left open."""
    for name, field in fields_of(type(fact)).items():
        if isinstance(field, ListedField):
            term = terms_of(field.vocabulary).get(getattr(fact, name))
            return None if term is None else term.about
    return None
