"""Whether something is open at which an infant is given no milk by any way.

A plan, its page and its sheets ask here, so that none of them sends an infant to the breast whom a flag
sends to the hospital unfed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from suffice.assess.results import Finding
from suffice.knowledge.store import Content

NO_MILK: Final = "no_milk_sign"
"""What the content knows as a sign at which no milk is given; it names the flags."""
YES: Final = "yes"


def is_given_no_milk(findings: Iterable[Finding], content: Content) -> bool:
    """Whether one of the findings says so; one that a physician looks after is a note, and does not.

    Args:
        findings: What was found of the infant.
        content: The content in force; one that does not know of such signs holds nothing back.
    """
    known = content.known.get(NO_MILK)
    codes = () if known is None else known.flags.get(YES, ())
    return any(one.code in codes and one.level != "note" for one in findings)
