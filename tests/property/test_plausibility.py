"""Whatever is entered, plausibility answers: nothing, a question or a refusal, and never crashes."""

import math

from hypothesis import given
from hypothesis import strategies as st

from clinical_constants import INFANT, birth_entry, entry
from suffice.clinical.entry import (
    Birth,
    Expression,
    Feed,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.plausibility import Beside, check_entry
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.weight.slip import likely_slips
from suffice.knowledge.store import load

CONTENT = load()
LIMITS = PlausibilityLimits.from_content(CONTENT.flat, CONTENT.series, CONTENT.wordings)
wild = st.floats(allow_nan=True, allow_infinity=True)
maybe = st.none() | wild
facts = st.one_of(
    st.builds(Weight, weight_g=wild),
    st.builds(Temperature, temperature_c=wild),
    st.builds(TestWeight, before_g=wild, after_g=wild, minutes=maybe),
    st.builds(Feed, milk=st.just("formula"), volume_ml=maybe, minutes=maybe),
    st.builds(Expression, left_ml=wild, minutes=maybe, hours_since_last=maybe),
    st.builds(Wet, count=st.integers(-5, 500), over_h=maybe),
    st.builds(Stool, count=st.integers(-5, 500), over_h=maybe),
    st.builds(Size, length_cm=wild, head_cm=maybe),
)
ages_h = st.integers(-48, 24 * 1000)


@given(facts, ages_h, st.none() | st.floats(1, 9000))
def test_any_entry_is_answered(fact, age_h, birth_weight_g):
    current = (birth_entry(birth_weight_g=birth_weight_g),)
    problems = check_entry(entry(fact, age_h), current, LIMITS)
    assert [problem.doubtful for problem in problems] == sorted(
        problem.doubtful for problem in problems
    )
    assert all(problem.where and problem.what and problem.fix for problem in problems)


@given(
    st.builds(
        Birth,
        zone=st.just("UTC"),
        gestation_days=st.none() | st.integers(-10, 10**6),
        birth_weight_g=maybe,
        intrapartum_fluids_ml=maybe,
        multiple=st.none() | st.integers(-3, 50),
    )
)
def test_any_birth_is_answered(fact):
    problems = check_entry(entry(fact, 0), (), LIMITS)
    if fact.birth_weight_g is not None and not math.isfinite(fact.birth_weight_g):
        assert "BIRTH-003" in [problem.code for problem in problems]


@given(st.floats(300, 9000), st.sampled_from([10, 0.1, 2.20462, 1 / 2.20462, 1 / 1000]))
def test_the_slip_that_was_made_is_offered(weight_g, factor):
    offered = likely_slips(weight_g * factor, lambda _: True)
    assert any(math.isclose(slip.weight_g, weight_g, rel_tol=1e-5) for slip in offered)


@given(wild)
def test_what_is_offered_fits_and_differs(weight_g):
    for slip in likely_slips(weight_g, lambda grams: 2000 <= grams <= 5000):
        assert 2000 <= slip.weight_g <= 5000
        assert slip.weight_g != weight_g


@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(2500, 2503), st.booleans()), max_size=12),
    st.integers(0, 5),
    st.integers(0, 11),
)
def test_weight_before_is_the_one_that_a_walk_through_all_finds(weights, age_h, replaced):
    """The walk that this stands in place of: by infant, before it, neither it nor what it replaces."""
    made = [
        entry(Weight(weight_g=g), hour, infant_id=None if other else INFANT, device=str(n))
        for n, (hour, g, other) in enumerate(weights)
    ]
    replaces = made[replaced].id if replaced < len(made) else None
    asked = entry(Weight(weight_g=2501), age_h, replaces=replaces)
    walked = [
        (one.true_at, one.fact.weight_g)
        for one in made
        if one.infant_id == asked.infant_id
        and one.id not in (asked.id, asked.replaces)
        and one.true_at < asked.true_at
    ]
    found = Beside(made).weight_before(asked)
    assert (found and found[:2]) == max(walked, default=None)
