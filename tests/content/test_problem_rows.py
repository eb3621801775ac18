"""What the rows of a problem come to together: hand-overs that can come, to whom and how soon."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import pytest
from msgspec import structs

from suffice.assess.problems.named import Weighed, name_problems
from suffice.assess.rules.table import Found
from suffice.knowledge.asked import read_asked
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content, load

CONTENT = load()
GUIDE = CONTENT.guide
APART = {">=": 0.0, "<=": 0.0, ">": 0.01, "<": -0.01}
Way = dict[str, Found]


def ways(asked: Condition) -> Iterator[Way]:
    """Sets of finds that make a condition so; where an 'and' wants two answers of one key the latter stands."""
    if asked.answers:
        yield from ({asked.find: Found((answer,))} for answer in asked.answers)
    elif asked.compare is not None:
        limit = CONTENT.constant(asked.limit).value
        yield {asked.find: Found(number=limit + APART[asked.compare])}
    elif asked.any_of:
        for part in asked.parts:
            yield from ways(part)
    else:
        for parts in itertools.product(*(tuple(ways(part)) for part in asked.parts)):
            yield dict(itertools.chain.from_iterable(part.items() for part in parts))


def handed(one: Weighed, when: str) -> bool:
    return any(row.when == when for row in one.hand_over)


def comes(key: str, when: str, content: Content = CONTENT) -> bool:
    """Whether some way in which a problem is named makes one of its hand-overs come."""
    problem = content.guide.problems[key]
    named = [way for row in (*problem.strong, *problem.weak) for way in ways(read_asked(row.when))]
    for because, way in itertools.product(ways(read_asked(when)), [{}, *named]):
        found = {name: (one,) for name, one in (way | because).items()}
        if problem.reassures:
            found.setdefault("intake", (Found(("enough",)),))
        result = name_problems(found, content)
        if handed(next(one for one in result.problems if one.key == key), when):
            return True
    return False


ROWS = [(key, row.when) for key, one in sorted(GUIDE.problems.items()) for row in one.hand_over]


@pytest.mark.parametrize(("key", "when"), ROWS)
def test_every_hand_over_can_come_while_its_problem_is_named(key: str, when: str) -> None:
    assert comes(key, when), "what asks for the hand-over also rules the problem out"


def test_one_that_can_never_come_is_found() -> None:
    """The fault that was there: a voice that rules fast flow out was to be handed over by fast flow."""
    fast_flow = GUIDE.problems["fast_flow"]
    row = structs.replace(GUIDE.problems["unsafe_swallow"].hand_over[0], when="wet_voice is yes")
    assert any(row.when in one.when for one in fast_flow.excludes)
    dead = structs.replace(
        GUIDE, problems=GUIDE.problems | {"fast_flow": structs.replace(fast_flow, hand_over=(row,))}
    )
    assert not comes("fast_flow", row.when, replace(CONTENT, guide=dead))
    live = structs.replace(row, when="leaks is jet")
    made = structs.replace(
        GUIDE,
        problems=GUIDE.problems | {"fast_flow": structs.replace(fast_flow, hand_over=(live,))},
    )
    assert comes("fast_flow", live.when, replace(CONTENT, guide=made))


def found_of(**finds: str | float) -> dict[str, tuple[Found, ...]]:
    return {
        key: (Found((one,)) if isinstance(one, str) else Found(number=one),)
        for key, one in finds.items()
    }


def weighed(key: str, **finds: str | float) -> Weighed:
    result = name_problems(found_of(**finds), CONTENT)
    return next(one for one in result.problems if one.key == key)


def soonest(one: Weighed) -> tuple[str, float]:
    row = min(one.hand_over, key=lambda row: row.within_h)
    return row.level, row.within_h


@pytest.mark.parametrize(
    ("key", "finds", "says"),
    [
        ("supply_blood_loss", {"blood_loss_ml": 3000.0, "pituitary": "faint_tired"}, ("physician", 24)),
        ("supply_blood_loss", {"blood_loss_ml": 3000.0, "pituitary": "no_milk"}, ("physician", 168)),
        ("ineffective_suck", {"palate": "cleft"}, ("physician", 24)),
        ("ineffective_suck", {"nose_milk": "yes"}, ("physician", 24)),
        ("ineffective_suck", {"intake": "short", "swallows": "light", "tone": "low"}, ("physician", 24)),
        ("breast_herpes", {"blisters": "band"}, ("physician", 24)),
        ("breast_change", {"discharge": "pus", "redness": "none"}, ("physician", 24)),
        ("mastitis_bacterial", {"discharge": "pus"}, ("physician", 24)),
        ("unit_start", {"unit_stay": "now", "step": "few", "pauses_72h": "yes"}, ("physician", 1)),
        ("unsafe_swallow", {"wet_voice": "yes"}, ("physician", 24)),
        ("unsafe_swallow", {"noisy_breath": "yes"}, ("physician", 24)),
        ("unsafe_swallow", {"flow": "bottle_too"}, ("look", 168)),
        ("breast_change", {"nipple_skin": "raw"}, ("physician", 336)),
        ("breast_change", {"breast_skin": "breaking"}, ("physician", 336)),
        ("breast_change", {"lump": "fixed"}, ("physician", 336)),
        ("breast_change", {"armpit": "hard"}, ("physician", 336)),
        ("fever_elsewhere", {"parent_temperature_c": 38.5, "very_ill": "yes"}, ("emergency", 1)),
        ("fever_elsewhere", {"parent_temperature_c": 38.5, "foul_loss": "yes"}, ("physician", 24)),
        ("mind_danger", {"strange_beliefs": "yes"}, ("emergency", 1)),
        ("mind_danger", {"unwanted_thoughts": "drawn"}, ("emergency", 1)),
        ("mind_danger", {"self_harm_item": "any"}, ("physician", 24)),
        ("birth_pain", {"birth_injury": "collar_bone"}, ("physician", 24)),
        ("birth_pain", {"head_turn": "cannot"}, ("physician", 168)),
        ("not_on", {"step": "not_on", "last_milk_h": 6.0}, ("physician", 6)),
        ("not_on", {"step": "not_on", "wets": "half"}, ("physician", 24)),
        ("not_to_feed", {"no_milk_sign": "yes"}, ("emergency", 1)),
    ],
)  # fmt: skip
def test_to_whom_and_how_soon(
    key: str, finds: dict[str, str | float], says: tuple[str, float]
) -> None:
    assert soonest(weighed(key, **finds)) == says


def test_a_red_breast_is_named_on_its_own_side() -> None:
    """The other side was looked at and is not red: fever of the parent names it on neither."""
    finds = found_of(parent_temperature_c=38.6) | {
        "redness": (Found(("patch",), None, "left"), Found(("none",), None, "right")),
        "lump": (Found(("gives",), None, "left"),),
    }
    result = name_problems(finds, CONTENT)
    sides = {one.key: one.sides for one in result.named}
    assert sides["mastitis_inflammatory"] == ("left",)
    assert sides["breast_abscess"] == ("left",)
