"""What messages say, for tests: in English as the default policy reads, or in another clinic's words."""

from __future__ import annotations

from collections.abc import Sequence

from suffice.knowledge.policy import Policy
from suffice.language.text import sentences_of, text_of
from suffice.message import Words


def in_sentences(words: Words | Sequence[Words], policy: Policy | None = None) -> str:
    """One message or several, as sentences; the no-break space is a plain one."""
    parts = [words] if isinstance(words, str) or not isinstance(words, Sequence) else list(words)
    return sentences_of(parts, policy or Policy()).replace("\N{NO-BREAK SPACE}", " ")


def text(words: Words, policy: Policy | None = None) -> str:
    """One message as it stands in a line, without a capital of its own."""
    return text_of(words, policy or Policy()).replace("\N{NO-BREAK SPACE}", " ")
