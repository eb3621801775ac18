"""What a review returns: figures or reasons, measures and signs, and how several become one."""

from __future__ import annotations

import pytest

from spoken import text
from suffice.assess.review.result import (
    Reviewed,
    computed,
    figures,
    measure,
    missing,
    sign,
    together,
)
from suffice.assess.rules.table import Measure
from suffice.assess.rules.truth import Truth
from suffice.clinical.working import Figure, Working
from suffice.errors import InputError, Problem, RefusalError
from suffice.message import message

FIGURE = Figure(value=1.0, unit="g", working=Working(formula=message("as given")))
PROBLEM = Problem(code="A-001", what=message("This"), why=message("is odd."), fix=message("Ask."))


def refuse(error):
    def compute():
        raise error

    return compute


def test_a_figure_is_kept_or_the_reason_why_there_is_none():
    assert computed("a", lambda: FIGURE) == figures(a=FIGURE) == Reviewed(figures={"a": FIGURE})
    for refusal in (RefusalError(PROBLEM), InputError(PROBLEM)):
        found = computed("b", refuse(refusal))
        assert found.figures == {}
        assert {name: text(why) for name, why in found.not_computed.items()} == {
            "b": "This is odd. Ask."
        }
    with pytest.raises(ZeroDivisionError):  # a fault of the program is no reason
        computed("c", refuse(ZeroDivisionError()))


def test_one_reason_may_stand_for_several_figures():
    assert missing("b", "a", why="No.").not_computed == {"b": "No.", "a": "No."}
    assert list(missing("b", "a", why="No.").not_computed) == ["b", "a"]


@pytest.mark.parametrize(
    ("known", "truth"),
    [(True, Truth.TRUE), (False, Truth.FALSE), (None, Truth.CANNOT_TELL)],
)
def test_a_sign_says_what_is_known_of_it(known, truth):
    (found,) = sign("jaundice", known, "typed", age_h=3.0, what="x").signs["jaundice"]
    assert found.present is truth
    assert (found.age_h, found.says, found.gaps) == (3.0, ("typed",), (("what", "x"),))


def test_together_keeps_the_order_and_lets_a_name_hold_several_facts():
    first, second = (Measure(value=value, age_h=value, figure=FIGURE) for value in (1.0, 2.0))
    whole = together(
        [
            figures(b=FIGURE),
            missing("c", why="No."),
            measure("m", first),
            sign("s", True),
            figures(a=FIGURE),
            measure("m", second),
            sign("s", False),
        ]
    )
    assert list(whole.figures) == ["b", "a"]
    assert whole.not_computed == {"c": "No."}
    assert whole.measures == {"m": (first, second)}
    assert [one.present for one in whole.signs["s"]] == [Truth.TRUE, Truth.FALSE]
    assert together([]) == Reviewed()


@pytest.mark.parametrize("first", [figures(a=FIGURE), missing("a", why="No.")])
@pytest.mark.parametrize("second", [figures(a=FIGURE), missing("a", why="Never.")])
def test_a_figure_that_is_given_twice_fails(first, second):
    with pytest.raises(ValueError, match="'a'"):
        together([first, second])
