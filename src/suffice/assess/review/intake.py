"""Milk of one infant: what is needed, what was measured, and how big a feed is at this age."""

from __future__ import annotations

from datetime import datetime, timedelta

import msgspec

from suffice.assess.case import Case, Review, problem_words
from suffice.assess.parameters import CareParameters
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Feed, TestWeight
from suffice.clinical.milk.feed_size import expected_feed_ml
from suffice.clinical.milk.known_intake import KnownIntake, known_intake
from suffice.clinical.milk.observed_intake import View, views
from suffice.clinical.milk.requirement import energy_requirement, percent_met
from suffice.clinical.milk.test_weight import Transfer, sum_of, transfer
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Quantity, Working
from suffice.errors import InputError, RefusalError
from suffice.message import Message, message

MILKS: dict[str, Message] = {
    "expressed": message("expressed milk"),
    "donor": message("donor milk"),
    "formula": message("formula"),
}
A_DAY = timedelta(hours=HOURS_PER_DAY)
INTAKE_FIGURES = (
    "requirement_kcal_per_day",
    "requirement_ml_per_day",
    "feed_size_ml",
    "share_met_percent",
)


def review_intake(case: Case, review: Review, parameters: CareParameters) -> tuple[View, ...]:
    """Write need, feed size and measured milk into the review.

    Returns:
        Every source's answer to how much a day, refusals included; empty without a weight.
    """
    _review_transfer(case, review, parameters)
    _review_milk_given(case, review)
    hours = case.age_h
    if hours is None:
        for name in INTAKE_FIGURES:
            review.missing(name, case.no_birth)
        return ()
    review.figure("feed_size_ml", lambda: expected_feed_ml(hours, parameters.feed_size))
    series = usable(case)
    if not series or case.birth is None:
        for name in INTAKE_FIGURES:
            if name != "feed_size_ml":
                review.missing(name, message("No weight is known."))
        return ()
    weight_g, age_d = series[-1].weight_g, hours / HOURS_PER_DAY
    birth = case.birth
    review.figure(
        "requirement_kcal_per_day",
        lambda: energy_requirement(
            weight_g,
            age_d,
            parameters.energy,
            sex=birth.sex,
            gestation_days=birth.gestation_days,
        ),
    )
    answers = views(
        weight_g,
        age_d,
        parameters.energy,
        parameters.intake,
        sex=birth.sex,
        gestation_days=birth.gestation_days,
    )
    need = next((one.volume_ml_per_day for one in answers if one.volume_ml_per_day), None)
    if need is None:
        reasons = [one.refusal for one in answers if one.refusal is not None]
        why = problem_words(reasons[0], with_fix=False)
        review.not_computed["requirement_ml_per_day"] = why
    else:
        review.figures["requirement_ml_per_day"] = need
    _review_share(case, review, parameters, need)
    return answers


def transfer_of(fact: TestWeight, parameters: CareParameters) -> Transfer:
    """The milk taken in one test-weighed feed.

    Raises:
        InputError: TEST-001, TEST-002.
        RefusalError: TEST-003 when clothes were changed.
    """
    return transfer(
        fact.before_g,
        fact.after_g,
        parameters.test_weight,
        minutes=fact.minutes,
        same_clothes=fact.same_clothes,
    )


def _review_transfer(case: Case, review: Review, parameters: CareParameters) -> None:
    latest = case.latest(TestWeight)
    if latest is None:
        why = message("There is no test weight.")
        review.missing("transfer_ml", why)
        review.missing("transfers_24h_ml", why)
        return
    _, fact = latest
    try:
        found = transfer_of(fact, parameters)
    except (RefusalError, InputError) as refusal:
        review.missing("transfer_ml", refusal)
    else:
        review.figures["transfer_ml"] = found.volume_ml
        for problem in found.problems:
            review.sign("test_weight_doubt", True, problem_words(problem))  # noqa: FBT003
    since = case.as_of - A_DAY
    recent = []
    for entry, one in case.facts(TestWeight):
        if entry.true_at > since:
            try:
                recent.append(transfer_of(one, parameters))
            except (RefusalError, InputError):
                continue
    if recent:
        review.figures["transfers_24h_ml"] = sum_of(recent, parameters.test_weight)
    else:
        none = message("There is no test weight in the last 24 hours.")
        review.missing("transfers_24h_ml", none)


def _review_milk_given(case: Case, review: Review) -> None:
    """The measured milk other than at the breast, in the last 24 hours."""
    since = case.as_of - A_DAY
    given = [
        (fact.milk, fact.volume_ml)
        for entry, fact in case.facts(Feed)
        if fact.milk != "breast" and fact.volume_ml is not None and entry.true_at > since
    ]
    if not given:
        none = message("No measured milk was given in the last 24 hours.")
        review.missing("milk_given_24h_ml", none)
        return
    amounts: dict[str, float] = {}
    for milk, volume_ml in given:
        amounts[milk] = amounts.get(milk, 0.0) + volume_ml
    review.figures["milk_given_24h_ml"] = Figure(
        value=sum(amounts.values()),
        unit="mL",
        working=Working(
            formula=message("sum of the volumes given in the last 24 hours"),
            inputs=tuple(
                Quantity(name=MILKS[milk], value=total, unit="mL")
                for milk, total in sorted(amounts.items())
            ),
        ),
    )


def known_intake_of(case: Case, as_of: datetime, parameters: CareParameters) -> KnownIntake:
    """What is known to have been taken in the day before an instant after birth."""
    return known_intake(
        case.entries,
        case.infant.id,
        born_at=case.born_at or as_of,
        as_of=as_of,
        parameters=parameters.known_intake,
        weighing=parameters.test_weight,
    )


def _review_share(
    case: Case, review: Review, parameters: CareParameters, need: Figure | None
) -> None:
    """The share of the need that is known to have been met; 'at least' where feeds are unmeasured."""
    if need is None:
        review.missing("share_met_percent", review.not_computed["requirement_ml_per_day"])
        return
    known = known_intake_of(case, case.as_of, parameters)
    intake = known.per_day_ml() or known.volume_ml
    if intake is None:
        why = message("Nothing was measured in the last 24 hours: no milk given, no test weight.")
        review.missing("share_met_percent", why)
        return
    per_day = msgspec.structs.replace(intake, unit="mL/d")
    review.figure("share_met_percent", lambda: percent_met(per_day, need))
