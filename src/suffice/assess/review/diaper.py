"""What was seen in diapers: urates, and colours of stools that somebody must look at.

Time answers nothing: what was seen stands until diapers without it are written down, or until a
physician has answered, as the rows say.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from suffice.assess.case import Case
from suffice.assess.review.result import Reviewed, sign
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Entry, Stool, Wet
from suffice.clinical.output import OutputLimits
from suffice.clinical.working import Constant, Working
from suffice.message import Instant, Number, message

Stools = Sequence[tuple[Entry, Stool]]
TURNED: Final = frozenset({"yellow", "brown"})
"""Colours after which black is no meconium."""
TURNING: Final = frozenset({*TURNED, "green"})
"""Colours that show that meconium is over; pale and red show something else."""


def review_diapers(case: Case, limits: OutputLimits, *, has_risen: bool) -> Iterator[Reviewed]:
    """What was seen in diapers, as signs.

    Args:
        case: The infant, born at a known instant.
        limits: How many diapers without it end it.
        has_risen: Whether the latest weight is above the lowest one.
    """
    yield _urates(case, limits, has_risen=has_risen)
    stools = [
        (entry, fact)
        for entry, fact in case.facts(Stool)
        if fact.colour is not None and fact.count > 0
    ]
    fresh = [one for one in stools if not case.answers.cover(one[0].id)]
    yield from _pale(case, stools, fresh, limits)
    red = [entry for entry, fact in fresh if fact.colour == "red"]
    yield _seen(case, "red_stool", red)
    yield from _black(case, stools, fresh)


def _seen(
    case: Case,
    name: str,
    entries: Sequence[Entry],
    *,
    number: int = 1,
    ends: Constant | None = None,
) -> Reviewed:
    """A sign that was seen, of the latest of the entries; what nobody entered is not known."""
    if not entries:
        return sign(name, None)
    last = entries[-1]
    return sign(
        name,
        True,  # noqa: FBT003
        age_h=case.age_at(last.true_at),
        entry_ids=tuple(one.id for one in entries),
        working=Working(
            formula=message("seen, and nothing since that ends it"),
            constants=(ends,) if ends else (),
        ),
        at=Instant(last.true_at),
        number=Number(float(number), 0),
    )


def _urates(case: Case, limits: OutputLimits, *, has_risen: bool) -> Reviewed:
    """Urates: early ones end with a wet without; later ones with two and a weight that has risen."""
    wets = [(entry, fact) for entry, fact in case.facts(Wet) if fact.count > 0]
    stained = [entry for entry, fact in wets if fact.urates]
    uncleared = [one for one in stained if not case.answers.cover(one.id)]
    if not uncleared:
        return sign("urates", None)
    last = uncleared[-1]
    clear = sum(
        fact.count for entry, fact in wets if fact.urates is False and entry.true_at > last.true_at
    )
    age_h = case.age_at(last.true_at) or 0.0
    weighed_h = max((one.age_h for one in usable(case)), default=0.0)
    if age_h < limits.urates_from_h.value:
        is_over = clear > 0
    else:
        is_rising = has_risen and weighed_h > age_h
        is_over = clear >= limits.calm_diapers_count.value and is_rising
    return _seen(case, "urates", [] if is_over else [last], ends=limits.calm_diapers_count)


def _pale(case: Case, stools: Stools, fresh: Stools, limits: OutputLimits) -> Iterator[Reviewed]:
    """One pale stool ends with the next coloured ones; two end with an answer only.

    An answer ends the flag, not the run: the next one, with no coloured stools between, is told again.
    """
    run: list[tuple[Entry, Stool]] = []
    coloured = 0
    least = limits.calm_diapers_count.value
    for one in stools:
        if one[1].colour == "pale":
            run, coloured = [*run, one], 0
            continue
        coloured += one[1].count
        is_ended = sum(fact.count for _, fact in run) < least or run[-1] not in fresh
        if is_ended and coloured >= least:
            run = []
    open_ = [entry for entry, fact in run if (entry, fact) in fresh]
    pale = sum(fact.count for _, fact in run)
    yield _seen(case, "pale_stool", open_, number=pale, ends=limits.calm_diapers_count)
    yield _seen(case, "pale_stools", open_ if pale >= least else [], number=pale)


def _black(case: Case, stools: Stools, fresh: Stools) -> Iterator[Reviewed]:
    """Black of the first days ends as stools turn; any other black one with an answer only."""
    uncleared: list[Entry] = []
    for one in stools:
        entry, fact = one
        if fact.colour in TURNING:
            uncleared = []
        elif fact.colour == "black" and one in fresh:
            uncleared = [entry]
    yield _seen(case, "black_stool", uncleared)
    black = [entry for entry, fact in fresh if fact.colour == "black"]
    yield _seen(case, "black_stool_unanswered", black)
    yield _seen(case, "black_stool_again", list(_black_again(stools, fresh)))
    regained = [one for one in black if _is_at_birth_weight(case, case.age_at(one.true_at))]
    yield _seen(case, "black_stool_at_birth_weight", regained)


def _is_at_birth_weight(case: Case, age_h: float | None) -> bool:
    """Whether the last weight up to an age was no lower than at birth: such an infant has had milk."""
    weights = sorted(usable(case), key=lambda one: one.age_h)
    born = [one.weight_g for one in weights if one.is_birth]
    until = [one for one in weights if not one.is_birth and one.age_h <= (age_h or 0.0)]
    return bool(born and until) and until[-1].weight_g >= born[0]


def _black_again(stools: Stools, fresh: Stools) -> Iterable[Entry]:
    has_turned = False
    for one in stools:
        entry, fact = one
        has_turned = has_turned or fact.colour in TURNED
        if fact.colour == "black" and has_turned and one in fresh:
            yield entry
