"""One line of a problem, read: what binds more, and what cannot be read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.knowledge.asked import read_asked
from suffice.knowledge.schema import Condition

KEYS = st.sampled_from(["gape", "pain_end", "chin"])
ANSWERS = st.lists(st.sampled_from(["a", "b2"]), min_size=1).map(tuple)
ATOMS = st.one_of(
    st.builds(lambda key, answers: Condition(find=key, answers=answers), KEYS, ANSWERS),
    st.builds(
        lambda key, compare: Condition(find=key, compare=compare, limit="problem.x_h"),
        KEYS,
        st.sampled_from([">=", ">", "<", "<="]),
    ),
)


def joined(by: str, parts: tuple[Condition, ...]) -> Condition:
    return Condition(all_of=parts) if by == "and" else Condition(any_of=parts)


def written(asked: Condition) -> str:
    if asked.answers:
        return f"{asked.find} is {'/'.join(asked.answers)}"
    if asked.compare:
        return f"{asked.find} {asked.compare} {asked.limit}"
    by = "and" if asked.all_of else "or"
    return "(" + f" {by} ".join(map(written, asked.parts)) + ")"


def test_and_binds_more_than_or() -> None:
    one, two, three = (Condition(find=key, answers=("yes",)) for key in ("a", "b", "c"))
    asked = read_asked("a is yes or b is yes and c is yes")
    assert asked == joined("or", (one, joined("and", (two, three))))
    assert read_asked("(a is yes or b is yes) and c is yes") == joined(
        "and", (joined("or", (one, two)), three)
    )


@given(
    st.recursive(
        ATOMS,
        lambda below: st.builds(
            joined,
            st.sampled_from(["and", "or"]),
            st.lists(below, min_size=2, max_size=3).map(tuple),
        ),
        max_leaves=6,
    )
)
def test_what_is_written_with_brackets_is_read_again(asked: Condition) -> None:
    assert read_asked(written(asked)) == asked


@pytest.mark.parametrize(
    "text",
    ["", "gape", "gape is", "gape short", "gape is short and", "(gape is short", "gape is short)",
     "gape is short chin is no", "Gape is short", "gape = short", "gape >= ", "and gape is short"],
)  # fmt: skip
def test_what_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        read_asked(text)
