"""What a review returns, and how the results of several become one.

A figure that cannot be computed leaves its reason instead, so nothing is silently missing. Measures
and signs are what the table of flags asks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import TypeVar
from uuid import UUID

import msgspec

from suffice.assess.case import refusal_words
from suffice.assess.rules.table import Measure, Sign
from suffice.assess.rules.truth import truth_of
from suffice.clinical.working import Figure, Working
from suffice.errors import InputError, RefusalError, SufficeError
from suffice.message import Instant, Param, Words

AFact = TypeVar("AFact")


class Reviewed(msgspec.Struct, frozen=True, kw_only=True):
    """What was computed and seen of one infant.

    Attributes:
        figures: Name to figure.
        not_computed: Name of a figure that is not there to the reason.
        measures: Name to what the table of flags may compare, in order of time.
        signs: Name to what the table of flags may ask, in order of time.
    """

    figures: Mapping[str, Figure] = {}
    not_computed: Mapping[str, Words] = {}
    measures: Mapping[str, tuple[Measure, ...]] = {}
    signs: Mapping[str, tuple[Sign, ...]] = {}


def together(parts: Iterable[Reviewed]) -> Reviewed:
    """All results as one, in the order given.

    A name may hold several measures or signs (two illnesses), but one figure or one reason.

    Raises:
        ValueError: A figure, or the reason why it is not there, is given twice.
    """
    figures: dict[str, Figure] = {}
    not_computed: dict[str, Words] = {}
    measures: dict[str, tuple[Measure, ...]] = {}
    signs: dict[str, tuple[Sign, ...]] = {}
    for part in parts:
        # Most parts hold one thing alone.
        if part.figures or part.not_computed:
            for name in (*part.figures, *part.not_computed):
                if name in figures or name in not_computed:
                    raise ValueError(f"two reviews give the figure {name!r}")
            figures.update(part.figures)
            not_computed.update(part.not_computed)
        if part.measures:
            _append(measures, part.measures)
        if part.signs:
            _append(signs, part.signs)
    return Reviewed(figures=figures, not_computed=not_computed, measures=measures, signs=signs)


def _append(facts: dict[str, tuple[AFact, ...]], more: Mapping[str, tuple[AFact, ...]]) -> None:
    for name, found in more.items():
        facts[name] = facts[name] + found if name in facts else found


def figures(**named: Figure) -> Reviewed:
    """Figures that are there."""
    return Reviewed(figures=named)


def computed(name: str, compute: Callable[[], Figure]) -> Reviewed:
    """A figure, or the reason why it cannot be computed."""
    try:
        return Reviewed(figures={name: compute()})
    except (RefusalError, InputError) as refusal:
        return missing(name, why=refusal)


def missing(*names: str, why: Words | SufficeError) -> Reviewed:
    """Why figures are not there: a reason, or the refusal to compute them."""
    reason = refusal_words(why) if isinstance(why, SufficeError) else why
    return Reviewed(not_computed=dict.fromkeys(names, reason))


def measure(name: str, found: Measure) -> Reviewed:
    """A measure for the table of flags."""
    return Reviewed(measures={name: (found,)})


def sign(  # what a sign is
    name: str,
    present: bool | None,  # the finding itself
    *says: Words,
    age_h: float | None = None,
    looked_at: datetime | None = None,
    entry_ids: tuple[UUID | None, ...] = (),
    working: Working | None = None,
    is_answered: bool | None = None,
    degree: float | None = None,
    **gaps: Param,
) -> Reviewed:
    """A sign for the table of flags.

    Args:
        name: Its name in rules/facts.toml of the content.
        present: Whether it is there; None where that is not known.
        says: What follows the sentence of its row.
        age_h: Age when it was so; None for now.
        looked_at: When it was last looked at again.
        entry_ids: The entries it rests on.
        working: How it was found.
        is_answered: Whether a physician has answered it; None where its entries tell.
        degree: How bad it is, the greater the worse; None where it is no matter of degree.
        gaps: What it fills of the sentence of its row; `at` is also when it was so.
    """
    at = gaps.get("at")
    found = Sign(
        present=truth_of(present),
        age_h=age_h,
        is_answered=is_answered,
        degree=degree,
        at=at.at if isinstance(at, Instant) else None,
        looked_at=looked_at,
        entry_ids=entry_ids,
        gaps=tuple(gaps.items()),
        says=says,
        working=working,
    )
    return Reviewed(signs={name: (found,)})
