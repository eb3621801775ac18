"""One line of a problem, read: what binds more, and what cannot be read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.knowledge.asked import Answered, Asked, Compared, Joined, read_asked

KEYS = st.sampled_from(["gape", "pain_end", "chin"])
ATOMS = st.one_of(
    st.builds(Answered, KEYS, st.lists(st.sampled_from(["a", "b2"]), min_size=1).map(tuple)),
    st.builds(Compared, KEYS, st.sampled_from([">=", ">", "<", "<="]), st.just("problem.x_h")),
)


def written(asked: Asked) -> str:
    if isinstance(asked, Answered):
        return f"{asked.key} is {'/'.join(asked.answers)}"
    if isinstance(asked, Compared):
        return f"{asked.key} {asked.compare} {asked.limit}"
    return "(" + f" {asked.by} ".join(map(written, asked.parts)) + ")"


def test_and_binds_more_than_or() -> None:
    one, two, three = (Answered(key, ("yes",)) for key in ("a", "b", "c"))
    asked = read_asked("a is yes or b is yes and c is yes")
    assert asked == Joined("or", (one, Joined("and", (two, three))))
    assert read_asked("(a is yes or b is yes) and c is yes") == Joined(
        "and", (Joined("or", (one, two)), three)
    )


@given(
    st.recursive(
        ATOMS,
        lambda below: st.builds(
            Joined,
            st.sampled_from(["and", "or"]),
            st.lists(below, min_size=2, max_size=3).map(tuple),
        ),
        max_leaves=6,
    )
)
def test_what_is_written_with_brackets_is_read_again(asked: Asked) -> None:
    assert read_asked(written(asked)) == asked


@pytest.mark.parametrize(
    "text",
    ["", "gape", "gape is", "gape short", "gape is short and", "(gape is short", "gape is short)",
     "gape is short chin is no", "Gape is short", "gape = short", "gape >= ", "and gape is short"],
)  # fmt: skip
def test_what_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        read_asked(text)
