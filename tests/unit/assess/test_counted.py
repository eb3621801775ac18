"""The last whole count, and what was seen one by one since."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.counted import CountedNow, counted_now
from suffice.assess.parameters import parameters_of
from suffice.knowledge.store import load


def counted(seen: str, at: str) -> CountedNow:
    record, as_of = record_of("girl, 39+0, 3400 g, vaginal", seen), BORN_AT + age_of(at)
    return counted_now(
        record.entries_at(as_of),
        record.infants[0].id,
        "wet",
        born_at=BORN_AT,
        as_of=as_of,
        limits=parameters_of(load()).output,
    )


@pytest.mark.parametrize(
    ("seen", "since"),
    [
        ("100 h: 4 wets in 24 h", 0),
        ("100 h: 4 wets in 24 h; 101 h: wet", 1),
        ("100 h: 4 wets in 24 h; 101 h: wet; 102 h: wet", 2),
        ("99 h: wet; 100 h: 4 wets in 24 h", 0),
        ("100 h: 4 wets in 24 h; 101 h: yellow stool", 0),
    ],
)
def test_only_what_came_after_the_count_is_said_beside_it(seen: str, since: int) -> None:
    found = counted(seen, "103 h")
    assert (found.seen.low, found.since_count) == (4, since)
    assert in_sentences(found.says).startswith("4 wets")
    assert in_sentences(found.says).endswith("since") == bool(since)


def test_one_that_comes_later_than_the_question_is_not_counted() -> None:
    assert counted("100 h: 4 wets in 24 h; 104 h: wet", "103 h").since_count == 0
