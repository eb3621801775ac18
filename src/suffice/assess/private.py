"""What no paper repeats: a private matter of the parent is read on the record alone, by whoever opens it.

A letter, a note or a sheet lies about, and is read by whoever lives with the parent. The list and the page of
the family say 'private matter', and nothing else is kept of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Final

import msgspec

from suffice.assess.answered import IN_CARE
from suffice.assess.results import FamilyAssessment, Finding
from suffice.clinical.entry import AnyFact, Entry, Sign
from suffice.knowledge.store import Content

GROUP: Final = "private"
"""The group of the vocabulary of signs that is private."""
SIGNS: Final = "signs"


def without_private(assessment: FamilyAssessment, content: Content) -> FamilyAssessment:
    """The same without the flags of a private matter; what is done about the parent is what the others ask for."""
    return msgspec.structs.replace(
        assessment,
        findings=tuple(open_findings(assessment.findings, content)),
        parent_act=assessment.parent_act_on_paper,
    )


def open_findings(findings: Iterable[Finding], content: Content) -> Iterator[Finding]:
    """The findings that are of no private matter."""
    codes = private_codes(content)
    return (one for one in findings if one.code not in codes)


def open_entries(entries: Iterable[Entry], content: Content) -> tuple[Entry, ...]:
    """The entries that tell of no private matter: neither its signs, nor who was told of its flags or answered them."""
    signs, codes = _signs(content), private_codes(content)

    def is_private(fact: AnyFact) -> bool:
        if isinstance(fact, Sign):
            return fact.sign in signs
        return isinstance(fact, IN_CARE) and fact.flag in codes

    return tuple(one for one in entries if not is_private(one.fact))


@lru_cache(maxsize=8)
def private_codes(content: Content) -> frozenset[str]:
    """Codes of the rows that ask for a sign of a private matter."""
    private = _signs(content)
    asked = {row.code: {one.sign for one in row.when.each()} for row in content.flags}
    return frozenset(code for code, signs in asked.items() if signs & private)


def _signs(content: Content) -> frozenset[str]:
    terms = content.vocabularies.get(SIGNS, {})
    return frozenset(key for key, term in terms.items() if term.group == GROUP)
