"""What a test weight says of one feed, beside what a feed of that age is."""

from __future__ import annotations

from uuid import UUID

import msgspec
import pytest

from suffice.assess.one_feed import one_feed
from suffice.assess.results import InfantAssessment
from suffice.clinical.working import Constant, Figure, Working

FEEDS = Constant(key="feeds", value=8.0, unit="{#}/d", basis="judgement", source="none", locator="")
INFANT = InfantAssessment(
    infant_id=UUID(int=1), position=1, name="Ada", born_at=None, zone="UTC", sex=None, age_h=None,
    age_days=None, gestation_days=None, corrected_age_days=None, birth_weight_g=None,
)  # fmt: skip


def figure(value: float, unit: str = "mL") -> Figure:
    return Figure(value=value, unit=unit, working=Working(formula=""))


def infant(**figures: Figure) -> InfantAssessment:
    return msgspec.structs.replace(INFANT, figures=figures)


def test_no_test_weight_says_nothing() -> None:
    assert one_feed(infant(feed_size_ml=figure(40)), FEEDS) is None


def test_the_published_size_of_a_feed_counts_where_there_is_one() -> None:
    found = one_feed(
        infant(transfer_ml=figure(10), feed_size_ml=figure(40), requirement_ml_per_day=figure(400)),
        FEEDS,
    )
    assert found is not None
    assert (found.share_percent, found.feeds_count) == (25, None)


def test_later_the_need_of_a_day_is_shared_over_its_feeds() -> None:
    found = one_feed(infant(transfer_ml=figure(30), requirement_ml_per_day=figure(480)), FEEDS)
    assert found is not None
    assert found.share_percent == pytest.approx(50)
    assert found.feeds_count == 8


@pytest.mark.parametrize("figures", [{}, {"feed_size_ml": figure(40)}])
def test_without_a_size_or_without_milk_there_is_no_share(figures: dict[str, Figure]) -> None:
    taken = figure(-5 if figures else 30)
    found = one_feed(infant(transfer_ml=taken, **figures), FEEDS)
    assert found is not None
    assert found.transfer_ml is taken
    assert found.share_percent is None
