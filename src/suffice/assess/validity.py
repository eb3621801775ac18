"""How long an assessment holds when nobody enters anything: until when time cannot change it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final

from suffice.assess.died import living
from suffice.assess.hand_overs import are_asked
from suffice.assess.in_care import changes_by_time
from suffice.assess.parameters import CareParameters
from suffice.assess.results import Finding, InfantAssessment
from suffice.assess.review.gap import FEEDS
from suffice.assess.review.observed_signs import with_observed_signs
from suffice.assess.review.warning import BREAST_LUMP, BREAST_RED
from suffice.assess.rules.red_flag import LEFT_AFTER
from suffice.clinical.entry import Entry, Sign, Stool, Temperature, Weight, Wet
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.store import Content

A_MINUTE = timedelta(minutes=1)
FALL: Final = "fall_after_rise_g"
"""What a finding of a fall rests on that may yet be weighed again."""
OVERDUE_AFTER: Final = "follow_up.overdue_h"


def valid_until(
    infants: Sequence[InfantAssessment],
    entries: Sequence[Entry],
    content: Content,
    parameters: CareParameters,
    *,
    as_of: datetime,
    next_due_at: datetime | None,
    findings: Sequence[Finding] = (),
) -> datetime:
    """The first instant at which a finding or the rank may change by itself.

    That is the soonest of: the next contact falls due; an infant begins a new day of life (norms
    and limits go by day) or reaches an age from which a row is asked; a count stops counting for
    now; an answer to a handover is due, or the next date of what a physician knows of has come; a red
    breast, or a new lump, has lasted as long as the consultant watches it; what was looked for in vain
    no longer speaks against a problem; what was found becomes late; a weight
    that may have fallen should have been taken again; an infant
    beside a twin was weighed, or its diapers seen, a day ago; and the content's longest stretch for the engine's answer, which moves with age.

    Args:
        infants: The assessed infants.
        entries: The current entries of the family.
        content: The content in force.
        parameters: Its parameters.
        as_of: The instant of the assessment.
        next_due_at: When the next contact is due.
        findings: What was found of the parent.
    """
    changes = [
        *_of_infants(infants, content, as_of),
        *_of_entries(with_observed_signs(entries, content), parameters),
        *changes_by_time(entries, content),
        *_of_findings(
            [*findings, *(one for infant in infants for one in infant.findings)], content
        ),
    ]
    if len(infants) > 1:
        changes += _of_twins(entries)
    if are_asked(entries, content):
        changes += _of_looks(entries, content)
    if next_due_at is not None:
        # Due is past due from the first moment after it, and overdue after the slack that the clinic allows.
        slack = timedelta(hours=content.constant(OVERDUE_AFTER).value)
        changes += [next_due_at + A_MINUTE, next_due_at + slack + A_MINUTE]
    return min(change for change in changes if change > as_of)


def _of_infants(
    infants: Sequence[InfantAssessment], content: Content, as_of: datetime
) -> Iterator[datetime]:
    young_h = content.constant("ranking.young_until_age_d").value * HOURS_PER_DAY
    grow = living(infants)
    is_young = any(infant.age_h is None or infant.age_h < young_h for infant in grow)
    key = "ranking.holds_young_h" if is_young else "ranking.holds_older_h"
    yield as_of + timedelta(hours=content.constant(key).value)
    ages = _ages_from_which_rows_ask(content)
    for infant in grow:
        if infant.age_h is not None:
            yield as_of + timedelta(hours=HOURS_PER_DAY - infant.age_h % HOURS_PER_DAY)
            yield from (as_of + timedelta(hours=age_h - infant.age_h) for age_h in ages)


def _of_findings(findings: Sequence[Finding], content: Content) -> Iterator[datetime]:
    """When it counts as late that nobody has acted, as left, and a fall as true: from the first moment after."""
    left_after = timedelta(hours=content.constant(LEFT_AFTER).value)
    again_within = timedelta(hours=content.constant("weight_change.fall_again_h").value)
    for one in findings:
        if one.at and FALL in one.degrees:
            yield one.at + again_within + A_MINUTE
        if one.due_at:
            yield one.due_at + A_MINUTE
            yield one.due_at + left_after + A_MINUTE


def _of_twins(entries: Sequence[Entry]) -> Iterator[datetime]:
    """Until when a weight or a diaper says that an infant beside an urgent one was looked at."""
    for entry in entries:
        if isinstance(entry.fact, Weight | Wet | Stool):
            yield entry.true_at + timedelta(hours=HOURS_PER_DAY) + A_MINUTE


def _of_looks(entries: Sequence[Entry], content: Content) -> Iterator[datetime]:
    """Until when what was found as usual, or looked for in vain, speaks against a problem."""
    counts = timedelta(hours=content.constant("problem.look_counts_h").value)
    for entry in entries:
        if isinstance(entry.fact, Sign | Temperature):
            yield entry.true_at + counts


@lru_cache(maxsize=8)
def _ages_from_which_rows_ask(content: Content) -> tuple[float, ...]:
    """In hours; an age in days is reached on a day's border anyway."""
    keys = {one.from_age for row in content.flags for one in row.when.each()}
    limits = (content.flat[key] for key in sorted(keys) if key in content.flat)
    return tuple(one.value for one in limits if one.unit == "h")


def _of_entries(entries: Sequence[Entry], parameters: CareParameters) -> Iterator[datetime]:
    lasting = _lasting(parameters)
    for entry in entries:
        for span in lasting.get(type(entry.fact), ()):
            yield entry.true_at + span
        if type(entry.fact) is Sign and entry.fact.sign in {BREAST_RED, BREAST_LUMP}:
            began = min(entry.fact.since or entry.true_at, entry.true_at)
            lasts = parameters.breast_red_h, parameters.breast_lump_h
            yield from (began + timedelta(hours=one.value) for one in lasts)


@lru_cache(maxsize=8)
def _lasting(parameters: CareParameters) -> Mapping[type, tuple[timedelta, ...]]:
    """For how long an entry of a kind says something of now, each time after which it no longer does."""
    horizons = parameters.horizons
    day = timedelta(hours=horizons.first_week_h.value)
    counted = timedelta(hours=parameters.output.stale_h.value)
    fed = (day, timedelta(hours=parameters.feeding.stands_h.value))
    weighed = (
        timedelta(hours=horizons.weight_first_week_h.value),
        *(
            timedelta(days=one.value)
            for one in (
                horizons.weight_second_week_d,
                horizons.weight_unregained_d,
                horizons.weight_young_d,
                horizons.weight_older_d,
            )
        ),
    )
    return {
        **dict.fromkeys(FEEDS, fed),
        Wet: (counted, day),
        Stool: (counted, day),
        Weight: weighed,
    }
