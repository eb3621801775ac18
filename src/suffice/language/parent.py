"""The clinic's own word for the parent, in the English sentences; they are written with 'parent'."""

from __future__ import annotations

import re
from typing import Final

from suffice.knowledge.policy import Policy

THE_PARENT: Final = re.compile(r"^(?:Parent|parent)\b|(?<=\b[Tt]he )parent\b")
"""The one who gave birth: at the head of a sentence, or with its article; 'a parent' may be either of two."""


def in_clinics_word(text: str, policy: Policy) -> str:
    """A text that is written with 'parent', with the clinic's word where that is 'mother'.

    Args:
        text: A template or a sentence in the clinic's language. Other languages have one word.
        policy: The clinic's policy.
    """
    if policy.language != "en" or policy.parent_word == "parent":
        return text
    return THE_PARENT.sub(lambda found: "Mother" if found[0] == "Parent" else "mother", text)
