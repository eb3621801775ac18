"""Who is called doing well: a gain that ends in a weight no higher than a day before it is not."""

from __future__ import annotations

import msgspec
import pytest

from people import an_id
from spoken import in_sentences
from suffice.assess.results import WeightRow
from suffice.clinical.working import Figure, Working
from unit.assess.test_ranking import NOW, an_infant, ranked


@pytest.mark.parametrize(
    ("grams", "hours", "begins"),
    [
        (3401.0, 72.0, "Doing well: gaining 30 g/day"),
        (3400.0, 72.0, "Nothing to act on now: gaining 30 g/day"),
        (3350.0, 24.0, "Nothing to act on now: gaining 30 g/day"),
        (3350.0, 23.9, "Doing well: gaining 30 g/day"),
    ],
)
def test_a_weight_no_higher_than_a_day_before_is_not_called_doing_well(grams, hours, begins):
    gain = Figure(
        value=30.0, unit="g/d", low=10.0, high=50.0, level=0.9, working=Working(formula="a line")
    )
    first = WeightRow(entry_id=an_id("first"), at=NOW, age_h=400.0, weight_g=3400.0)
    last = WeightRow(entry_id=an_id("last"), at=NOW, age_h=400.0 + hours, weight_g=grams)
    infant = msgspec.structs.replace(
        an_infant(), figures={"gain_g_per_day": gain}, weights=(first, last)
    )
    assert in_sentences(ranked(infant).reason).startswith(begins)
