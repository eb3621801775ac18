"""Milk of one infant: what is needed, what was measured, and how big a feed is at this age."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple

import msgspec

from suffice.assess.case import Case, problem_words
from suffice.assess.parameters import CareParameters
from suffice.assess.review.formula_day import review_formula_day
from suffice.assess.review.loss import is_fed_formula_only
from suffice.assess.review.result import (
    Reviewed,
    computed,
    figures,
    missing,
    sign,
    together,
)
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Feed, TestWeight
from suffice.clinical.milk.feed_size import expected_feed_ml
from suffice.clinical.milk.known_intake import KnownIntake, known_intake
from suffice.clinical.milk.observed_intake import View, views
from suffice.clinical.milk.requirement import Feeding, energy_requirement, percent_met
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
    "observed_ml_per_day",
    "feed_size_ml",
    "share_met_percent",
)


class IntakeReviewed(NamedTuple):
    """What is needed and what was measured.

    Attributes:
        reviewed: Figures of need, feed size and measured milk.
        needs: Every source's answer to how much a day, refusals included; empty without a weight.
    """

    reviewed: Reviewed
    needs: tuple[View, ...] = ()


def review_intake(case: Case, parameters: CareParameters) -> IntakeReviewed:
    """Need, feed size and measured milk."""
    measured = [*_review_transfer(case, parameters), _milk_given(case)]
    hours = case.age_h
    if hours is None:
        return IntakeReviewed(together([*measured, missing(*INTAKE_FIGURES, why=case.no_birth)]))
    measured.append(computed("feed_size_ml", lambda: expected_feed_ml(hours, parameters.feed_size)))
    series = usable(case)
    if not series or case.birth is None:
        of_weight = (name for name in INTAKE_FIGURES if name != "feed_size_ml")
        none = missing(*of_weight, why=message("No weight is known."))
        return IntakeReviewed(together([*measured, none]))
    weight_g, age_d = series[-1].weight_g, hours / HOURS_PER_DAY
    sex, gestation_days = case.birth.sex, case.birth.gestation_days
    feeding: Feeding = "formula" if is_fed_formula_only(case) else "breastfed"
    energy = computed(
        "requirement_kcal_per_day",
        lambda: energy_requirement(
            weight_g,
            age_d,
            parameters.energy,
            sex=sex,
            feeding=feeding,
            gestation_days=gestation_days,
        ),
    )
    needs = views(
        weight_g,
        age_d,
        parameters.energy,
        parameters.intake,
        sex=sex,
        gestation_days=gestation_days,
        feeding=feeding,
    )
    milk = _review_need(case, parameters, needs)
    return IntakeReviewed(together([*measured, energy, *milk]), needs)


def _review_need(
    case: Case, parameters: CareParameters, needs: tuple[View, ...]
) -> Iterator[Reviewed]:
    """The milk that is needed by the first source that answers, and the share of it that is met.

    Where no requirement holds, what infants took is a figure of its own: it is no requirement, and
    no share of one is met.
    """
    first = next((one for one in needs if one.volume_ml_per_day), None)
    reasons = [one.refusal for one in needs if one.refusal is not None]
    if first is None or first.volume_ml_per_day is None:
        why = problem_words(reasons[0], with_fix=False)
        yield missing("requirement_ml_per_day", "observed_ml_per_day", "share_met_percent", why=why)
    elif first.kind == "requirement":
        yield figures(requirement_ml_per_day=first.volume_ml_per_day)
        yield _share_met(case, parameters, first.volume_ml_per_day)
        yield review_formula_day(case, parameters, first.volume_ml_per_day)
    else:
        why = problem_words(reasons[0], with_fix=False)
        yield figures(observed_ml_per_day=first.volume_ml_per_day)
        yield missing("requirement_ml_per_day", "share_met_percent", why=why)


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


def _review_transfer(case: Case, parameters: CareParameters) -> Iterator[Reviewed]:
    latest = case.latest(TestWeight)
    if latest is None:
        why = message("There is no test weight.")
        yield missing("transfer_ml", "transfers_24h_ml", why=why)
        return
    _, fact = latest
    try:
        found = transfer_of(fact, parameters)
    except (RefusalError, InputError) as refusal:
        yield missing("transfer_ml", why=refusal)
    else:
        yield figures(transfer_ml=found.volume_ml)
        for problem in found.problems:
            yield sign("test_weight_doubt", True, problem_words(problem))  # noqa: FBT003
    since = case.as_of - A_DAY
    recent = []
    for entry, one in case.facts(TestWeight):
        if entry.true_at > since:
            try:
                recent.append(transfer_of(one, parameters))
            except (RefusalError, InputError):
                continue
    if recent:
        yield figures(transfers_24h_ml=sum_of(recent, parameters.test_weight))
    else:
        none = message("There is no test weight in the last 24 hours.")
        yield missing("transfers_24h_ml", why=none)


def _milk_given(case: Case) -> Reviewed:
    """The measured milk other than at the breast, in the last 24 hours."""
    since = case.as_of - A_DAY
    given = [
        (fact.milk, fact.volume_ml)
        for entry, fact in case.facts(Feed)
        if fact.milk != "breast" and fact.volume_ml is not None and entry.true_at > since
    ]
    if not given:
        none = message("No measured milk was given in the last 24 hours.")
        return missing("milk_given_24h_ml", why=none)
    amounts: dict[str, float] = {}
    for milk, volume_ml in given:
        amounts[milk] = amounts.get(milk, 0.0) + volume_ml
    given_ml = Figure(
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
    return figures(milk_given_24h_ml=given_ml)


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


def _share_met(case: Case, parameters: CareParameters, need: Figure) -> Reviewed:
    """The share of the need that is known to have been met; 'at least' where feeds are unmeasured."""
    known = known_intake_of(case, case.as_of, parameters)
    intake = known.per_day_ml() or known.volume_ml
    if intake is None:
        why = message("Nothing was measured in the last 24 hours: no milk given, no test weight.")
        return missing("share_met_percent", why=why)
    per_day = msgspec.structs.replace(intake, unit="mL/d")
    return computed("share_met_percent", lambda: percent_met(per_day, need))
