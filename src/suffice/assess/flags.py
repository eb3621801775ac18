"""The table of flags asked of one infant and of the parent: what the reviews found becomes findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Final, NamedTuple
from uuid import UUID

import msgspec

from suffice.assess.case import Case
from suffice.assess.reason import ASK_FIRST
from suffice.assess.results import Finding
from suffice.assess.review.result import Reviewed, together
from suffice.assess.rules.red_flag import (
    ENGINE,
    RowFindings,
    codes_that_ask_first,
    findings_of,
)
from suffice.assess.rules.rows import RowSet
from suffice.assess.rules.table import Facts, Measure, Verdict
from suffice.clinical.working import Figure, Working
from suffice.knowledge.store import Content
from suffice.message import Words, message

OF_FLAGS: Final = frozenset({"flags_count", "kinds_within_a_day_count"})
"""Measures that are counted among the flags themselves."""
NO_FLAGS: Final = frozenset({"not known", "overdue", ENGINE})
"""Topics of the rows that say nothing of how the infant is."""
OLD_COUNTS: Final = frozenset(
    {"old_feeds_count_per_day", "old_shortest_feed_minutes", "old_longest_feed_minutes"}
)
"""Measures of feeds that nobody has counted since: their rows say what was not calm, and still count."""
PROBLEM: Final = "problem"
"""Topic of the rows that are asked once the problems are named."""
FEEDING: Final = "feeding"
LEAPS: Final = "weight-leaps"
"""Code of the row that asks, without the engine, whether a weight is right: it is asked once."""
KINDS: Final = {
    "weight": "weight",
    "gain": "weight",
    "growth": "weight",
    "output": "output",
    "milk": "output",
    FEEDING: FEEDING,
    "sign": "behaviour",
}
"""Topic of a row to the kind of flag that it is; two of one kind do not add up."""


NOTHING_ANSWERED: Final[Mapping[str, Reviewed]] = {}
NO_ANSWER: Final[Mapping[str, Facts]] = {}


class Flagged(msgspec.Struct, frozen=True, kw_only=True):
    """What the table of flags says of one infant.

    Attributes:
        findings: The rows that hold, in the order of the table.
        verdicts: Code of each row that holds, or that another row asks about, to the verdict on it.
    """

    findings: tuple[Finding, ...] = ()
    verdicts: Mapping[str, Verdict] = {}

    def rests_on(self, code: str) -> tuple[UUID | None, ...]:
        """The entries that a flag rests on; none where it was not asked."""
        return self.verdicts[code].rests_on if code in self.verdicts else ()


def find_flags(
    case: Case, reviewed: Reviewed, answered: Mapping[str, Reviewed] = NOTHING_ANSWERED
) -> Flagged:
    """Ask the rows about an infant, but for those about the engine's answer.

    Rows about how many flags there are come last.

    Args:
        case: The infant.
        reviewed: The facts.
        answered: Code of a flag that a physician answered by name to the facts as that leaves them.
    """
    rows = _rows(case.content)
    found = _asked(case, reviewed, Flagged(), rows.of_facts, answered)
    flagged = Flagged(findings=tuple(finding for finding, _ in found.held), verdicts=found.verdicts)
    counted = together([reviewed, _counted(case, flagged.findings, found.silenced)])
    more = _asked(case, counted, flagged, rows.of_flags, answered)
    return Flagged(
        findings=(*flagged.findings, *(finding for finding, _ in more.held)),
        verdicts=more.verdicts,
    )


def find_doubts(case: Case, reviewed: Reviewed, flagged: Flagged) -> Flagged:
    """Ask the rows about the engine's answer too; flags that rest on a weight it doubts say so.

    Such a flag stays, for a probability never calms a red value; its excess no longer orders it.

    Args:
        case: The infant.
        reviewed: The facts, what the engine says of its own answer among them.
        flagged: What the other rows say.
    """
    doubts = _asked(case, reviewed, flagged, _rows(case.content).of_engine)
    ask_first = codes_that_ask_first(case.content)
    findings = list(flagged.findings)
    for doubt, verdict in doubts.held:
        doubted = set(verdict.rests_on)
        findings = [
            one
            for one in findings
            if one.code != LEAPS or not doubted & set(flagged.rests_on(one.code))
        ]
        for place, finding in enumerate(findings):
            if finding.code in ask_first and doubted & set(flagged.rests_on(finding.code)):
                findings[place] = finding_in_doubt(finding, ASK_FIRST, *doubt.messages)
    findings += [finding for finding, _ in doubts.held]
    return Flagged(findings=tuple(findings), verdicts=doubts.verdicts)


def finding_in_doubt(finding: Finding, *more: Words) -> Finding:
    """A finding that is doubted: more follows what it says, its excess is gone."""
    return msgspec.structs.replace(
        finding, messages=(*finding.messages, *more), excess_fraction=0.0
    )


def parent_findings(
    facts: Facts,
    content: Content,
    *,
    as_of: datetime,
    answered: Mapping[str, Facts] = NO_ANSWER,
) -> tuple[Finding, ...]:
    """Ask the rows about the parent; `answered` as in :func:`suffice.assess.rules.red_flag.findings_of`."""
    rows = _rows(content).of_parent
    found = findings_of(rows, facts, {}, as_of=as_of, infant_id=None, answered=answered)
    return tuple(finding for finding, _ in found.held)


def problem_findings(
    facts: Facts, content: Content, *, as_of: datetime, infant_id: UUID | None
) -> tuple[Finding, ...]:
    """Ask the rows about the named problems of an infant, or of the parent."""
    rows = _rows(content).of_problems["parent" if infant_id is None else "infant"]
    found = findings_of(rows, facts, {}, as_of=as_of, infant_id=infant_id)
    return tuple(finding for finding, _ in found.held)


def facts_of(case: Case, reviewed: Reviewed) -> Facts:
    """What is known of an infant, as the rows ask it."""
    birth = case.birth
    traits = {"mode": birth.mode, "sex": birth.sex} if birth else {}
    return Facts(
        measures=reviewed.measures,
        signs=reviewed.signs,
        traits={name: value for name, value in traits.items() if value},
        age_h=case.age_h,
        gestation_days=birth.gestation_days if birth else None,
        answers=case.answers,
        seen_at=case.seen_at,
    )


def _asked(
    case: Case,
    reviewed: Reviewed,
    flagged: Flagged,
    rows: RowSet,
    answered: Mapping[str, Reviewed] = NOTHING_ANSWERED,
) -> RowFindings:
    """Ask some of the rows about an infant, knowing what those before them say."""
    return findings_of(
        rows,
        facts_of(case, reviewed),
        flagged.verdicts,
        as_of=case.as_of,
        infant_id=case.infant.id,
        answered={code: facts_of(case, one) for code, one in answered.items()},
    )


class _Rows(NamedTuple):
    """The rows of a content by when they are asked, and of whom."""

    of_facts: RowSet
    of_flags: RowSet
    of_engine: RowSet
    of_parent: RowSet
    of_problems: Mapping[str, RowSet]


@lru_cache(maxsize=8)
def _rows(content: Content) -> _Rows:
    asks_of_flags = _codes_that_ask(content, OF_FLAGS)
    rows = [row for row in content.flags if row.topic != PROBLEM]
    of_infant = [row for row in rows if row.about == "infant"]
    of_engine = [row for row in of_infant if row.topic == ENGINE]
    of_flags = [row for row in of_infant if row.topic != ENGINE and row.code in asks_of_flags]
    later = {row.code for row in (*of_engine, *of_flags)}
    return _Rows(
        of_facts=RowSet((row for row in of_infant if row.code not in later), content),
        of_flags=RowSet(of_flags, content),
        of_engine=RowSet(of_engine, content),
        of_parent=RowSet((row for row in rows if row.about == "parent"), content),
        of_problems={
            about: RowSet(
                (row for row in content.flags if row.topic == PROBLEM and row.about == about),
                content,
            )
            for about in ("infant", "parent")
        },
    )


@lru_cache(maxsize=16)
def _codes_that_ask(content: Content, names: frozenset[str]) -> frozenset[str]:
    """The codes of the rows that ask one of these measures."""
    return frozenset(
        row.code for row in content.flags if any(one.measure in names for one in row.when.each())
    )


def _counted(case: Case, findings: Sequence[Finding], silenced: Sequence[Finding]) -> Reviewed:
    """How many flags there are, and of how many kinds those are that are to be seen within a day.

    Judged at the age at which the last of them was found: growing older ends nothing. A flag that
    another one speaks for counts as the kind that it is, and so does what was counted of feeds and
    is not known any more.
    """
    old = _codes_that_ask(case.content, OLD_COUNTS)

    def counts(one: Finding) -> bool:
        return one.level != "note" and (one.topic not in NO_FLAGS or one.code in old)

    counted = [one for one in findings if counts(one)]
    counted += [one for one in silenced if one.code in old and counts(one)]
    kinds = {
        FEEDING if one.code in old else KINDS.get(one.topic)
        for one in (*counted, *silenced)
        if one.level == "consultant" and counts(one)
    } - {None}
    is_told = all(one.entry_ids for one in counted)
    found = [case.as_of if one.at is None else one.at for one in counted]
    age_h = case.age_at(max(found, default=case.as_of)) or 0.0
    numbers = {"flags_count": len(counted), "kinds_within_a_day_count": len(kinds)}
    return Reviewed(
        measures={
            name: (
                Measure(
                    value=float(number),
                    age_h=age_h,
                    at=None if any(one.at is None for one in counted) else max(found, default=None),
                    is_answered=None if is_told else False,
                    entry_ids=tuple(dict.fromkeys(key for one in counted for key in one.entry_ids)),
                    figure=Figure(
                        value=float(number),
                        unit="1",
                        working=Working(formula=message("counted among the flags of this infant")),
                    ),
                ),
            )
            for name, number in numbers.items()
        }
    )
