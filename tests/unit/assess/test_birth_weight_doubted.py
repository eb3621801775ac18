"""A birth weight that the engine left out is asked about: what counts from it may be silent for no reason."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import Tier
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

SEEN = (
    "1 d: 3240 g; 3 d: 3080 g; 6 d: 3060 g; 10 d: 3090 g; 10 d: 6 wets in 24 h;"
    " 10 d: 4 stools in 24 h; 10 d: 9 feeds in 24 h"
)
"""Of a girl of 3400 g who has lost ten percent and hardly gains."""


@pytest.mark.parametrize("for_rank", [False, True], ids=["page", "list"])
@pytest.mark.parametrize("grams", [2600, 2900])
@pytest.mark.parametrize("seen", [SEEN, f"{SEEN}; 10.01 d: answer physician"])
def test_a_birth_weight_typed_too_low_settles_nobody(grams, for_rank, seen):
    """Typed 500 g too low it hides the loss from every row that counts from it."""
    record = record_of(f"girl, 40+0, {grams} g, vaginal", seen)
    family = assess(record, BORN_AT + age_of("10.1 d"), load(), Policy(), for_rank=for_rank)
    (infant,) = family.infants
    assert family.rank.tier <= Tier.LOOK_AGAIN
    assert f"Birth weight {grams} g does not fit" in in_sentences(family.rank.reason)
    assert infant.verdict is not None
    assert in_sentences([infant.verdict.act.says]).startswith("Look up the birth weight")
    (found,) = (one for one in infant.findings if one.code == "birth-weight-looks-wrong")
    assert found.entry_ids == (record.entries[0].id,)
