"""Asks the inference room about one infant, and names the engine by which it was asked.

The numerical libraries are imported only when there is something to ask: a command that lists or
imports starts without them.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache
from typing import TYPE_CHECKING

import msgspec

from suffice.care.case import Case, Review
from suffice.care.evidence import evidence_of
from suffice.care.wording import age_said, amount_said
from suffice.inference.estimate import Estimate, Question
from suffice.inference.evidence import Evidence
from suffice.knowledge.store import Content

if TYPE_CHECKING:
    from suffice.inference.population import Population

ENGINE_VERSION = "2026.11.1"
"""Raise with every change of the engine that may change an answer: kept results then expire."""


def estimate_of(case: Case) -> Estimate | None:
    """The engine's full answer for one infant; None without an instant of birth.

    The seed is a digest of the evidence: the same record gives the same bits, and no two infants
    share their draws.
    """
    evidence = evidence_of(case)
    if evidence is None:
        return None
    from suffice.inference.answer import answer  # noqa: PLC0415 -- see the module docstring

    population, question = _setting(case.content)
    return answer(evidence, population, question, seed=seed_of(evidence))


def seed_of(evidence: Evidence) -> int:
    """A seed that depends on everything the engine is told, and on nothing else."""
    digest = hashlib.sha256(msgspec.json.encode(evidence)).digest()
    return int.from_bytes(digest[:8], "big")


@lru_cache(maxsize=8)
def _setting(content: Content) -> tuple[Population, Question]:
    from suffice.inference.population import Population  # noqa: PLC0415

    values = {key: constant.value for key, constant in content.constants("population").items()}
    return Population.from_constants(values), Question.from_constants(values)


def review_estimate(case: Case, review: Review, estimate: Estimate | None) -> None:
    """Write what the engine asks about into the review: weights that look wrong, and cautions."""
    if estimate is None:
        return
    if estimate.is_refused:
        for caution in estimate.cautions:
            if caution.severity == "refusal":
                review.find("engine-refuses", "note", "{why}", {"why": caution.sentence})
        return
    likely = case.content.constant("ranking.wrong_weight_fraction").value
    for suspect in estimate.suspects:
        if suspect.probability >= likely:
            weighing = next(
                (one for one in case.weighings if str(one.entry_id) == suspect.reading_id), None
            )
            if weighing is not None:
                review.find(
                    "weight-looks-wrong",
                    "amber",
                    "The weight of {weight} at {age} does not fit the others ({percent}): {ask}",
                    {
                        "weight": amount_said(weighing.weight_g, "g", case.policy),
                        "age": age_said(weighing.age_h),
                        "percent": f"{100 * suspect.probability:.0f} %",
                        "ask": suspect.ask,
                    },
                )
