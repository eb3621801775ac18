"""Signs that an answer of the contact says: what was observed counts as the sign, however it was entered.

A contact writes the sign beside the answer. An answer that came another way, by a table, a bundle or an
entry by hand, has none beside it, and must not be calmer for that.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import msgspec

from suffice.clinical.entry import Entry, Observation
from suffice.clinical.entry import Sign as SignFact
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content


def with_observed_signs(entries: Iterable[Entry], content: Content) -> tuple[Entry, ...]:
    """The entries, and beside each answer that says a sign the sign, where none of that instant stands.

    Args:
        entries: The current entries about one infant, or about the parent, in order of time.
        content: The content in force, for which answer says which sign.
    """
    own = tuple(entries)
    if not any(type(entry.fact) is Observation for entry in own):
        return own
    words = content.vocabularies.get(FOLDER, {})
    entered = {
        (entry.fact.sign, entry.true_at) for entry in own if isinstance(entry.fact, SignFact)
    }
    every: list[Entry] = []
    for entry in own:
        if isinstance(entry.fact, Observation):
            word = words.get(entry.fact.what)
            signs = word.signs if isinstance(word, Observable) else {}
            keys = dict.fromkeys(signs[one] for one in entry.fact.answers if one in signs)
            every += [
                _as_sign(entry, sign, entry.fact.since)
                for sign in keys
                if (sign, entry.true_at) not in entered
            ]
        every.append(entry)
    return tuple(every)


def _as_sign(entry: Entry, sign: str, since: datetime | None) -> Entry:
    """The sign under the name of the answer, so that what covers the one covers the other."""
    return msgspec.structs.replace(entry, fact=SignFact(sign=sign, present=True, since=since))
