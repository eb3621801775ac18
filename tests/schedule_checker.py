"""Reads a printed clock and says which rules of the plan it breaks: its own code, minute by minute.

It knows nothing of how a day was found. Each minute of the day is looked at by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from suffice.clinical.entry.clock import Act
from suffice.clinical.reading.hours import Hours
from suffice.plan.schedule_case import DayCase

DAY = 1440


def _covered(hours: Iterable[Hours]) -> set[int]:
    return {m % DAY for one in hours for m in range(one.starts_minutes, one.ends_minutes)}


def _minutes(acts: Iterable[Act]) -> Counter[int]:
    return Counter((one.starts_minutes + n) % DAY for one in acts for n in range(one.minutes))


def _gaps(starts: Sequence[int]) -> list[tuple[int, int]]:
    turned = sorted(starts)
    return [
        (one, (turned[(n + 1) % len(turned)] - one) % DAY or DAY) for n, one in enumerate(turned)
    ]


def faults(  # one rule after another
    acts: Sequence[Act],
    case: DayCase,
    *,
    night: tuple[int, int] = (22 * 60, 30 * 60),
    apart: int = 90,
    sessions_apart: int = 120,
    rest: int = 60,
) -> list[str]:
    """Every broken rule, in a few words; none where the clock keeps them all."""
    found: list[str] = []
    own = [one for one in acts if one.who == "parent"]
    for who, theirs in (("parent", own), ("helper", [one for one in acts if one.who == "helper"])):
        if any(count > 1 for count in _minutes(theirs).values()):
            found.append(f"the {who} does two things at once")
    away = _covered(case.away)
    for one in own:
        is_allowed = one.what == "express" and case.expresses_away
        if not is_allowed and set(_minutes([one])) & away:
            found.append(f"{one.what} while away")
    if not set(_minutes(one for one in acts if one.who == "helper")) <= _covered(case.helpers):
        found.append("a helper who is not there")
    slept = [one for one in acts if one.what == "sleep"]
    if len(slept) > 1 or sum(one.minutes for one in slept) > case.sleep_minutes:
        found.append("more sleep than one stretch, or than was wished for")
    if not set(_minutes(slept)) <= _covered(case.sleep):
        found.append("sleep outside its hours")
    if case.keeps_breast and case.at_breast != "not now":
        bottles = [one for one in acts if one.what == "bottle"]
        if any(one.starts_minutes % DAY not in away for one in bottles):
            found.append("a bottle in place of a breast that is to be relieved")
    found += _feeds(acts, case, night, apart)
    found += _milk(acts, case)
    found += _sessions(acts, case, sessions_apart, rest)
    return found


def _feeds(acts: Sequence[Act], case: DayCase, night: tuple[int, int], apart: int) -> list[str]:
    found: list[str] = []
    starts = [one.starts_minutes for one in acts if one.what in {"breast", "bottle"}]
    if not case.feeds_count:
        return ["a feed where others feed"] if starts else []
    if len(starts) < case.feeds_count:
        found.append("too few feeds")
    gaps = _gaps(starts)
    if min(gap for _start, gap in gaps) < apart:
        found.append("feeds too near")
    longer = [(start, gap) for start, gap in gaps if gap > case.gap_day_minutes]
    at_night = _covered([Hours(*night)])
    if any(start not in at_night or gap > case.gap_night_minutes for start, gap in longer):
        found.append("a gap that is too long")
    if len(longer) > 1:
        found.append("more than one longer gap")
    with_milk = [one for one in acts if one.what in {"milk", "bottle"}]
    if len(with_milk) < case.milk_feeds_count:
        found.append("too few feeds with milk")
    if case.at_breast == "not now" and any(one.what == "breast" for one in acts):
        found.append("at the breast though not now")
    begun = [one.starts_minutes for one in acts if one.what == "breast"]
    found.extend(
        "extra milk without a feed before it"
        for one in acts
        if one.what == "milk"
        and not any((one.starts_minutes - start) % DAY < apart for start in begun)
    )
    return found


def _milk(acts: Sequence[Act], case: DayCase) -> list[str]:
    """The millilitres of the printed clock, added up act by act, against those of the plan."""
    if case.milk is None:
        return []
    held = 0.0
    for one in acts:
        if one.what == "breast":
            held += case.milk.breast_ml
        elif one.what == "milk":
            held += case.milk.milk_ml
        elif one.what == "bottle":
            held += case.milk.bottle_ml
    short = case.milk.day_ml - held
    return [f"{short:.1f} mL less than the plan"] if short > 0.1 else []


def _sessions(acts: Sequence[Act], case: DayCase, apart: int, rest: int) -> list[str]:
    found: list[str] = []
    sessions = [one for one in acts if one.what == "express"]
    bottles = sum(one.what == "bottle" for one in acts)
    most = case.sessions_count
    if case.is_own_milk and case.at_breast != "not now":
        if len(sessions) < bottles:
            found.append("a bottle of milk that nobody expressed")
        most = most or bottles
    if len(sessions) > most:
        found.append("more sessions than asked for")
    if (
        len(sessions) > 1
        and min(g for _s, g in _gaps([s.starts_minutes for s in sessions])) < apart
    ):
        found.append("sessions too near")
    for one in sessions:
        for other in acts:
            after = (other.starts_minutes - one.starts_minutes - one.minutes) % DAY
            if other.what == "breast" and after < rest:
                found.append("at the breast too soon after a session")
    return found
