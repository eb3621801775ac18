"""Three-valued logic: what is not known decides nothing by itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.assess.rules import truth
from suffice.assess.rules.truth import Truth, conjunction, disjunction, negation, truth_of

TRUE, FALSE, CANNOT_TELL = Truth.TRUE, Truth.FALSE, Truth.CANNOT_TELL
TRUTHS = st.sampled_from(Truth)
SEVERAL = st.lists(TRUTHS, max_size=6)


def refined(truths, answers):
    """The same with what could not be told settled one way or the other."""
    rest = iter(answers)
    return [next(rest) if one is CANNOT_TELL else one for one in truths]


@pytest.mark.parametrize(
    ("one", "other", "both", "either"),
    [
        (TRUE, TRUE, TRUE, TRUE),
        (TRUE, FALSE, FALSE, TRUE),
        (FALSE, FALSE, FALSE, FALSE),
        (TRUE, CANNOT_TELL, CANNOT_TELL, TRUE),
        (FALSE, CANNOT_TELL, FALSE, CANNOT_TELL),
        (CANNOT_TELL, CANNOT_TELL, CANNOT_TELL, CANNOT_TELL),
    ],
)
def test_the_tables_of_and_and_or_are_kleenes(one, other, both, either):
    assert conjunction([one, other]) is conjunction([other, one]) is both
    assert truth.both(one, other) is truth.both(other, one) is both
    assert disjunction([one, other]) is disjunction([other, one]) is either


def test_the_opposite_of_what_cannot_be_told_cannot_be_told():
    assert negation(CANNOT_TELL) is CANNOT_TELL
    assert (negation(TRUE), negation(FALSE)) == (FALSE, TRUE)


def test_all_of_none_is_true_and_any_of_none_is_false():
    assert conjunction([]) is TRUE
    assert disjunction([]) is FALSE


def test_a_plain_answer_becomes_a_truth_and_no_answer_cannot_tell():
    assert [truth_of(one) for one in (True, False, None)] == [TRUE, FALSE, CANNOT_TELL]


@pytest.mark.parametrize("truth", Truth)
def test_no_truth_passes_for_a_condition(truth):
    with pytest.raises(TypeError, match="is Truth"):
        assert truth


@given(TRUTHS)
def test_the_opposite_of_the_opposite_is_the_same(truth):
    assert negation(negation(truth)) is truth


@given(SEVERAL)
def test_de_morgan(truths):
    opposites = [negation(one) for one in truths]
    assert negation(conjunction(truths)) is disjunction(opposites)
    assert negation(disjunction(truths)) is conjunction(opposites)


@given(SEVERAL, st.randoms(use_true_random=False))
def test_the_order_does_not_matter_nor_how_often_something_is_said(truths, random):
    shuffled = [*truths, *truths]
    random.shuffle(shuffled)
    assert conjunction(shuffled) is conjunction(truths)
    assert disjunction(shuffled) is disjunction(truths)


@given(SEVERAL, SEVERAL)
def test_parts_may_be_joined_first(left, right):
    assert conjunction([conjunction(left), conjunction(right)]) is conjunction([*left, *right])
    assert disjunction([disjunction(left), disjunction(right)]) is disjunction([*left, *right])


@given(SEVERAL, st.lists(st.sampled_from([TRUE, FALSE]), min_size=6, max_size=6))
def test_what_is_settled_stays_so_whatever_else_becomes_known(truths, answers):
    more = refined(truths, answers)
    for join in (conjunction, disjunction):
        if join(truths) is not CANNOT_TELL:
            assert join(more) is join(truths)


@given(SEVERAL)
def test_what_cannot_be_told_could_go_either_way(truths):
    """No certainty is given away: where it cannot be told, there are answers for both sides."""
    for join in (conjunction, disjunction):
        if join(truths) is CANNOT_TELL:
            ends = {join(refined(truths, [answer] * 6)) for answer in (TRUE, FALSE)}
            assert ends == {TRUE, FALSE}
