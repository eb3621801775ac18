import pytest

from clinical_constants import Steps, constant
from spoken import text
from suffice.clinical.milk.feed_size import (
    FeedSizeParameters,
    StomachParameters,
    expected_feed_ml,
    feed_share_ml,
    stomach_amounts,
)
from suffice.clinical.working import Figure, Working
from suffice.errors import RefusalError
from suffice.knowledge.series import Series

FEEDS = FeedSizeParameters(
    low_ml=Steps({0: 2, 24: 5, 48: 15, 72: 30}, until=96),
    high_ml=Steps({0: 10, 24: 15, 48: 30, 72: 60}, until=96),
)
STOMACH = StomachParameters(
    taught_ml=Series(
        key="stomach.taught_ml",
        axis="day",
        between="step",
        until=15,
        positions=(1, 3, 10),
        points=tuple(
            constant((low + high) / 2, "mL", low=low, high=high)
            for low, high in ((5, 7), (22, 27), (45, 60))
        ),
    ),
    measured_capacity_ml=constant(20, "mL"),
)


@pytest.mark.parametrize(
    ("age_h", "low", "high"), [(0, 2, 10), (23.9, 2, 10), (24, 5, 15), (95, 30, 60)]
)
def test_feed_sizes_step_with_each_day(age_h, low, high):
    figure = expected_feed_ml(age_h, FEEDS)
    assert (figure.low, figure.high) == (low, high)
    assert figure.value == (low + high) / 2


@pytest.mark.parametrize("age_h", [-1, 96])
def test_outside_the_table_there_is_no_feed_size(age_h):
    with pytest.raises(RefusalError, match="FEED-001"):
        expected_feed_ml(age_h, FEEDS)


def test_a_days_need_is_shared_over_its_feeds():
    need = Figure(
        value=600, unit="mL/d", low=480, high=720, level=0.8, working=Working(formula="x")
    )
    each = feed_share_ml(need, 8)
    assert (each.value, each.low, each.high, each.unit) == (75, 60, 90, "mL")


def test_no_feeds_cannot_share_a_need():
    with pytest.raises(RefusalError, match="FEED-002"):
        feed_share_ml(Figure(value=600, unit="mL/d", working=Working(formula="x")), 0)


def test_taught_amounts_stand_beside_what_was_measured():
    amounts = stomach_amounts(1, 10.0, STOMACH, FEEDS)
    assert (amounts.taught.low, amounts.taught.high) == (5, 7)
    assert amounts.measured.value == 20
    assert amounts.observed_feed.high == 10
    assert text(amounts.sentence).startswith("Measured: about 20 mL at birth.")
    assert "Observed feeds at this age: 2 mL to 10 mL." in text(amounts.sentence)
    assert "Taught: 5 mL to 7 mL" in text(amounts.sentence)


def test_past_the_tables_only_what_was_measured_is_left():
    amounts = stomach_amounts(20, 19 * 24.0, STOMACH, FEEDS)
    assert amounts.taught is None
    assert amounts.observed_feed is None
    assert text(amounts.sentence) == "Measured: about 20 mL at birth."
