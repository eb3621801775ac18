"""What belongs to a physician whatever the weight says: temperature and illness."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from suffice.assess.case import Case, Measure, Review, present_illnesses
from suffice.assess.parameters import CareParameters
from suffice.assess.results import Finding
from suffice.assess.review.output import SAME_DAY
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Illness, Temperature
from suffice.clinical.temperature import judge_temperature
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.policy import Policy
from suffice.message import Amount, Instant, Message, message


def review_warnings(case: Case, review: Review, parameters: CareParameters) -> None:
    """Write the latest temperature and named illnesses into the review."""
    _review_temperature(case, review, parameters)
    for what in present_illnesses(case):
        since = next(entry for entry, fact in case.facts(Illness) if fact.what == what)
        review.find(
            "illness",
            "red",
            message("Illness noted: {what} (since {at}).", what=what, at=Instant(since.true_at)),
            to_whom=SAME_DAY,
        )


def _review_temperature(case: Case, review: Review, parameters: CareParameters) -> None:
    """The latest temperature: a later usual one takes a fever back.

    The rules of triage are asked of it for the content's hours only; after that it is old.
    """
    latest = case.latest(Temperature)
    if latest is None:
        review.missing("temperature_c", message("No temperature was taken."))
        return
    entry, fact = latest
    age_d = (case.age_at(entry.true_at) or 0.0) / HOURS_PER_DAY
    judged = judge_temperature(
        fact.temperature_c, parameters.temperature, age_d=age_d, site=fact.site
    )
    review.figures["temperature_c"] = Figure(
        value=fact.temperature_c, unit="Cel", working=judged.working
    )
    if elapsed_h(entry.true_at, case.as_of) <= parameters.standing_h.value:
        review.measures["temperature_c"] = Measure(
            value=fact.temperature_c,
            age_h=case.age_at(entry.true_at) or 0.0,
            figure=review.figures["temperature_c"],
            entry_ids=(entry.id,),
        )


def ask_temperature_again(case: Case, review: Review, parameters: CareParameters) -> None:
    """Ask for another temperature where the latest is neither usual nor a red finding by now.

    Call it once the rules of triage have been applied.
    """
    latest = case.latest(Temperature)
    if latest is None or any(found.code in TEMPERATURE_REDS for found in review.findings):
        return
    entry, fact = latest
    age_d = (case.age_at(entry.true_at) or 0.0) / HOURS_PER_DAY
    judged = judge_temperature(
        fact.temperature_c, parameters.temperature, age_d=age_d, site=fact.site
    )
    if judged.verdict != "usual":
        review.find(
            "temperature-again",
            "amber",
            message(
                "{temperature} at {at}, and none taken since: take it again.",
                temperature=Amount(fact.temperature_c, "Cel"),
                at=Instant(entry.true_at),
            ),
            working=judged.working,
        )


TEMPERATURE_REDS = frozenset({"fever", "fever-after-three-months", "temperature-low"})


def parent_findings(
    entries: Sequence[Entry], parameters: CareParameters, policy: Policy, *, as_of: datetime
) -> tuple[Finding, ...]:
    """What belongs to a physician about the parent: a fever, a named illness.

    Args:
        entries: The standing entries about the parent.
        parameters: The content's parameters.
        policy: The clinic's policy.
        as_of: The instant of the question.
    """
    parent = PARENT_WORDS[policy.parent_word]
    found = []
    taken = [(entry, entry.fact) for entry in entries if isinstance(entry.fact, Temperature)]
    limit = parameters.parent_fever_c
    if taken:
        entry, fact = taken[-1]
        is_fresh = elapsed_h(entry.true_at, as_of) <= parameters.standing_h.value
        if fact.temperature_c >= limit.value and is_fresh:
            has_fever = message(
                "The {parent} has a temperature of {temperature} ({at}).",
                parent=parent,
                temperature=Amount(fact.temperature_c, "Cel"),
                at=Instant(entry.true_at),
            )
            found.append(_about_parent("parent-fever", has_fever, limit))
    present: dict[str, bool] = {}
    for entry in entries:
        if isinstance(entry.fact, Illness):
            present[entry.fact.what] = entry.fact.present
    found += [
        _about_parent(
            "parent-illness",
            message("Illness of the {parent} noted: {what}.", parent=parent, what=what),
        )
        for what, is_there in present.items()
        if is_there
    ]
    return tuple(found)


def _about_parent(code: str, said: Message, *limits: Constant) -> Finding:
    at_or_above = Working(formula=message("at or above the limit"), constants=limits)
    return Finding(
        code=code,
        level="amber",
        messages=(said,),
        working=at_or_above if limits else None,
    )


PARENT_WORDS = {"mother": message("mother"), "parent": message("parent")}
