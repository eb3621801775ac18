"""The birth of an infant, and what infants and parents are called."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import (
    Chosen,
    Counted,
    Fact,
    Kept,
    Kind,
    Limits,
    Measured,
    Written,
)
from suffice.message import message

Sex = Literal["male", "female"]


class Birth(Fact, tag="birth", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Birth facts; the entry's `true_at` is the instant of birth and `zone` its IANA time zone."""

    declared: ClassVar[Kind] = Kind(
        name=message("birth"),
        title=message("Birth facts"),
        basis="reported",
        when=message("Born at"),
    )

    zone: Annotated[str, Kept(label=message("Time zone of birth"))]
    sex: Annotated[
        Sex | None,
        Chosen(
            label=message("Sex"),
            column="sex|gender|sexo",
            choices=(("female", message("girl")), ("male", message("boy"))),
        ),
    ] = None
    gestation_days: Annotated[
        int | None,
        Measured(
            quantity="gestation",
            label=message("Gestation"),
            help=message("Weeks and days, for example 38+2"),
            column="gestation|gest|gestational age|gestation at birth|ga|ga at birth"
            "|edad gestacional",
            limits=Limits(
                codes=("BIRTH-001", "BIRTH-002"),
                unit=message("d of gestation"),
                low=("gestation_refused_low_d", "gestation_doubtful_low_d"),
                high=("gestation_doubtful_high_d", "gestation_refused_high_d"),
            ),
        ),
    ] = None
    birth_weight_g: Annotated[
        float | None,
        Measured(
            quantity="weight",
            label=message("Birth weight"),
            help=message("For example 3280, 3.28 kg or 7 lb 4.5 oz"),
            column="birth weight|birthweight|bw|bwt|weight at birth|peso al nacer",
            limits=Limits(
                codes=("BIRTH-003", "BIRTH-004"),
                unit=message("g of birth weight"),
                low=("birth_weight_refused_low_g", "birth_weight_doubtful_low_g"),
                high=("birth_weight_doubtful_high_g", "birth_weight_refused_high_g"),
                slip="digits",
            ),
        ),
    ] = None
    mode: Annotated[
        Literal["vaginal", "assisted vaginal", "caesarean"] | None,
        Chosen(
            label=message("Mode of delivery"),
            choices=(
                ("vaginal", message("vaginal")),
                ("assisted vaginal", message("assisted vaginal")),
                ("caesarean", message("caesarean")),
            ),
        ),
    ] = None
    intrapartum_fluids_ml: Annotated[
        float | None,
        Measured(
            quantity="volume",
            label=message("Fluids given in labour"),
            help=message("If known, for example 1500"),
            phrase=message("{value} of fluids in labour"),
            limits=Limits(
                codes=("BIRTH-005", "BIRTH-006"),
                unit=message("mL of fluids"),
                high=("fluids_doubtful_high_ml", "fluids_refused_high_ml"),
            ),
        ),
    ] = None
    multiple: Annotated[
        int | None,
        Counted(
            label=message("How many were born together"),
            phrase=message("one of {value}"),
            least_count=1,
            most_count=8,
            unsaid_count=1,
            limits=Limits(
                codes=("BIRTH-007", "BIRTH-008"),
                unit=message("born together"),
                high=("multiple_doubtful_count", "multiple_refused_count"),
                least=1,
            ),
        ),
    ] = None
    """How many were born together: 1 a singleton, 2 a twin."""


class Identity(Fact, tag="identity", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the parent (entry without infant) or an infant is called on the list."""

    declared: ClassVar[Kind] = Kind(
        name=message("name"), title=message("Name"), about="either", basis="reported"
    )

    name: Annotated[str, Written(label=message("Name on the list"), longest_characters=120)]
