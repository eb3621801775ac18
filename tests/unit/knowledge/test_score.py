"""Published scores: what makes one wrong, what all keep to, and that nothing decides by them."""

from __future__ import annotations

import msgspec
import pytest

from suffice.knowledge.score import SCORES, Component, Reliability, ScoreTool, faults_of_score
from suffice.knowledge.store import load

CONTENT = load()
TOOLS = dict(CONTENT.vocabularies[SCORES])
LATCH = TOOLS["latch"]
TWICE = (Component(key="a", name="a", most=2), Component(key="a", name="b", most=2))
SAID = Reliability(says="well", basis="published")


def faults(one):
    return [str(fault) for fault in faults_of_score(one, CONTENT.parts, CONTENT.sources)]


def test_no_score_of_the_content_is_wrong_and_each_has_its_published_range():
    assert all(isinstance(one, ScoreTool) and faults(one) == [] for one in TOOLS.values())
    # Jensen 1994, Matthews 1988, Ingram 2015; the nipple trauma score from memory.
    ranges = {"latch": 10, "ibfat": 12, "tongue_function": 8, "nipple_trauma": 5}
    assert {key: one.most for key, one in TOOLS.items()} == ranges


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"components": ()}, "has components"),
        ({"components": (Component(key="a", name="a", most=0),)}, "at least 1"),
        ({"components": TWICE}, "same key"),
        ({"reliability": ()}, "how reliable"),
        ({"reliability": (SAID,)}, "names its source"),
        ({"reliability": (msgspec.structs.replace(SAID, sources=("no_one",)),)}, "file of sources"),
        ({"part": "moon"}, "a part"),
    ],
)
def test_a_score_that_is_wrong_is_found(change, says):
    assert any(says in fault for fault in faults(msgspec.structs.replace(LATCH, **change))), change


def test_no_rule_reads_a_total():
    """Neither a flag nor a problem asks a score; totals only go into letters."""
    conditions = [when for one in CONTENT.guide.problems.values() for when in one.conditions()]
    asked = [*conditions, *(str(row) for row in CONTENT.flags)]
    assert len(conditions) > 100
    for word in ("feed_score", "tongue_total", *(f"score.{key}" for key in TOOLS)):
        assert not any(word in one for one in asked), word
