"""Supply or transfer: where intake is short, is there too little milk, or is it left in the breast?

Two ratios decide: the milk that was there of what is needed since it was last removed, and the share
of it that the infant took. Between their limits nothing can be said. Without a scale the breast
before and after and the swallows only lean one way. What is right under every answer stays: feed
enough and express after feeds.
"""

from __future__ import annotations

from typing import Final, Literal

import msgspec

from suffice.assess.problems.found import SIDES, Finds, on
from suffice.assess.problems.state import INTAKE
from suffice.knowledge.store import Content

Answer = Literal[
    "not asked", "supply", "transfer", "both", "too few feeds", "need or illness", "cannot tell"
]
TELLS: Final = ("left_after_ml", "transfer_ml", "since_removal_h", "before_feed", "after_feed")
"""What would tell, the most telling first."""


class Split(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to 'supply or transfer?'.

    Attributes:
        answer: The answer; 'not asked' where intake is not known to be short.
        is_certain: Whether it rests on two weighed feeds, or on a day.
        leans: What the breast and the swallows point to where the ratios cannot tell; else empty.
        rests_on: The keys that decided it.
        would_tell: The keys that are not known and would tell, the most telling first.
    """

    answer: Answer
    is_certain: bool = False
    leans: Literal["", "supply", "transfer"] = ""
    rests_on: tuple[str, ...] = ()
    would_tell: tuple[str, ...] = ()


def supply_or_transfer(finds: Finds, content: Content) -> Split:
    """Which of the two it is, from what is known.

    Args:
        finds: What was found, the two ratios among it.
        content: The content in use, for the limits.
    """
    if not _is(finds, INTAKE, "short"):
        return Split(answer="not asked")
    limit = _Limits.from_content(content)
    there, share = _number(finds, "available_ratio"), _number(finds, "taken_share")
    made, taken = _number(finds, "production_ratio"), _number(finds, "intake_ratio")
    would_tell = tuple(key for key in TELLS if not finds.get(key))
    is_certain = (_number(finds, "trusted_feeds") or 0) >= limit.trusted_count
    if taken is not None and taken >= limit.intake_enough:
        return Split(answer="need or illness", is_certain=True, rests_on=("intake_ratio",))
    keys = tuple(
        key for key in ("available_ratio", "taken_share", "production_ratio") if finds.get(key)
    )
    is_little = made is not None and made < limit.made_low
    answer = _answer(there, share, is_little=is_little, limit=limit)
    if answer == "cannot tell" and _feeds_are_few(there, share, finds, content, limit):
        answer = "too few feeds"
    if answer == "cannot tell":
        return Split(answer=answer, leans=_leaning(finds), rests_on=keys, would_tell=would_tell)
    sure = is_certain or (is_little and answer in {"supply", "both"})
    return Split(
        answer=answer,
        is_certain=sure,
        rests_on=keys,
        would_tell=() if sure else would_tell,
    )


class _Limits(msgspec.Struct, frozen=True, kw_only=True):
    there_low: float
    there_enough: float
    share_low: float
    share_good: float
    made_low: float
    intake_enough: float
    long_gap_h: float
    trusted_count: float

    @classmethod
    def from_content(cls, content: Content) -> _Limits:
        def value(name: str) -> float:
            return content.constant(name).value

        return cls(
            there_low=value("problem.available_low_ratio"),
            there_enough=value("problem.available_enough_ratio"),
            share_low=value("problem.taken_low_fraction"),
            share_good=value("problem.taken_good_fraction"),
            made_low=value("problem.production_low_ratio"),
            intake_enough=value("problem.intake_enough_ratio"),
            long_gap_h=value("problem.long_gap_h"),
            trusted_count=value("problem.trusted_count"),
        )


def _answer(there: float | None, share: float | None, *, is_little: bool, limit: _Limits) -> Answer:
    if share is None:
        return "cannot tell"
    little = is_little or (there is not None and there < limit.there_low)
    if share < limit.share_low:
        if little:
            return "both"
        enough = there is not None and there >= limit.there_enough
        return "transfer" if enough else "cannot tell"
    return "supply" if share >= limit.share_good and little else "cannot tell"


def _feeds_are_few(
    there: float | None, share: float | None, finds: Finds, content: Content, limit: _Limits
) -> bool:
    """Whether milk is there and taken, and it is offered too seldom."""
    if there is None or share is None or there < limit.there_enough or share < limit.share_good:
        return False
    feeds, gap_h = _number(finds, "feeds_24h"), _number(finds, "gap_h")
    norm = content.constant("feeding.feeds_count_per_day").value
    return (
        (feeds is not None and feeds < norm)
        or (gap_h is not None and gap_h >= limit.long_gap_h)
        or _is(finds, "feeds_limited", "yes")
        or _is(finds, "dummy", "puts_off")
    )


def _leaning(finds: Finds) -> Literal["", "supply", "transfer"]:
    light = _is(finds, "swallows", "light", "none") or _is(finds, "asleep_early", "yes")
    if light and _is(finds, "before_feed", "full", "hard") and _is(finds, "after_feed", "same"):
        return "transfer"
    if _is(finds, "before_feed", "soft") and _is(finds, "after_feed", "was_soft"):
        return "supply"
    return ""


def _number(finds: Finds, key: str) -> float | None:
    found = on("", finds.get(key, ()))
    return None if found is None else found.number


def _is(finds: Finds, key: str, *answers: str) -> bool:
    """Whether something is so on one side at least."""
    for side in SIDES:
        found = on(side, finds.get(key, ()))
        if found is not None and not set(answers).isdisjoint(found.answers):
            return True
    return False
