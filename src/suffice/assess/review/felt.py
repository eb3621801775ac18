"""Whether a temperature was taken when an infant was felt to be hot or cold.

What a hand felt counts until a physician has answered, unless a thermometer answers at once: a usual
temperature, at a site that is known and can be trusted, soon after. One is taken again; two leave
nothing to do, and where the second is not usual the hand was right.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, sign
from suffice.assess.rules.table import Sign
from suffice.assess.rules.truth import Truth
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Temperature
from suffice.clinical.entry import Sign as SignFact
from suffice.clinical.temperature import is_doubtful_site
from suffice.clinical.units import HOURS_PER_DAY
from suffice.message import Instant

FELT: Final = ("feels_hot", "feels_cold")
"""Keys of the signs that a thermometer can answer."""
NOT_MEASURED: Final = tuple(
    sign(key, False)  # noqa: FBT003  # the finding itself
    for key in ("felt_and_measured", "felt_and_measured_again")
)
Taken = tuple[Entry, Temperature]


def review_felt(
    case: Case, parameters: CareParameters, seen: Mapping[str, Sign]
) -> Iterator[Reviewed]:
    """The signs `felt_and_measured` and `felt_and_measured_again`; nothing where nobody felt it.

    Args:
        case: The infant.
        parameters: What is usual, which sites are doubtful, and how soon is at once.
        seen: Every sign that was entered.
    """
    present = [seen[key] for key in FELT if key in seen and seen[key].present is Truth.TRUE]
    if not present:
        return
    taken = case.facts(Temperature)
    answers = [_answering(one, case, parameters, taken) for one in present]
    given = [one for one in answers if one is not None]
    if len(given) < len(answers):
        yield from NOT_MEASURED
        return
    entry, _ = max(given, key=lambda one: one[0].true_at)
    again_h = parameters.temperature.cool_again_h.value
    later = [one for one in taken if one[0].true_at > entry.true_at]
    again = next(
        (
            one
            for one in later
            if elapsed_h(entry.true_at, one[0].true_at) >= again_h
            and _answers(one, case, parameters)
        ),
        None,
    )
    until_then = later if again is None else later[: later.index(again)]
    if any(_is_unusual(one, parameters) for one in until_then):
        yield from NOT_MEASURED
        return
    measured = Sign(
        present=Truth.TRUE,
        age_h=case.age_at(entry.true_at) or 0.0,
        at=entry.true_at,
        lasts=True,
        is_answered=all(one.is_answered for one in present),
        entry_ids=(entry.id, *(key for one in present for key in one.entry_ids)),
        gaps=(("at", Instant(entry.true_at)),),
    )
    yield Reviewed(signs={"felt_and_measured": (measured,)})
    yield sign("felt_and_measured_again", again is not None)


def _answering(
    felt: Sign, case: Case, parameters: CareParameters, taken: Sequence[Taken]
) -> Taken | None:
    """The first temperature that answers a sign: none of the hour before and after it may be unusual."""
    noted = _noted_at(felt, case)
    if noted is None or felt.at is None:
        return None
    within_h = parameters.felt_measured_h.value
    near = [one for one in taken if abs(elapsed_h(felt.at, one[0].true_at)) <= within_h]
    if any(_is_unusual(one, parameters) for one in near):
        return None
    at_once = (one for one in near if one[0].true_at >= noted)
    return next((one for one in at_once if _answers(one, case, parameters)), None)


def _noted_at(felt: Sign, case: Case) -> datetime | None:
    """When it was last felt."""
    noted = [entry.true_at for entry, _ in case.facts(SignFact) if entry.id in set(felt.entry_ids)]
    return max(noted, default=None)


def _is_unusual(taken: Taken, parameters: CareParameters) -> bool:
    """Whether it is warm or cool, wherever it was taken."""
    limits = parameters.temperature
    return not limits.cool_c.value <= taken[1].temperature_c < limits.repeat_c.value


def _answers(taken: Taken, case: Case, parameters: CareParameters) -> bool:
    """Whether it is usual, and is known to have been taken where it can be trusted."""
    entry, fact = taken
    age_d = (case.age_at(entry.true_at) or 0.0) / HOURS_PER_DAY
    is_trusted = fact.site is not None and not is_doubtful_site(
        fact.site, age_d, parameters.temperature
    )
    return is_trusted and not _is_unusual(taken, parameters)
