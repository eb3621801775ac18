"""Everything computed for a family as of an instant: pure, never stored as truth.

The same record, instant, content and policy always give the same assessment, to the bit, so any
past one can be asked again. Reviews beside this module compute figures and findings; the content's
rules make red and overdue ones of them; the ranking reads the result.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from suffice.assess.act import Asked, act_about_parent
from suffice.assess.answered import answers_in, answers_to, as_first_entered, codes_answered
from suffice.assess.case import Case, case_of, possible
from suffice.assess.contacts import discharge_of, is_discharged, last_contact, next_due, seen_at
from suffice.assess.died import as_such, death_of, doubt_of
from suffice.assess.engine.agreement import agreement_of
from suffice.assess.engine.ask import Answer, ask, review_answer
from suffice.assess.engine.evidence import evidence_of
from suffice.assess.engine.version import ENGINE_VERSION
from suffice.assess.flags import find_doubts, find_flags, parent_findings
from suffice.assess.hand_overs import are_asked, with_hand_overs
from suffice.assess.in_care import InCare, OpenThen
from suffice.assess.names import family_name, infant_name, names_among
from suffice.assess.parameters import CareParameters, parameters_of
from suffice.assess.private import open_findings
from suffice.assess.ranking import rank
from suffice.assess.results import (
    Died,
    EngineFacts,
    FamilyAssessment,
    Finding,
    InfantAssessment,
    Rank,
)
from suffice.assess.review.feeding import review_feeding
from suffice.assess.review.gap import (
    COUNTS,
    WEIGHT,
    not_asked,
    review_gaps,
    review_horizons,
    stands_until,
)
from suffice.assess.review.growing import review_growing
from suffice.assess.review.growth import review_corrected_age, review_growth, weight_rows
from suffice.assess.review.intake import IntakeReviewed, review_intake
from suffice.assess.review.last_milk import review_last_milk, review_waking
from suffice.assess.review.output import Gained, review_output
from suffice.assess.review.result import Reviewed, together
from suffice.assess.review.rising import review_course
from suffice.assess.review.supplement import review_supplement
from suffice.assess.review.warning import parent_facts, review_warnings
from suffice.assess.review.weight import (
    WeightsReviewed,
    review_weights,
)
from suffice.assess.rules.red_flag import in_order_of_urgency, ranking_rules
from suffice.assess.rules.table import Facts
from suffice.assess.twin import with_twins
from suffice.assess.validity import valid_until
from suffice.assess.verdict import with_verdict
from suffice.assess.weigh_again import by_its_day, weigh_again_of, with_date
from suffice.clinical.entry import (
    Birth,
    Entry,
    Infant,
    Known,
    Record,
    about,
    count_until,
    standing,
)
from suffice.inference.estimate import Estimate
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import Words

__all__ = ["ENGINE_VERSION", "assess", "is_discharged"]


def assess(
    record: Record,
    as_of: datetime,
    content: Content,
    policy: Policy,
    *,
    known_by: datetime | None = None,
    engine: bool = True,
    for_rank: bool = False,
) -> FamilyAssessment:
    """All that is computed for a family as of an instant.

    Args:
        record: The whole record, superseded entries included.
        as_of: Aware instant of the question; later facts are not used.
        content: The content in force (the policy's own values already in it).
        policy: The clinic's policy.
        known_by: Leaves out what was entered later: 'what did we know then'.
        engine: Whether the engine is asked too; without it there are no probabilities.
        for_rank: Only the rank is wanted: an estimate that cannot change it may be a sketch.
    """
    parameters = parameters_of(content)
    seen = _seen(record, as_of, known_by)
    entries = seen.entries

    def flags_at(at: datetime, entered_by: datetime) -> OpenThen:
        by = entered_by if known_by is None else min(entered_by, known_by)
        then, of_parent = _flagged(_seen(record, at, by), content, policy, findings_only=True)
        found: dict[tuple[UUID | None, str], tuple[Finding, ...]] = {}
        for one in (*(f for infant in then for f in infant.findings), *of_parent):
            key = (one.infant_id, one.code)
            found[key] = (*found.get(key, ()), one)
        return found

    infants, findings = _flagged(
        seen,
        content,
        policy,
        engine=engine,
        # What is known already is no red flag: then the engine may decide the rank.
        for_rank=for_rank and not any(type(one.fact) is Known for one in entries),
    )
    in_care = InCare(entries, content, as_of, cache(flags_at))
    if in_care.is_needed:
        infants = tuple(in_care.of_infant(one) for one in infants)
        findings = in_care.of_findings(findings, None)
    contact = last_contact(entries)
    asked = _asked(entries, as_of, content, policy)
    due_at = asked.next_due_at
    judged = tuple(one if one.died else with_verdict(one, asked) for one in infants)
    has_lost = any(one.died for one in infants)
    return FamilyAssessment(
        family_id=record.family_id,
        name=family_name(seen.names, [one.name for one in infants]),
        setting=contact.setting if contact else None,
        as_of=as_of,
        valid_until=valid_until(
            infants,
            entries,
            content,
            parameters,
            as_of=as_of,
            next_due_at=due_at,
            findings=findings,
        ),
        content_version=content.version,
        engine_version=ENGINE_VERSION if engine else "",
        next_due_at=due_at,
        discharged=asked.is_discharged,
        infants=judged,
        findings=findings,
        parent_act=act_about_parent(findings, asked, after_death=has_lost),
        parent_act_on_paper=act_about_parent(
            open_findings(findings, content), asked, after_death=has_lost
        ),
        rank=_rank_of(judged, findings, asked),
    )


def _rank_of(
    infants: Sequence[InfantAssessment], findings: Sequence[Finding], asked: Asked
) -> Rank:
    """The place of the family."""
    return rank(
        infants,
        findings,
        asked.rules,
        as_of=asked.as_of,
        next_due_at=asked.next_due_at,
        ended_on=asked.ended_on,
    )


def _asked(entries: tuple[Entry, ...], as_of: datetime, content: Content, policy: Policy) -> Asked:
    """What rank, judgement and act depend on beside the findings."""
    discharge, zone = discharge_of(entries), ZoneInfo(policy.zone)
    return Asked(
        rules=ranking_rules(content, policy),
        settled=content.constant("population.question_settled"),
        as_of=as_of,
        zone=zone,
        next_due_at=None if discharge else next_due(entries),
        ended_on=discharge.true_at.astimezone(zone).date() if discharge else None,
        solids_from=content.constant("energy.solids_from_d"),
    )


class _Seen(NamedTuple):
    """What is read of a record for one question.

    Attributes:
        infants: The infants, the first-born first.
        as_of: The instant of the question.
        entries: The entries that count as of then, in order of time: what stands and can be, and
            what somebody knew as first entered.
        later: Those that stand and are true only after it.
        history: Every entry of the family, those that were replaced included.
    """

    infants: tuple[Infant, ...]
    as_of: datetime
    entries: tuple[Entry, ...]
    later: tuple[Entry, ...]
    history: tuple[Entry, ...]

    @property
    def names(self) -> tuple[Entry, ...]:
        """The names that hold."""
        return names_among(self.entries, self.later)

    @property
    def born_later(self) -> set[UUID | None]:
        """The infants whose birth is on the record, but after the question."""
        births = {one.infant_id for one in self.later if isinstance(one.fact, Birth)}
        if not births:
            return births
        return births - {one.infant_id for one in self.entries if isinstance(one.fact, Birth)}


def _seen(record: Record, as_of: datetime, known_by: datetime | None) -> _Seen:
    every = standing(record.entries, known_by)
    until = count_until(every, as_of)
    return _Seen(
        infants=tuple(sorted(record.infants, key=lambda one: one.position)),
        as_of=as_of,
        entries=as_first_entered(tuple(possible(every[:until])), record.entries),
        later=every[until:],
        history=record.entries,
    )


def _flagged(
    seen: _Seen,
    content: Content,
    policy: Policy,
    *,
    engine: bool = False,
    for_rank: bool = True,
    findings_only: bool = False,
) -> tuple[tuple[InfantAssessment, ...], tuple[Finding, ...]]:
    """The infants and the findings about the parent, whoever has taken them over.

    Args:
        seen: What is known.
        content: The content in force.
        policy: The clinic's policy.
        engine: Whether the engine is asked too.
        for_rank: Only the rank is wanted.
        findings_only: Only the findings are wanted: no list of the weights, and no date to weigh
            again, but where problems are named from them.
    """
    parameters = parameters_of(content)
    entries, names, born_later = seen.entries, seen.names, seen.born_later
    findings_only = findings_only and not are_asked(entries, content)
    infants = tuple(
        _assess_infant(
            infant,
            infant_name(about(names, infant.id), infant.position),
            entries,
            seen.as_of,
            content,
            policy,
            parameters,
            engine=engine,
            for_rank=for_rank,
            findings_only=findings_only,
            is_before_birth=infant.id in born_later,
            history=seen.history,
            died=death_of(infant, seen.infants, entries, ZoneInfo(policy.zone)),
        )
        for infant in seen.infants
    )
    infants = with_twins(infants, entries, content, as_of=seen.as_of)
    born_at = max((one.born_at for one in infants if one.born_at), default=None)
    own = about(entries, None)

    def facts(code: str | None) -> Facts:
        answers = answers_to(own, code)
        return parent_facts(
            answers, parameters, policy, content=content, as_of=seen.as_of, born_at=born_at
        )

    answered = {code: facts(code) for code in codes_answered(own)}
    of_parent = parent_findings(facts(None), content, as_of=seen.as_of, answered=answered)

    def judged(infant: InfantAssessment) -> InfantAssessment:
        return with_verdict(infant, _asked(entries, seen.as_of, content, policy))

    return with_hand_overs(infants, of_parent, entries, content, seen.as_of, judged)


def _assess_infant(  # noqa: PLR0913  # what `assess` takes, and the name
    infant: Infant,
    name: Words,
    entries: tuple[Entry, ...],
    as_of: datetime,
    content: Content,
    policy: Policy,
    parameters: CareParameters,
    *,
    engine: bool,
    for_rank: bool,
    findings_only: bool,
    is_before_birth: bool,
    history: Sequence[Entry],
    died: Died | None,
) -> InfantAssessment:
    """All that is computed for one infant."""
    own = about(entries, infant.id)
    case = case_of(
        infant,
        name,
        answers_to(own, None),
        as_of=as_of,
        content=content,
        policy=policy,
        is_before_birth=is_before_birth,
        history=history,
    )
    case = replace(case, seen_at=seen_at(entries))
    if died is not None:
        rows = () if findings_only else weight_rows(case, parameters, {})
        return replace(as_such(case, policy, died.at), weights=rows, died=died)
    everybody = answers_to(entries, None)
    observed = _review(case, everybody, parameters)
    answered = _answered(case, own, everybody, parameters)
    flagged = find_flags(case, observed.reviewed, answered)
    answer = ask(case, flagged.findings, for_rank=for_rank) if engine else Answer()
    reviewed = together([observed.reviewed, review_answer(case, answer)])
    flagged = find_doubts(case, reviewed, flagged)
    estimate, weigh_again = answer.estimate, None
    until = stands_until(case, reviewed, WEIGHT)
    due_at, by = _planned(entries, until)
    if not findings_only:
        tells = observed.weights.tells
        weigh_again = weigh_again_of(case, flagged, estimate, tells, next_due_at=due_at)
        weigh_again = by_its_day(weigh_again, case, stands_until=by, next_due_at=due_at)
    in_order = in_order_of_urgency(with_date(flagged.findings, weigh_again), content)
    return replace(
        as_such(case, policy, as_of),
        corrected_age_days=_corrected_age_days(reviewed),
        weights=() if findings_only else weight_rows(case, parameters, _p_wrong(estimate)),
        figures=reviewed.figures,
        is_gain_since_birth=observed.weights.is_since_birth,
        not_computed=reviewed.not_computed,
        findings=in_order,
        agreement=agreement_of(in_order, reviewed.figures.get("gain_g_per_day"), estimate, content),
        estimate=estimate,
        engine_facts=_engine_facts(case, reviewed, is_asked=estimate is not None and not for_rank),
        weigh_again=weigh_again,
        weight_stands_until=until,
        counts_stand_until=stands_until(case, reviewed, COUNTS),
        unasked=not_asked(case, parameters),
        death_doubt=doubt_of(own),
        needs=observed.intake.needs,
    )


def _answered(
    case: Case, own: Sequence[Entry], everybody: Sequence[Entry], parameters: CareParameters
) -> dict[str, Reviewed]:
    """Code of each flag that a physician answered by name to the facts as that answer leaves them."""
    return {
        code: _review(_answered_case(case, own, code), everybody, parameters).reviewed
        for code in codes_answered(own)
    }


def _answered_case(case: Case, own: Sequence[Entry], code: str) -> Case:
    """The infant as the facts of one flag see it, which a physician answered by name."""
    kept = {entry.id for entry in case.entries}
    seen = answers_to(own, code)
    entries = tuple(entry for entry in seen if entry.id in kept)
    answers = answers_in(seen, case.answers.history)
    return replace(case, entries=entries, answers=answers)


class _Observed(NamedTuple):
    """What the reviews say of an infant before the engine is asked."""

    reviewed: Reviewed
    weights: WeightsReviewed
    intake: IntakeReviewed


def _review(case: Case, entries: Sequence[Entry], parameters: CareParameters) -> _Observed:
    """All reviews; the order is that in which a page lists their figures."""
    age = review_corrected_age(case, parameters)
    weights = review_weights(case, parameters, corrected_age=age.figures.get("corrected_age_d"))
    intake = review_intake(case, parameters)
    gained = Gained(
        has_risen=weights.has_risen,
        since_lowest=weights.reviewed.figures.get("gain_since_nadir_g_per_day"),
        months=weights.reviewed.measures.get("month_gain_fraction", ()),
    )
    output = review_output(case, parameters, gained)
    reviewed = together(
        [
            age,
            weights.reviewed,
            review_course(case, parameters),
            review_growth(case, parameters),
            review_supplement(case, parameters),
            intake.reviewed,
            output,
            review_feeding(case, parameters.feeding, has_risen=weights.has_risen),
            *review_last_milk(case, parameters),
            *review_waking(case),
            review_growing(
                case, parameters, gained, weights.reviewed.figures.get("change_percent")
            ),
            review_warnings(case, parameters, about(entries, None)),
            review_gaps(case, weight_is_judged=weights.is_judged),
            review_horizons(
                case,
                parameters,
                output,
                weights.reviewed.figures.get("gain_g_per_day"),
                is_discharged=is_discharged(tuple(entries)),
            ),
        ]
    )
    return _Observed(reviewed, weights, intake)


def _engine_facts(case: Case, reviewed: Reviewed, *, is_asked: bool) -> EngineFacts:
    evidence = evidence_of(case) if is_asked else None
    if evidence is None:
        return EngineFacts()
    return EngineFacts.from_evidence(evidence, reviewed.figures.get("gain_last_g_per_day"))


def _planned(
    entries: tuple[Entry, ...], until: datetime | None
) -> tuple[datetime | None, datetime | None]:
    """When the next contact is due, and when the last weight is too old, while somebody looks after them."""
    return (None, None) if is_discharged(entries) else (next_due(entries), until)


def _corrected_age_days(reviewed: Reviewed) -> int | None:
    corrected = reviewed.figures.get("corrected_age_d")
    return math.floor(corrected.value) if corrected else None


def _p_wrong(estimate: Estimate | None) -> dict[str, float]:
    if estimate is None or estimate.is_refused:
        return {}
    return {suspect.reading_id: suspect.probability for suspect in estimate.suspects}
