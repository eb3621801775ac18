"""Weights: alone, and just before and after a feed."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import Answered, Chosen, Fact, Kind, Limits, Measured
from suffice.clinical.entry.side import MINUTES, SIDE, Side
from suffice.message import message

SCALE = message("Scale")
HOW_TO_WRITE = message("For example 3280, 3.28 kg or 7 lb 4.5 oz")


class Weight(Fact, tag="weight", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One weight; the scale is the entry's `device`."""

    declared: ClassVar[Kind] = Kind(
        name=message("weight"), title=message("Weight"), basis="measured", device=SCALE
    )

    weight_g: Annotated[
        float,
        Measured(
            quantity="weight",
            label=message("Weight"),
            help=HOW_TO_WRITE,
            column="weight|wt|body weight|bodyweight|mass|peso",
        ),
    ]
    """Its limits go by age and by the weights before it: see `clinical.weight.check`."""
    clothing: Annotated[
        Literal["naked", "dry diaper", "clothed"] | None,
        Chosen(
            label=message("Clothing"),
            choices=(
                ("naked", message("naked")),
                ("dry diaper", message("dry diaper")),
                ("clothed", message("clothed")),
            ),
        ),
    ] = None
    feed_state: Annotated[
        Literal["before feed", "after feed"] | None,
        Chosen(
            label=message("Feed"),
            choices=(
                ("before feed", message("before a feed")),
                ("after feed", message("after a feed")),
            ),
        ),
    ] = None


class TestWeight(Fact, tag="test weight", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Weights on one scale just before and just after a feed."""

    __test__: ClassVar[bool] = False  # keeps pytest from collecting it
    declared: ClassVar[Kind] = Kind(
        name=message("test weight"),
        title=message("Test weight"),
        basis="measured",
        device=SCALE,
        when=message("When (after the feed)"),
    )

    before_g: Annotated[
        float,
        Measured(
            quantity="weight",
            label=message("Before the feed"),
            phrase=message("{value} before"),
            column="weight before feed|before feed|pre feed weight|pre weight|weight before",
        ),
    ]
    after_g: Annotated[
        float,
        Measured(
            quantity="weight",
            label=message("After the feed"),
            phrase=message("{value} after"),
            column="weight after feed|after feed|post feed weight|post weight|weight after",
        ),
    ]
    minutes: Annotated[
        float | None,
        Measured(
            quantity="duration",
            label=message("Time between the weights"),
            help=message("Minutes, or 1 h 10"),
            column=MINUTES,
            limits=Limits(
                codes=("DURATION-001", "DURATION-002"),
                unit=message("min of feeding"),
                high=("feed_doubtful_high_minutes", "feed_refused_high_minutes"),
            ),
        ),
    ] = None
    same_clothes: Annotated[
        bool | None,
        Answered(
            label=message("Same clothes and diaper on both?"),
            yes=message("same clothes"),
            no=message("clothes changed"),
        ),
    ] = None
    side: Annotated[Side | None, SIDE] = None
