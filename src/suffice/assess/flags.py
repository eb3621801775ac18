"""The table of flags asked of one infant and of the parent: what the reviews found becomes findings."""

from __future__ import annotations

from datetime import datetime

from suffice.assess.case import Case, Review, finding_with
from suffice.assess.results import Finding
from suffice.assess.rules.red_flag import (
    ENGINE,
    Found,
    codes_that_ask_first,
    findings_of,
    rows_about,
)
from suffice.assess.rules.table import Facts
from suffice.knowledge.store import Content
from suffice.message import message


def find_flags(case: Case, review: Review) -> None:
    """Ask the rows about an infant, but for those about the engine's answer.

    Args:
        case: The infant.
        review: Holds the facts; takes the findings and the verdicts.
    """
    review.findings += [finding for finding, _ in _asked(case, review, of_engine=False)]


def find_doubts(case: Case, review: Review) -> None:
    """Ask the rows about the engine's answer; flags that rest on a weight it doubts say so.

    Such a flag stays, for a probability never calms a red value; its excess no longer orders it.
    """
    doubts, ask_first = _asked(case, review, of_engine=True), codes_that_ask_first(case.content)
    for doubt, verdict in doubts:
        doubted = set(verdict.rests_on)
        for place, finding in enumerate(review.findings):
            if finding.code in ask_first and doubted & set(review.rests_on(finding.code)):
                more = (message("Ask first:"), *doubt.messages)
                review.findings[place] = finding_with(finding, *more)
    review.findings += [finding for finding, _ in doubts]


def parent_findings(facts: Facts, content: Content, *, as_of: datetime) -> tuple[Finding, ...]:
    """Ask the rows about the parent."""
    rows = rows_about(content, "parent")
    found = findings_of(rows, facts, content, {}, as_of=as_of, infant_id=None)
    return tuple(finding for finding, _ in found)


def facts_of(case: Case, review: Review) -> Facts:
    """What is known of an infant, as the rows ask it."""
    birth = case.birth
    traits = {"mode": birth.mode, "sex": birth.sex} if birth else {}
    return Facts(
        measures={name: tuple(found) for name, found in review.measures.items()},
        signs={name: tuple(found) for name, found in review.signs.items()},
        traits={name: value for name, value in traits.items() if value},
        age_h=case.age_h,
        gestation_days=birth.gestation_days if birth else None,
    )


def _asked(case: Case, review: Review, *, of_engine: bool) -> Found:
    rows = rows_about(case.content, "infant")
    return findings_of(
        (row for row in rows if (row.topic == ENGINE) is of_engine),
        facts_of(case, review),
        case.content,
        review.verdicts,
        as_of=case.as_of,
        infant_id=case.infant.id,
    )
