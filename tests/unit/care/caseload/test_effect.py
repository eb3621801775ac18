"""What another policy would move on the demo caseload, against ranking it under that policy."""

from __future__ import annotations

from collections import Counter

import pytest

from people import an_id
from suffice.assess.results import Tier
from suffice.care.caseload.effect import changes_judgement, effect_of
from suffice.care.caseload.ranked import ranked_as_of
from suffice.care.clinic.clinic import change_policy
from suffice.errors import InputError
from unit.care.caseload.test_listing import NOW, demo  # noqa: F401  # a fixture

pytestmark = pytest.mark.django_db

COLDER = {"constants": {"temperature.low_c": 35.0}}
"""The demo has an infant of 35.3 °C."""


def tiers() -> dict[object, Tier]:
    return {one.family_id: one.rank.tier for one in ranked_as_of(NOW, engine=False)}


def test_it_is_what_the_ranking_says_before_and_after(demo) -> None:  # noqa: F811
    effect, before = effect_of(COLDER, now=NOW), tiers()
    change_policy(an_id("colder"), COLDER, now=NOW, actor="ann", confirmed=True)
    after = tiers()
    moves = Counter((before[one], after[one]) for one in before if before[one] is not after[one])
    assert effect.moves == moves
    assert effect.less_urgent_count == sum(moves.values()) >= 1
    assert effect.more_urgent_count == 0
    assert (effect.before, effect.after) == (Counter(before.values()), Counter(after.values()))
    assert (effect.looked_count, effect.all_count) == (len(before), len(before))


def test_only_so_many_are_looked_at_the_most_urgent_first(demo) -> None:  # noqa: F811
    effect = effect_of(COLDER, now=NOW, limit=3)
    assert effect.looked_count == 3
    assert effect.all_count > 3


def test_units_and_words_judge_nobody(demo) -> None:  # noqa: F811
    assert not changes_judgement({"weight_unit": "lb oz", "language": "es"})
    assert changes_judgement(COLDER)
    assert effect_of({}, now=NOW).moves == {}


def test_a_policy_that_cannot_be_saved_has_no_effect(demo) -> None:  # noqa: F811
    with pytest.raises(InputError):
        effect_of({"zone": "Atlantis"}, now=NOW)
