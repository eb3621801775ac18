"""Answers that name a flag: they end that flag alone.

The reviews ask whether a physician has answered at all. An answer that names a flag is none to them; the
facts of its flag are laid out once more as if it had been an answer to everything.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from suffice.clinical.entry import Answer, Entry


def codes_answered(entries: Sequence[Entry]) -> tuple[str, ...]:
    """The codes of the flags that a physician answered by name, each once."""
    named = (_named(entry) for entry in entries)
    return tuple(dict.fromkeys(answer.flag for answer in named if answer and answer.flag))


def answers_to(entries: Sequence[Entry], code: str | None) -> tuple[Entry, ...]:
    """The entries as the facts of one flag see them: answers that name another flag end nothing.

    Args:
        entries: The current entries, in order of time.
        code: The flag; None for the facts of all flags that no answer names.
    """
    return tuple(_seen_by(entry, code) for entry in entries)


def _named(entry: Entry) -> Answer | None:
    fact = entry.fact
    is_named = isinstance(fact, Answer) and fact.flag is not None and fact.is_of_physician
    return fact if is_named and isinstance(fact, Answer) else None


def _seen_by(entry: Entry, code: str | None) -> Entry:
    answer = _named(entry)
    if answer is None or answer.flag == code:
        return entry
    return msgspec.structs.replace(entry, fact=msgspec.structs.replace(answer, who="other"))
